"""Beats and bars in time: the one place where seconds and exact positions meet.

Bars are numbered from 1; bar 0 is a pickup. Beats are those that are felt (two in 6/8). Between beats time runs
evenly; where a stretch swings, the first part of each pair takes the larger share when *played* (`swung=True`),
while positions stay written straight.
"""

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from functools import cached_property
from typing import Literal

import msgspec

from .places import bar_length, beat_lengths, beat_of

FeelName = Literal["straight", "half-time", "double-time"]


class Beat(msgspec.Struct, frozen=True, kw_only=True):
    """One felt beat. `beat` counts from 1 inside its bar; `confidence` is 0 to 1."""

    time_s: float
    bar: int
    beat: int
    confidence: float
    extra: dict[str, object] = {}


class Bar(msgspec.Struct, frozen=True, kw_only=True):
    """One bar line and what follows it. `tempo_bpm` counts the felt beat (a dotted quarter in 6/8)."""

    bar: int
    start_s: float
    meter: str
    tempo_bpm: float
    extra: dict[str, object] = {}


class FeelSpan(msgspec.Struct, frozen=True, kw_only=True):
    """How bars `from_bar` to `to_bar` (both included) are felt.

    `swing` is the first part's share of a pair: 0.5 straight, 0.667 triplet. `swing_unit` says which pair:
    "8th" or "16th".
    """

    from_bar: int
    to_bar: int
    feel: FeelName
    swing: float = 0.5
    swing_unit: Literal["8th", "16th"] = "8th"
    extra: dict[str, object] = {}


class Skipped(int):
    """What a pickup leaves out of a whole bar: beats before its first (the number itself).

    `whole`: the meter that it is counted in; `at`: where in such a bar it begins, whole notes. True even for no beat.
    """

    whole: str
    at: Fraction

    def __new__(cls, beats: int, whole: str, at: Fraction) -> "Skipped":
        """Make one; an integer cannot be given fields later."""
        made = super().__new__(cls, beats)
        made.whole, made.at = whole, at
        return made

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Skipped) and (self.whole, self.at) == (other.whole, other.at)

    def __hash__(self) -> int:
        return hash((self.whole, self.at))

    def __bool__(self) -> bool:
        return True


class Grid(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """All beats and bars of a song, in order. `end_s` is where the last bar ends."""

    beats: tuple[Beat, ...]
    bars: tuple[Bar, ...]
    feel: tuple[FeelSpan, ...] = ()
    end_s: float = 0.0
    extra: dict[str, object] = {}

    @cached_property
    def numbers(self) -> tuple[int, ...]:
        """Bar numbers, increasing."""
        return tuple(bar.bar for bar in self.bars)

    @cached_property
    def _index(self) -> dict[int, int]:
        return {bar.bar: index for index, bar in enumerate(self.bars)}

    @cached_property
    def _starts(self) -> tuple[float, ...]:
        return tuple(bar.start_s for bar in self.bars)

    @cached_property
    def _beat_times(self) -> dict[int, list[float]]:
        times: dict[int, list[float]] = {}
        for beat in self.beats:
            times.setdefault(beat.bar, []).append(beat.time_s)
        return times

    def has(self, bar: int) -> bool:
        """True when the song has this bar."""
        return bar in self._index

    def at(self, bar: int) -> Bar:
        """The bar with this number. Raises KeyError when there is none."""
        return self.bars[self._index[bar]]

    def meter(self, bar: int) -> str:
        """Meter of a bar as text, "4/4"."""
        return self.at(bar).meter

    def skipped(self, bar: int) -> int:
        """Beats that a pickup leaves out before its first: one of 2/4 before 4/4 is counted 3, 4. Else 0.

        For a pickup this is a `Skipped`, which knows the rest: one of 1/8 before 4/4 begins on 4&.
        """
        if bar != 0 or not self.has(0) or not self.has(1):
            return 0
        whole = self.meter(1)
        at = bar_length(whole) - self.length(0)
        return Skipped(beat_of(whole, at)[0], whole, at) if at > 0 else 0

    def length(self, bar: int) -> Fraction:
        """Length of a bar in whole notes."""
        return bar_length(self.at(bar).meter)

    def end(self, bar: int) -> float:
        """Seconds where a bar ends (the next one starts)."""
        index = self._index[bar]
        return self.bars[index + 1].start_s if index + 1 < len(self.bars) else self.end_s

    def feel_of(self, bar: int) -> FeelSpan:
        """How a bar is felt; straight when nothing is said."""
        for span in self.feel:
            if span.from_bar <= bar <= span.to_bar:
                return span
        return FeelSpan(from_bar=bar, to_bar=bar, feel="straight")

    def _edges(self, bar: int) -> list[float]:
        """Seconds of each beat line of a bar and of its end: len(beats) + 1 numbers, increasing."""
        lengths = beat_lengths(self.meter(bar))
        times = self._beat_times.get(bar, [])
        start, end = self.at(bar).start_s, self.end(bar)
        if len(times) != len(lengths):  # a pickup or a hand-made grid: spread the beats evenly
            total = sum(lengths, Fraction(0))
            times, at = [], Fraction(0)
            for length in lengths:
                times.append(start + (end - start) * float(at / total))
                at += length
        return [start, *times[1:], end]

    def time_at(self, bar: int, position: Fraction, *, swung: bool = False) -> float:
        """Seconds of an exact position; positions past the bar line run on at the bar's own speed."""
        edges = self._edges(bar)
        meter = self.meter(bar)
        length = bar_length(meter)
        if position >= length:
            per_whole = (edges[-1] - edges[0]) / float(length)
            return edges[-1] + float(position - length) * per_whole
        beat, inside = beat_of(meter, max(position, Fraction(0)))
        share = float(inside)
        if swung:
            share = swing_out(share, self.feel_of(bar))
        early = float(min(position, Fraction(0))) * (edges[-1] - edges[0]) / float(length)
        return edges[beat] + share * (edges[beat + 1] - edges[beat]) + early

    def bar_at(self, time_s: float) -> int:
        """Number of the bar that sounds at `time_s` (the first or last one outside the song)."""
        index = bisect_right(self._starts, time_s + 1e-9) - 1
        return self.bars[min(max(index, 0), len(self.bars) - 1)].bar

    def phase_at(self, time_s: float) -> tuple[int, float]:
        """Bar and *unrounded* position (whole notes, as played) at `time_s`; placing it exactly is `listen`'s job."""
        bar = self.bar_at(time_s)
        edges = self._edges(bar)
        lengths = beat_lengths(self.meter(bar))
        beat = min(max(bisect_right(edges, time_s) - 1, 0), len(lengths) - 1)
        share = (time_s - edges[beat]) / max(edges[beat + 1] - edges[beat], 1e-9)
        return bar, float(sum(lengths[:beat], Fraction(0))) + share * float(lengths[beat])


def swing_out(share: float, feel: FeelSpan) -> float:
    """Written place inside a beat (0 to 1) -> played place. Straight halves become `swing` and the rest."""
    unit = 1.0 if feel.swing_unit == "8th" else 0.5
    if abs(feel.swing - 0.5) < 1e-6:
        return share
    pair, inside = divmod(share / unit, 1.0)
    bent = inside * 2 * feel.swing if inside < 0.5 else feel.swing + (inside - 0.5) * 2 * (1 - feel.swing)
    return (pair + bent) * unit


def swing_in(share: float, feel: FeelSpan) -> float:
    """Played place inside a beat (0 to 1) -> written place: the inverse of `swing_out`."""
    unit = 1.0 if feel.swing_unit == "8th" else 0.5
    if abs(feel.swing - 0.5) < 1e-6:
        return share
    pair, inside = divmod(share / unit, 1.0)
    straight = (
        inside / (2 * feel.swing) if inside < feel.swing else 0.5 + (inside - feel.swing) / (2 * (1 - feel.swing))
    )
    return (pair + straight) * unit


def regular(
    meters: Sequence[str],
    tempo_bpm: float,
    *,
    start_s: float = 0.0,
    first_bar: int = 1,
    confidence: float = 1.0,
) -> Grid:
    """A grid in steady time: one bar per entry of `meters`; `tempo_bpm` counts quarter notes."""
    return from_tempi(
        [(meter, tempo_bpm) for meter in meters], start_s=start_s, first_bar=first_bar, confidence=confidence
    )


def from_tempi(
    bars: Sequence[tuple[str, float]], *, start_s: float = 0.0, first_bar: int = 1, confidence: float = 1.0
) -> Grid:
    """A grid from (meter, quarter notes a minute) per bar."""
    beats: list[Beat] = []
    lines: list[Bar] = []
    at = start_s
    for number, (meter, quarter_bpm) in enumerate(bars, start=first_bar):
        lengths = beat_lengths(meter)
        whole_s = 240.0 / quarter_bpm
        lines.append(
            Bar(
                bar=number,
                start_s=round(at, 6),
                meter=meter,
                tempo_bpm=round(quarter_bpm / 4 / float(lengths[0]), 3),
            )
        )
        for count, length in enumerate(lengths, start=1):
            beats.append(Beat(time_s=round(at, 6), bar=number, beat=count, confidence=confidence))
            at += float(length) * whole_s
    return Grid(beats=tuple(beats), bars=tuple(lines), end_s=round(at, 6))
