"""The teacher's word on tempo, meter and the one; the rest is solved again around it.

Input: a `Listening` (no audio) and `Hints`. Output: a `Listening` with another grid, every hit placed anew on it,
form and doubts made again. Hits keep ids, times and confidence. Bar lines that the teacher named keep their
seconds in the grid's `extra`, so that a later hint does not undo an earlier one.

Hints speak of the listening they are given with: seconds, and bar numbers as they are before the change.
"""

from fractions import Fraction
from typing import Final

import msgspec
import numpy as np

from fourlimb.model import Grid, InputError, Listening
from fourlimb.model.places import bar_length, beat_lengths

from .bars import doubled
from .beats import Pulse
from .feel import find_feel
from .form import form
from .layout import Line, bar_beats, lay, pulse_unit
from .other_tempo import SAID as OTHER_TEMPO
from .places import place_hits

FACTORS: Final = (Fraction(1), Fraction(2), Fraction(1, 2), Fraction(4), Fraction(1, 4))
SAID: Final = "lines_said_s"
BarSpan = tuple[int, int]


class Hints(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What the teacher said.

    tempo_factor : 2 for twice as many beats, 1/2 for half as many.
    ones_s : "this is the one": bars are counted from these seconds, both ways, up to the next line the teacher named.
    bar_lines_s : "bar line here": bars are counted on from here; the bar before ends early if it must.
    meters : (first and last bar or None for all, meter).
    """

    tempo_factor: Fraction = Fraction(1)
    ones_s: tuple[float, ...] = ()
    bar_lines_s: tuple[float, ...] = ()
    meters: tuple[tuple[BarSpan | None, str], ...] = ()


def regrid(listening: Listening, hints: Hints) -> Listening:
    """The listening with its grid solved again. Raises InputError on a meter or a factor that cannot be."""
    for _, meter in hints.meters:
        bar_length(meter)
    if hints.tempo_factor not in FACTORS:
        raise InputError(f"the tempo cannot be taken {hints.tempo_factor} times: use 2 or 1/2")
    if len(listening.grid.beats) < 2:
        return listening
    last_s = max((hit.time_s for hit in listening.hits), default=0.0)
    grid = _Counting(listening.grid, last_s).under(hints).grid()
    grid = msgspec.structs.replace(grid, feel=find_feel(grid, listening.hits))
    hits = place_hits(grid, listening.hits)
    sections, landmarks, doubts = form(grid, hits, listening.possible)
    notes = tuple(n for n in listening.notes if hints.tempo_factor == 1 or not n.startswith(OTHER_TEMPO))
    changed: Listening = msgspec.structs.replace(
        listening, grid=grid, hits=hits, sections=sections, landmarks=landmarks, doubts=doubts, notes=notes
    )
    return changed


class _Counting:
    """A pulse with the bar lines that stand on it, taken from a grid and changed step by step."""

    def __init__(self, grid: Grid, last_s: float) -> None:
        self._end_s = max(grid.bars[-1].start_s, last_s)  # moved bar lines must not leave the last strokes outside
        self._extra = dict(grid.extra)
        said = self._extra.get(SAID, ())
        self._said_s = [float(s) for s in said] if isinstance(said, list | tuple) else []
        self._pulse, starts = _pulse_of(grid)
        self._bar_at = {bar.bar: at for bar, at in zip(grid.bars, starts, strict=True)}
        self._lines = _stretches(grid, starts)

    def under(self, hints: Hints) -> "_Counting":
        self._change_tempo(hints.tempo_factor)
        for span, meter in hints.meters:
            self._change_meter(span, meter)
        for time_s in sorted(hints.ones_s):
            self._count_from(time_s)
        for time_s in sorted(hints.bar_lines_s):
            self._cut_at(time_s)
        return self

    def grid(self) -> Grid:
        grid = lay(self._pulse, self._lines, until_s=self._end_s + 0.05)
        said = sorted({round(s, 4) for s in self._said_s})
        extra = {**self._extra, SAID: said} if said else self._extra
        changed: Grid = msgspec.structs.replace(grid, extra=extra)
        return changed

    def _change_tempo(self, factor: Fraction) -> None:
        """Twice or half the beats; meters stay, so bars become half or twice as long in time."""
        if factor == 1:
            return
        one = self._lines[0].at
        if factor > 1:
            for _ in range(int(factor).bit_length() - 1):
                self._pulse = doubled(self._pulse)
                one *= 2
        else:
            for _ in range(factor.denominator.bit_length() - 1):
                keep = int(one) % 2
                self._pulse = Pulse(self._pulse.times_s[keep::2], self._pulse.confidence[keep::2])
                one = (one - keep) / 2
        self._lines = [Line(one % bar_beats(self._main_meter()), self._main_meter())]
        for time_s in self._said_s:
            self._cut_at(time_s, said=False)

    def _main_meter(self) -> str:
        """The meter most beats stand in."""
        share: dict[str, float] = {}
        ends = [*(float(line.at) for line in self._lines[1:]), float(len(self._pulse.times_s))]
        for line, end in zip(self._lines, ends, strict=True):
            share[line.meter] = share.get(line.meter, 0.0) + end - float(line.at)
        return max(share, key=lambda meter: (share[meter], meter))

    def _change_meter(self, span: BarSpan | None, meter: str) -> None:
        if span is None:
            first = self._lines[0].at
            self._rescale(self._lines[0].meter, meter)
            self._lines = [Line(first % bar_beats(meter), meter)]
            for time_s in self._said_s:
                self._cut_at(time_s, said=False)
            return
        start = self._bar_at.get(span[0], Fraction(0))
        after = self._bar_at.get(span[1] + 1)
        before = [line for line in self._lines if line.at < start]
        then = self._meter_at(after) if after is not None else None
        later = [line for line in self._lines if after is not None and line.at > after]
        back = [Line(start + (span[1] - span[0] + 1) * bar_beats(meter), then)] if then and after is not None else []
        self._lines = [
            *before,
            Line(start, meter),
            *back,
            *(line for line in later if not back or line.at > back[0].at),
        ]

    def _rescale(self, old: str, new: str) -> None:
        """From 3/4 to 6/8 the bar stays and its beats change: three quarters are two dotted ones."""
        if bar_length(old) != bar_length(new) or pulse_unit(old) == pulse_unit(new):
            return
        ratio = float(pulse_unit(new) / pulse_unit(old))
        first = float(self._lines[0].at)
        count = int((len(self._pulse.times_s) - 1 - first) / ratio) + 1
        at = first + ratio * np.arange(-int(first / ratio), count)
        index = np.arange(len(self._pulse.times_s))
        times, trust = self._pulse.times_s, self._pulse.confidence
        self._pulse = Pulse(np.interp(at, index, times), np.interp(at, index, trust))
        self._lines = [Line(Fraction(int(first / ratio)), new)]

    def _count_from(self, time_s: float) -> None:
        """The one is here: bars around it are counted from it, up to the lines that the teacher named before."""
        one = self._nearest(time_s)
        fixed = sorted(self._nearest(s) for s in self._said_s)
        low = max((at for at in fixed if at < one), default=None)
        high = min((at for at in fixed if at > one), default=None)
        meter = self._meter_at(one)
        kept = [
            line
            for line in self._lines
            if (low is not None and line.at <= low) or (high is not None and line.at >= high)
        ]
        start = one % bar_beats(meter) if low is None else low + (one - low) % bar_beats(meter)
        self._lines = sorted([*kept, Line(start, meter)] if start != low else [*kept, Line(one, meter)])
        self._said_s.append(time_s)

    def _cut_at(self, time_s: float, *, said: bool = True) -> None:
        at = self._nearest(time_s)
        meter = self._meter_at(at)
        later = min((line.at for line in self._lines if line.at > at), default=None)
        if self._lines[0].at > at:
            self._lines = [Line(at, meter), *self._lines]
        elif later is None or later - at >= 1:
            self._lines = sorted([*(line for line in self._lines if line.at != at), Line(at, meter)])
        if said:
            self._said_s.append(time_s)

    def _meter_at(self, at: Fraction) -> str:
        known = [line.meter for line in self._lines if line.at <= at]
        return known[-1] if known else self._lines[0].meter

    def _nearest(self, time_s: float) -> Fraction:
        return Fraction(int(np.abs(self._pulse.times_s - time_s).argmin()))


def _pulse_of(grid: Grid) -> tuple[Pulse, list[Fraction]]:
    """The pulse under a grid (quarters or dotted quarters), and on which of its beats each bar starts."""
    starts, at = [], Fraction(0)
    for bar in grid.bars:
        starts.append(at)
        at += bar_beats(bar.meter)
    edges, times, trust = [], [], []
    for bar, start in zip(grid.bars, starts, strict=True):
        inside = [b for b in grid.beats if b.bar == bar.bar]
        place = start
        for beat, length in zip(inside, beat_lengths(bar.meter), strict=False):
            edges.append(float(place))
            times.append(beat.time_s)
            trust.append(beat.confidence)
            place += length / pulse_unit(bar.meter)
    whole = np.arange(0, int(at) + 1, dtype=np.float64)
    edges.append(float(at))
    times.append(grid.end_s)
    trust.append(trust[-1])
    return Pulse(np.interp(whole, edges, times), np.interp(whole, edges, trust)), starts


def _stretches(grid: Grid, starts: list[Fraction]) -> list[Line]:
    """Lines where the counting changes: runs of bars of one meter are one line."""
    lines: list[Line] = []
    for bar, at in zip(grid.bars, starts, strict=True):
        if bar.bar > 0 and (not lines or lines[-1].meter != bar.meter):
            lines.append(Line(at, bar.meter))
    return lines or [Line(Fraction(0), grid.bars[0].meter)]
