"""Charts as Standard MIDI Files: type 1, a tempo track with markers and a drum track on channel 10.

Resolution 3360 ticks a quarter: halvings to 1/32, triplets, fives and sevens fall on whole ticks. Swing is written as
played. Tempo is whole microseconds a quarter, one value per bar, so bars keep the recording's own time. Ghosts,
accents and graces are velocities and small notes; General MIDI Level 1 percussion keys (0-based) name the sounds.
"""

import io
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Any, Final

from fourlimb.model import Sheet, Stroke
from fourlimb.model.grid import swing_out
from fourlimb.model.places import bar_length, beat_lengths, beat_of, beat_starts, split_meter
from fourlimb.model.rolls import roll_ends

from .layout import ORDINARY as ORDINARY_LAYOUT
from .meidoc import write_bars
from .notate import slashes
from .words import GRACE_NOTES, printable

TICKS: Final = 3360
"""Ticks a quarter note: 2^5 x 3 x 5 x 7."""

CHANNEL: Final = 9
"""Channel 10, counted from 0 (General MIDI percussion)."""

NOTE_TICKS: Final = TICKS // 16
"""How long a drum note is held; it has no audible end (common practice)."""

ORDINARY: Final = 80
ACCENT: Final = 112
GHOST: Final = 40
"""Velocities of strokes that carry only a mark (ours; the model calls 80 ordinary)."""

GRACE_SHARE: Final = 0.5
"""Velocity of a grace note against its main note (ours)."""

ROLL_SHARE: Final = 0.85
"""Velocity of the strokes inside a measured roll against its first (ours)."""

BUZZ_ROLL: Final = 32
"""A buzz that is kept up sounds as notes of 1/32 (ours: MIDI has no bounces)."""

GRACE_TICKS: Final = TICKS // 16
"""Distance of grace notes before the main one at any tempo (about 30 ms at 120)."""


@dataclass(frozen=True)
class _Message:
    tick: int
    order: int
    message: Any


def midi(sheet: Sheet) -> bytes:
    """The chart as a Standard MIDI File. The same sheet gives the same bytes."""
    import mido

    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    file.tracks.append(_track(_tempo_messages(sheet)))
    file.tracks.append(_track(_drum_messages(sheet)))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def bar_ticks(sheet: Sheet) -> dict[int, int]:
    """Tick at which each bar starts."""
    found, at = {}, Fraction(0)
    for bar in sheet.grid.bars:
        found[bar.bar] = int(at * 4 * TICKS)
        at += bar_length(bar.meter)
    return found


def tick_at(sheet: Sheet, starts: dict[int, int], stroke: Stroke) -> int:
    """Tick of a stroke as it is played."""
    meter = sheet.grid.meter(stroke.bar)
    beat, inside = beat_of(meter, stroke.position)
    played = swing_out(float(inside), sheet.grid.feel_of(stroke.bar))
    whole = float(beat_starts(meter)[beat]) + played * float(beat_lengths(meter)[beat])
    return starts[stroke.bar] + round(whole * 4 * TICKS)


def _tempo_messages(sheet: Sheet) -> list[_Message]:
    import mido

    starts = bar_ticks(sheet)
    title = printable(sheet.song.title) or "Drum chart"
    found = [_Message(0, 0, mido.MetaMessage("track_name", name=title))]
    tempo, meter = 0, ""
    for bar in sheet.grid.bars:
        at = starts[bar.bar]
        if bar.meter != meter:
            count, unit = split_meter(bar.meter)
            clocks = max(1, min(255, int(beat_lengths(bar.meter)[0] * 4 * 24)))
            said = mido.MetaMessage("time_signature", numerator=count, denominator=unit, clocks_per_click=clocks)
            found.append(_Message(at, 1, said))
            meter = bar.meter
        now = tempo_us(sheet, bar.bar)
        if now != tempo:
            found.append(_Message(at, 2, mido.MetaMessage("set_tempo", tempo=now)))
            tempo = now
    for section in sheet.sections:
        if section.from_bar in starts:
            marker = mido.MetaMessage("marker", text=printable(section.name))
            found.append(_Message(starts[section.from_bar], 3, marker))
    for landmark in sheet.landmarks:
        if landmark.bar in starts:
            found.append(_Message(starts[landmark.bar], 4, mido.MetaMessage("text", text=printable(landmark.what))))
    return found


def tempo_us(sheet: Sheet, bar: int) -> int:
    """Microseconds a quarter note in one bar."""
    grid = sheet.grid
    seconds = grid.end(bar) - grid.at(bar).start_s
    quarters = float(bar_length(grid.meter(bar)) * 4)
    return max(1, min(0xFFFFFF, round(seconds * 1e6 / quarters))) if seconds > 0 else 500_000


def _drum_messages(sheet: Sheet) -> list[_Message]:
    import mido

    starts = bar_ticks(sheet)
    found = [_Message(0, 0, mido.MetaMessage("track_name", name="Drum set"))]
    ons: dict[tuple[int, int], int] = {}
    rolls = _rolls(sheet)
    for stroke in sheet.chart.strokes:
        if stroke.bar not in starts:  # a stroke of a bar that the grid lost sounds nowhere
            continue
        at, key = tick_at(sheet, starts, stroke), sheet.kit.midi(stroke.piece, second=stroke.second)
        loud = velocity_of(stroke)
        if stroke.tied:
            loud = max(1, round(loud * ROLL_SHARE))
        ons[at, key] = max(ons.get((at, key), 0), loud)
        for part in range(1, rolls.get(id(stroke), 0)):
            again = at + part * 4 * TICKS // (stroke.roll or BUZZ_ROLL)
            ons.setdefault((again, key), max(1, round(loud * ROLL_SHARE)))
        for back in range(GRACE_NOTES[stroke.grace] if stroke.grace else 0, 0, -1):
            early = at - back * GRACE_TICKS
            if early >= 0:
                ons.setdefault((early, key), max(1, round(loud * GRACE_SHARE)))
    later: dict[int, int] = {}
    for at, key in sorted(ons, reverse=True):
        off = min(at + NOTE_TICKS, later.get(key, at + NOTE_TICKS))
        later[key] = at
        found.append(_Message(off, 5, mido.Message("note_off", channel=CHANNEL, note=key, velocity=0)))
        found.append(_Message(at, 6 + key, mido.Message("note_on", channel=CHANNEL, note=key, velocity=ons[at, key])))
    return found


def _rolls(sheet: Sheet) -> dict[int, int]:
    """Strokes of each measured roll, by the identity of the stroke that begins it: as long as it is written."""
    if not any(stroke.rolls for stroke in sheet.chart.strokes):
        return {}
    kept = {
        id(strokes[index]): ceil((end - strokes[index].position) * (strokes[index].roll or BUZZ_ROLL))
        for bar, strokes in sheet.chart.by_bar.items()
        if sheet.grid.has(bar)
        for index, end in roll_ends(sheet.grid.meter(bar), strokes).items()
    }
    bars = write_bars(sheet, ORDINARY_LAYOUT, trim=False).values()
    events = [event for bar in bars for voice in bar.voices for event in voice.events]
    return kept | {
        id(stroke): int(event.slot.length * stroke.roll)
        for event in events
        for stroke in event.heads
        if stroke.roll and not stroke.lasts and slashes(event)
    }


def velocity_of(stroke: Stroke) -> int:
    """How hard a stroke sounds: its own velocity, or that of its mark when it says nothing but "ordinary"."""
    if stroke.velocity == ORDINARY:
        return ACCENT if stroke.accent else GHOST if stroke.ghost else ORDINARY
    return max(1, min(127, stroke.velocity))


def _track(messages: list[_Message]) -> Any:
    import mido

    track = mido.MidiTrack()
    at = 0
    for one in sorted(messages, key=lambda m: (m.tick, m.order)):
        track.append(one.message.copy(time=one.tick - at))
        at = one.tick
    track.append(mido.MetaMessage("end_of_track", time=0))
    return track
