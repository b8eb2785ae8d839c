"""Chart -> sound: the drums as written, a click, a count-in.

In: a `Sheet` and what the teacher wants to hear (`Mix`). Out: a `Track`: the sound, and where each bar starts in it.
Everything is placed at whole samples from one tempo map; nothing accumulates. The same sheet gives the same samples.
It cannot do: a part that speeds up against its own grid, more than one kit.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from ..model import Audio, InputError, Samples, Sheet
from ..model.places import beat_starts
from .click import click, count_in_beats
from .kit import RATE, Voices, built_in, level
from .loudness import CEILING_DBTP, SILENCE_LUFS, TARGET_LUFS, faded, limit, loudness
from .perform import Blow, perform
from .recording import stretch_of
from .strokes import blows

SLOWEST: Final = 0.3
FASTEST: Final = 1.2
"""Speeds a chart can be played at, as a share of the song's own tempo."""

LEAD_S: Final = 0.10
"""Silence before anything sounds: room for a flam before the first beat and for players that swallow the start."""

TAIL_S: Final = 2.0
"""How long the last stroke may ring."""

CLICK_UNDER_DB: Final = -6.0
"""Click against an ordinary kick (velocity 100): under the music, never over it."""

MOST_PUSH_DB: Final = 6.0
"""How far peaks may be pushed over the ceiling (and be limited) to reach the loudness.

A sparse part stays softer rather than be flattened (by ear).
"""

GAIN_STEP_DB: Final = 0.5
"""Loudness is met to half of this: a corrected bar rarely changes how loud all the others are played (ours; under
what is heard as louder, about 1 dB)."""


@dataclass(frozen=True)
class Mix:
    """What to hear. `speed` 0.3 to 1.2 (1: the song's tempo); bars are inclusive, None: first or last of the song.

    `click_db` and `drums_db` move that part up or down; None leaves it out. `count_in`: clicks before the first
    bar. `recording`: the song itself (44.1 kHz, its seconds those of the grid) under the drums, with the times of
    its hits in `attacks_s`; show `recording.RIGHTS` wherever this is offered.
    """

    speed: float = 1.0
    drums_db: float | None = 0.0
    click_db: float | None = 0.0
    count_in: bool = True
    from_bar: int | None = None
    to_bar: int | None = None
    target_lufs: float = TARGET_LUFS
    recording: Audio | None = None
    recording_db: float = 0.0
    attacks_s: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Track:
    """Rendered sound.

    `count_in_s`: when the first bar starts; `bars`: (number, start in seconds); `end_s`: last bar's end.
    """

    audio: Audio
    count_in_s: float
    bars: tuple[tuple[int, float], ...]
    end_s: float
    speed: float

    def start_of(self, bar: int) -> float:
        """Seconds at which a bar starts. Raises KeyError when it is not in the track."""
        return dict(self.bars)[bar]


@dataclass(frozen=True)
class _Clock:
    """Song seconds -> track seconds."""

    sheet: Sheet
    first_s: float
    offset_s: float
    speed: float

    def of(self, song_s: float) -> float:
        return self.offset_s + (song_s - self.first_s) / self.speed

    def at(self, bar: int, position: Fraction) -> float:
        return self.of(self.sheet.grid.time_at(bar, position, swung=True))


@dataclass(frozen=True)
class Planned:
    """What will sound when: blows in seconds of the track, clicks as (sample, first of its bar), samples in all."""

    blows: list[Blow]
    clicks: list[tuple[int, bool]]
    count: int
    first: int
    last: int
    clock: _Clock


def planned(sheet: Sheet, mix: Mix) -> Planned:
    """Everything that is struck and clicked. Raises InputError on a speed or bars that cannot be."""
    first, last = _range(sheet, mix)
    counted, lead_s = _count_in(sheet, mix, first)
    clock = _Clock(sheet, sheet.grid.at(first).start_s, LEAD_S + lead_s, mix.speed)
    count = round((clock.of(sheet.grid.end(last)) + TAIL_S) * RATE)
    struck = blows(sheet, clock.at, first, last) if mix.drums_db is not None else []
    clicks = _click_times(sheet, mix, clock, first, last, counted) if mix.click_db is not None or counted else []
    return Planned(struck, clicks, count, first, last, clock)


def render(sheet: Sheet, mix: Mix | None = None, kit: Voices | None = None) -> Track:
    """The chart as sound, 44.1 kHz stereo. Raises InputError on a speed or bars that cannot be."""
    mix = mix or Mix()
    plan = planned(sheet, mix)
    clock, grid = plan.clock, sheet.grid
    drums = perform(plan.blows, kit or built_in(), plan.count, mirrored=sheet.kit.handed == "left")
    gain = drum_gain(loudness(Audio(drums, RATE)), float(np.abs(drums).max(initial=0.0)), mix.target_lufs)
    total = drums
    total *= np.float32(gain * _ratio(mix.drums_db or 0.0))
    if plan.clicks:
        total += clicks(plan.clicks, 0, plan.count, mix.click_db or 0.0) * np.float32(gain)
    end_s = clock.of(grid.end(plan.last))
    if mix.recording is not None:
        total = _with_recording(total, mix.recording, mix, clock, grid.end(plan.last))
    audio = faded(limit(Audio(total, RATE), CEILING_DBTP))
    bars = [bar for bar in grid.numbers if plan.first <= bar <= plan.last]
    starts = tuple((bar, round(clock.of(grid.at(bar).start_s), 6)) for bar in bars)
    return Track(audio, round(clock.offset_s, 6), starts, round(end_s, 6), mix.speed)


def _range(sheet: Sheet, mix: Mix) -> tuple[int, int]:
    numbers = sheet.grid.numbers
    if not numbers:
        raise InputError("the song has no bars: nothing can be played")
    if not SLOWEST <= mix.speed <= FASTEST:
        raise InputError(f"speed {mix.speed:g} cannot be played: use {SLOWEST:g} to {FASTEST:g} of the song's tempo")
    first = numbers[0] if mix.from_bar is None else mix.from_bar
    last = numbers[-1] if mix.to_bar is None else mix.to_bar
    if not sheet.grid.has(first) or not sheet.grid.has(last) or last < first:
        raise InputError(f"bars {first}-{last} are not in the song: it has bars {numbers[0]} to {numbers[-1]}")
    return first, last


def _count_in(sheet: Sheet, mix: Mix, first: int) -> tuple[list[tuple[float, bool]], float]:
    """Counted beats as (track seconds before the first full bar, first of its bar); track seconds before `first`."""
    if not mix.count_in:
        return [], 0.0
    grid = sheet.grid
    full = 1 if first == 0 and grid.has(1) else first
    beats, length_s = count_in_beats(grid, first, grid.at(full).tempo_bpm * mix.speed)
    pickup_s = grid.at(full).start_s - grid.at(first).start_s
    return [(before / mix.speed, one) for before, one in beats], (length_s - pickup_s) / mix.speed


def _with_recording(total: Samples, recording: Audio, mix: Mix, clock: _Clock, end_s: float) -> Samples:
    piece = stretch_of(recording, mix.attacks_s, clock.first_s, end_s, mix.speed, mix.target_lufs)
    at = round(clock.offset_s * RATE) + max(0, round(-clock.first_s * RATE / mix.speed))
    end = min(len(total), at + len(piece))
    ramp = np.minimum(1, np.arange(end - at, dtype=np.float32) / np.float32(0.01 * RATE))
    ramp = np.minimum(ramp, ramp[::-1])  # joins without a click
    mixed = total.copy()
    mixed[at:end] += piece[: end - at] * ramp[:, None] * np.float32(_ratio(mix.recording_db))
    return mixed


def drum_gain(measured_lufs: float, peak: float, target_lufs: float = TARGET_LUFS) -> float:
    """What brings drums to the loudness wanted, without flattening their peaks; to the nearest step."""
    if measured_lufs == SILENCE_LUFS:
        return _ratio(CEILING_DBTP - 6.0) / level("kick", 127) / 4
    most = CEILING_DBTP + MOST_PUSH_DB - 20 * float(np.log10(peak))
    return _ratio(round(min(target_lufs - measured_lufs, most) / GAIN_STEP_DB) * GAIN_STEP_DB)


def _click_times(
    sheet: Sheet, mix: Mix, clock: _Clock, first: int, last: int, counted: list[tuple[float, bool]]
) -> list[tuple[int, bool]]:
    """Count-in and click: the sample of each, and whether it is the first of its bar."""
    full = 1 if first == 0 and sheet.grid.has(1) else first
    full_s = clock.at(full, Fraction(0))
    times = [(full_s - before, one) for before, one in counted]
    if mix.click_db is not None:
        for bar in range(first, last + 1):
            if sheet.grid.has(bar):
                starts = beat_starts(sheet.grid.meter(bar))
                times += [(clock.of(sheet.grid.time_at(bar, at)), at == 0) for at in starts]
    return [(round(time_s * RATE), one) for time_s, one in times]


def clicks(times: Iterable[tuple[int, bool]], first: int, count: int, click_db: float = 0.0) -> Samples:
    """The samples from `first` on of count-in and click, stereo, at the kit's own scale."""
    out = np.zeros((count, 2), dtype=np.float32)
    loud = np.float32(level("kick", 100) * _ratio(CLICK_UNDER_DB + click_db))
    sounds = {one: click(one) * loud for one in (True, False)}
    for sample, one in times:
        start, end = max(sample - first, 0), min(count, sample - first + len(sounds[one]))
        if end > start:
            out[start:end] += sounds[one][start - sample + first : end - sample + first, None]
    return out


def _ratio(decibels: float) -> float:
    return float(10 ** (decibels / 20))
