"""Scenes in time: when each bar of a scene is played, and what it sounds like.

The sound is `sound.render`'s: drums, click and count-in, and if asked the recording under them. Bars that are played
round and round are a sheet of their own, in which they stand one after another.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Final

import msgspec
import numpy as np

from fourlimb import sound
from fourlimb.model import Audio, Bar, Beat, FeelSpan, Grid, Samples, Sheet, Stroke
from fourlimb.sound.click import count_in_beats
from fourlimb.sound.kit import RATE
from fourlimb.sound.render import Mix, Planned, planned, render

from .scenes import Scene

FADE_S: Final = 0.005
"""Over which one round of the recording goes into the next, so that nothing clicks (ours)."""


@dataclass(frozen=True)
class Wanted:
    """What is heard: drums or not; a click through all bars; a recording (44.1 kHz) whose seconds are the song's.

    `attacks_s`: when something is struck in the recording. It sounds under the drums, or in their place.
    """

    drums: bool = True
    click: bool = True
    recording: Audio | None = None
    attacks_s: tuple[float, ...] = ()


@dataclass(frozen=True)
class PlayedBar:
    """One bar as it is played: its number, when it starts and ends in the scene, and when it starts in the song."""

    bar: int
    start_s: float
    end_s: float
    song_s: float


class Take:
    """A scene that sounds."""

    def __init__(self, sheet: Sheet, scene: Scene, wanted: Wanted) -> None:
        self.scene, self.sheet = scene, sheet
        self._played = sheet if scene.rounds == 1 else in_rounds(sheet, scene)
        self._wanted = wanted
        numbers = self._played.grid.numbers
        first, last = scene.bars if scene.rounds == 1 else (numbers[0], numbers[-1])
        self._mix = Mix(speed=scene.speed, click_db=0.0 if wanted.click else None, from_bar=first, to_bar=last)

    @cached_property
    def plan(self) -> Planned:
        """What sounds when."""
        return planned(self._played, self._mix)

    @property
    def seconds(self) -> float:
        """How long it sounds."""
        return self.plan.count / RATE

    @cached_property
    def bars(self) -> tuple[PlayedBar, ...]:
        """Every bar in the order in which it is played."""
        grid, clock = self._played.grid, self.plan.clock
        own = self.sheet.grid
        numbers = [bar for bar in grid.numbers if self.plan.first <= bar <= self.plan.last]
        names = numbers if self.scene.rounds == 1 else _round_bars(self.sheet, self.scene)
        return tuple(
            PlayedBar(name, clock.at(bar, Fraction(0)), clock.of(grid.end(bar)), own.at(name).start_s)
            for bar, name in zip(numbers, names, strict=True)
        )

    def at(self, played: PlayedBar, position: Fraction) -> float:
        """Seconds of the scene at which a position of a played bar sounds."""
        song_s = self.sheet.grid.time_at(played.bar, position, swung=True)
        return played.start_s + (song_s - played.song_s) / self.scene.speed

    def song_at(self, time_s: float) -> float:
        """Seconds of the song that are played at a time of the scene; before the first bar they run up to it."""
        now = self.bars[max(0, bisect_right(self._starts, time_s) - 1)]
        return now.song_s + (time_s - now.start_s) * self.scene.speed

    @cached_property
    def _starts(self) -> tuple[float, ...]:
        return tuple(played.start_s for played in self.bars)

    @cached_property
    def counted(self) -> tuple[tuple[float, str], ...]:
        """The count-in: (seconds, what is counted)."""
        from fourlimb.teach import count_in_words

        grid, first = self.sheet.grid, self.scene.bars[0]
        full = 1 if first == 0 and grid.has(1) else first
        bpm = grid.at(full).tempo_bpm * self.scene.speed
        beats, _ = count_in_beats(grid, first, bpm)
        pickup = grid.length(0) if full != first else Fraction(0)
        words = " ".join(count_in_words(grid.meter(full), bpm, pickup=pickup)).split()
        if len(words) < len(beats):
            words = _numbered(beats)
        start = self.plan.clock.of(grid.at(full).start_s) if self.scene.rounds == 1 else self.bars[0].start_s
        return tuple(
            (start - before / self.scene.speed, word) for (before, _), word in zip(beats, words, strict=False)
        )

    def sound(self) -> Iterator[Samples]:
        """Stereo float32, 44.1 kHz, `seconds` long, in pieces; with a recording in one."""
        mix = self._mix
        if self._wanted.recording is None:
            yield from sound.played(
                self._played, speed=mix.speed, from_bar=mix.from_bar, to_bar=mix.to_bar, click=self._wanted.click
            )
            return
        recording, attacks = self._wanted.recording, self._wanted.attacks_s
        if self.scene.rounds > 1:
            recording, attacks = recorded_rounds(self.sheet, self.scene, recording, attacks)
        if not self._wanted.drums:
            mix = replace(mix, drums_db=None, recording_db=-sound.UNDER_LU)
        yield render(self._played, replace(mix, recording=recording, attacks_s=attacks)).audio.samples


def _numbered(beats: Sequence[tuple[float, bool]]) -> list[str]:
    """Beats numbered in their bars, where the count-in's words do not fall on its clicks."""
    words: list[str] = []
    number = 0
    for _, first in beats:
        number = 1 if first else number + 1
        words.append(str(number))
    return words


def _round_bars(sheet: Sheet, scene: Scene) -> list[int]:
    inside = [bar for bar in sheet.grid.numbers if scene.bars[0] <= bar <= scene.bars[1]]
    return inside * scene.rounds


def in_rounds(sheet: Sheet, scene: Scene) -> Sheet:
    """The bars of a scene as often as they are played, one after another, numbered from 1 and starting at 0 s."""
    grid, chart = sheet.grid, sheet.chart
    beats: list[Beat] = []
    bars: list[Bar] = []
    feel: list[FeelSpan] = []
    strokes: list[Stroke] = []
    at = 0.0
    for number, name in enumerate(_round_bars(sheet, scene), start=1):
        bar = grid.at(name)
        bars.append(msgspec.structs.replace(bar, bar=number, start_s=at))
        beats += [
            msgspec.structs.replace(beat, bar=number, time_s=beat.time_s - bar.start_s + at)
            for beat in grid.beats
            if beat.bar == name
        ]
        feel.append(msgspec.structs.replace(grid.feel_of(name), from_bar=number, to_bar=number))
        strokes += [msgspec.structs.replace(stroke, bar=number) for stroke in chart.by_bar.get(name, ())]
        at += grid.end(name) - bar.start_s
    looped = Grid(beats=tuple(beats), bars=tuple(bars), feel=tuple(feel), end_s=at)
    return msgspec.structs.replace(
        sheet, grid=looped, chart=msgspec.structs.replace(chart, strokes=tuple(strokes)), sections=(), landmarks=()
    )


def recorded_rounds(
    sheet: Sheet, scene: Scene, recording: Audio, attacks_s: Sequence[float]
) -> tuple[Audio, tuple[float, ...]]:
    """What the recording holds of a scene's bars, as often as they are played, and where its attacks are then."""
    grid = sheet.grid
    first_s, end_s = grid.at(scene.bars[0]).start_s, grid.end(scene.bars[1])
    long_s = end_s - first_s
    count, fade = round(long_s * RATE), round(FADE_S * RATE)
    out = np.zeros((round(long_s * scene.rounds * RATE) + fade, recording.samples.shape[1]), dtype=np.float32)
    start = round(first_s * RATE)
    piece = recording.samples[max(start, 0) : start + count + fade].copy()
    ramp = np.linspace(0, 1, fade, dtype=np.float32)[:, None]
    if len(piece) > 2 * fade:
        piece[:fade] *= ramp
        piece[-fade:] *= ramp[::-1]
    for number in range(scene.rounds):
        at = round(number * long_s * RATE) + max(-start, 0)
        here = piece[: len(out) - at]
        out[at : at + len(here)] += here
    inside = [a - first_s for a in attacks_s if first_s <= a < end_s]
    return Audio(out, recording.rate), tuple(a + n * long_s for n in range(scene.rounds) for a in inside)
