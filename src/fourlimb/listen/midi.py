"""A Standard MIDI File -> the same `Listening` that a recording gives.

Percussion is what stands on channel 10 (General MIDI Level 1); a file without any but with one track named for
drums is told apart in the error. Types 0 and 1, with or without a tempo map. Where the notes lie on the file's own
ticks they are exact; where they were played against the file's click (a performance) they are placed like heard
ones on the file's own bars; where neither holds (free playing, recorded without a click) beats are found from the
strokes alone.

What it cannot do: SMPTE time bases and type 2 files are refused with a line that says so.
"""

import io
from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256
from typing import Any, Final

import msgspec
import numpy as np

from fourlimb.model import Bar, Beat, Grid, Hit, InputError, Listening, Song, Sound
from fourlimb.model.places import ZERO, bar_length, beat_lengths, beat_starts, split_meter
from fourlimb.model.sounds import FROM_GENERAL_MIDI, ORDER, midi_key

from .bars import find_grid, steady_grid
from .beats import steady
from .evidence import from_hits
from .feel import find_feel
from .form import form
from .places import place_hits

DRUM_CHANNEL: Final = 9
"""Channel 10, counted from 0 (General MIDI Level 1)."""
PAIRED: Final[tuple[Sound, ...]] = ("crash", "ride")
"""Cymbals of which General MIDI has two: the second is told apart where a file uses both."""
DEFAULT_TEMPO_US: Final = 500_000
"""Microseconds a quarter when a file names none (Standard MIDI File 1.0)."""
MAX_NOTES: Final = 200_000
MAX_S: Final = 3 * 3600.0
FINEST: Final = (16, 24, 32, 48, 64, 20, 28)
"""Divisions of a whole note that are written: 16ths, triplets, 32nds, sextuplets, 64ths, quintuplets."""
EXACT_SHARE: Final = 0.95
NEAR_STEP: Final = 0.22
PLAYED_TO_CLICK: Final = 0.6
"""Share of strokes within .22 of a step of the file's 16ths or triplets from which it was played to that click; free
playing gives .44 (ours)."""


@dataclass(frozen=True)
class _Note:
    tick: int
    key: int
    velocity: int


@dataclass(frozen=True)
class _File:
    """What was read: ticks a quarter, percussion notes, (tick, us a quarter), (tick, meter), last tick, title."""

    division: int
    notes: tuple[_Note, ...]
    tempi: tuple[tuple[int, int], ...]
    meters: tuple[tuple[int, str], ...]
    last: int
    title: str
    told_tempo: bool


def read_midi(data: bytes, *, name: str) -> Listening:
    """Reads a drum performance or part. Raises InputError, one line, when it is not one."""
    file = _parsed(data, name)
    clock = _Clock(file)
    hits, unknown = _hits(file, clock)
    if not hits:
        raise InputError(f"{name} has no known drum sounds on channel 10: put the drum part on MIDI channel 10")
    song = Song(
        duration_s=round(clock.seconds(file.last), 4), sample_rate_hz=0, sha256=sha256(data).hexdigest(),
        title=file.title, kind="midi",
    )  # fmt: skip
    notes = _unknown_said(unknown)
    grid = _file_grid(file, clock)
    exact = _exact(file, grid, hits)
    if exact is not None:
        return _finished(song, grid, exact, notes)
    if _played_to_click(grid, hits):
        feel = find_feel(grid, hits)
        return _finished(song, msgspec.structs.replace(grid, feel=feel), place_hits(grid, hits), notes)
    evidence = from_hits(hits, song.duration_s)
    found = find_grid(evidence) or steady_grid(steady(song.duration_s), evidence)
    found = msgspec.structs.replace(found, feel=find_feel(found, hits))
    why = f"{name} was not played to its own click: beats were found from the strokes"
    return _finished(song, found, place_hits(found, hits), (*notes, why))


def _finished(song: Song, grid: Grid, hits: tuple[Hit, ...], notes: tuple[str, ...]) -> Listening:
    sections, landmarks, doubts = form(grid, hits)
    return Listening(
        song=song, grid=grid, hits=hits, sections=sections, landmarks=landmarks, doubts=doubts, notes=notes
    )


def _parsed(data: bytes, name: str) -> _File:
    import mido

    if not data:
        raise InputError(f"{name} is empty (0 bytes): export it again")
    try:
        midi = mido.MidiFile(file=io.BytesIO(data), clip=True)
    except (OSError, EOFError, ValueError, KeyError, IndexError, TypeError, AttributeError, OverflowError) as error:
        what = " ".join(str(error).split()) or "it breaks off"
        raise InputError(f"{name} is not a MIDI file that can be read ({what}): export it again") from None
    if midi.type == 2:
        raise InputError(f"{name} is a MIDI file of type 2 (loose patterns): export it as type 0 or 1")
    if not 0 < midi.ticks_per_beat < 0x8000:
        raise InputError(f"{name} counts in film frames (SMPTE), not in beats: export it with ticks per quarter")
    return _collected(midi, name)


def _collected(midi: Any, name: str) -> _File:
    notes, tempi, meters, last, channels = [], {0: DEFAULT_TEMPO_US}, {0: "4/4"}, 0, set()
    title, told = "", False
    for track in midi.tracks:
        tick = 0
        for message in track:
            tick += message.time
            last = max(last, tick)
            if message.type == "note_on" and message.velocity > 0:
                channels.add(message.channel + 1)
                if message.channel == DRUM_CHANNEL:
                    notes.append(_Note(tick, message.note, message.velocity))
            elif message.type == "set_tempo" and message.tempo > 0:
                tempi[tick], told = message.tempo, True
            elif message.type == "time_signature":
                meters[tick] = f"{message.numerator}/{message.denominator}"
            elif message.type == "track_name" and not title:
                title = " ".join(message.name.split())
    if not notes:
        found = f" (notes are on channel {', '.join(str(c) for c in sorted(channels))})" if channels else ""
        raise InputError(f"{name} has no drums: nothing is on channel 10{found}; put the drum part there")
    if len(notes) > MAX_NOTES:
        raise InputError(f"{name} has {len(notes)} drum notes: more than any song; check the export")
    for meter in meters.values():
        split_meter(meter)
    notes.sort(key=lambda n: (n.tick, n.key))
    return _File(
        midi.ticks_per_beat,
        tuple(notes),
        tuple(sorted(tempi.items())),
        tuple(sorted(meters.items())),
        last,
        title,
        told,
    )


class _Clock:
    """Ticks to seconds through the tempo map."""

    def __init__(self, file: _File) -> None:
        self._ticks = [tick for tick, _ in file.tempi]
        self._tempi = [us for _, us in file.tempi]
        self._division = file.division
        self._starts = [0.0]
        for index in range(1, len(self._ticks)):
            length = (self._ticks[index] - self._ticks[index - 1]) * self._tempi[index - 1]
            self._starts.append(self._starts[-1] + length / file.division / 1e6)
        if self.seconds(file.last) > MAX_S:
            raise InputError("the MIDI file is longer than 3 hours: cut out the song")

    def seconds(self, tick: float) -> float:
        index = bisect_right(self._ticks, tick) - 1
        return self._starts[index] + (tick - self._ticks[index]) * self._tempi[index] / self._division / 1e6


def _hits(file: _File, clock: _Clock) -> tuple[tuple[Hit, ...], dict[int, int]]:
    loudest = max(note.velocity for note in file.notes)
    pairs = {
        sound for sound in PAIRED if {midi_key(sound), midi_key(sound, second=True)} <= {n.key for n in file.notes}
    }
    unknown: dict[int, int] = {}
    known = []
    for note in file.notes:
        sound = FROM_GENERAL_MIDI.get(note.key)
        if sound is None:
            unknown[note.key] = unknown.get(note.key, 0) + 1
        else:
            second = sound in pairs and note.key == midi_key(sound, second=True)
            known.append((clock.seconds(note.tick), ORDER[sound], sound, note.velocity, second))
    hits = [
        Hit(
            id=number, time_s=round(time_s, 4), sound=sound, confidence=1.0, by="file", second=second,
            loudness_db=round(40 * float(np.log10(velocity / loudest)), 1),
        )
        for number, (time_s, _, sound, velocity, second) in enumerate(sorted(known), start=1)
    ]  # fmt: skip
    return tuple(hits), unknown


def _unknown_said(unknown: dict[int, int]) -> tuple[str, ...]:
    if not unknown:
        return ()
    keys = ", ".join(f"{key} ({count} times)" for key, count in sorted(unknown.items()))
    return (f"percussion keys that are not part of a drum set were left out: {keys}",)


def _file_grid(file: _File, clock: _Clock) -> Grid:
    """Bars of the file's own time signatures and tempo map."""
    whole = 4 * file.division
    bars: list[Bar] = []
    beats: list[Beat] = []
    tick, index, pickup = Fraction(0), 0, _has_pickup(file)
    end_tick = max(file.last, file.notes[-1].tick + 1)
    while tick < end_tick:
        while index + 1 < len(file.meters) and file.meters[index + 1][0] <= tick:
            index += 1
        meter = file.meters[index][1]
        length = bar_length(meter) * whole
        start, end = clock.seconds(float(tick)), clock.seconds(float(tick + length))
        bpm = 60 * len(beat_lengths(meter)) / max(end - start, 1e-6)
        number = len(bars) + (0 if pickup else 1)
        bars.append(Bar(bar=number, start_s=round(start, 4), meter=meter, tempo_bpm=round(bpm, 2)))
        for count, at in enumerate(beat_starts(meter), start=1):
            time_s = clock.seconds(float(tick + at * whole))
            beats.append(Beat(time_s=round(time_s, 4), bar=number, beat=count, confidence=1.0))
        tick += length
        if len(bars) > 20_000:
            raise InputError("the MIDI file has more than 20000 bars: check its time signatures")
    return Grid(beats=tuple(beats), bars=tuple(bars), end_s=round(clock.seconds(float(tick)), 4))


def _has_pickup(file: _File) -> bool:
    """True when the first meter lasts one bar and is shorter than the next: so a pickup is written in MIDI."""
    if len(file.meters) < 2:
        return False
    (start, first), (then, second) = file.meters[:2]
    return bar_length(first) * 4 * file.division == then - start and bar_length(first) < bar_length(second)


def _exact(file: _File, grid: Grid, hits: tuple[Hit, ...]) -> tuple[Hit, ...] | None:
    """Hits on their ticks' exact places, or None when the notes were played and not written."""
    whole = 4 * file.division
    notes = [n for n in file.notes if n.key in FROM_GENERAL_MIDI]
    places = [_tick_place(n.tick, whole) for n in notes]
    if sum(p is not None for p in places) < EXACT_SHARE * len(places):
        return None
    starts, at = [], ZERO
    for number in grid.numbers:
        starts.append(at)
        at += grid.length(number)
    order = sorted(
        range(len(notes)), key=lambda i: (notes[i].tick, ORDER[FROM_GENERAL_MIDI[notes[i].key]], notes[i].velocity)
    )
    placed = []
    for hit, index in zip(hits, order, strict=True):
        place = places[index]
        if place is None:
            place = Fraction(round(Fraction(notes[index].tick, whole) * 48), 48)
        bar = max(bisect_right(starts, place) - 1, 0)
        position = place - starts[bar]
        number = grid.numbers[bar]
        late = (hit.time_s - grid.time_at(number, position)) * 1000
        placed.append(msgspec.structs.replace(hit, bar=number, position=position, late_ms=round(late, 1) + 0.0))
    return tuple(placed)


def _tick_place(tick: int, whole: int) -> Fraction | None:
    """The simplest written place whose tick this is (a division that does not fit the ticks is rounded to one)."""
    for parts in FINEST:
        step = Fraction(tick * parts, whole)
        near = round(step)
        if round(Fraction(near * whole, parts)) == tick:
            return Fraction(near, parts)
    return None


def _played_to_click(grid: Grid, hits: tuple[Hit, ...]) -> bool:
    """True when the strokes gather on the file's own 16ths, or on its triplets."""
    places = np.array([grid.phase_at(hit.time_s)[1] for hit in hits])
    share = max(float((np.abs(places * n - np.rint(places * n)) < NEAR_STEP).mean()) for n in (16, 12))
    return share >= PLAYED_TO_CLICK
