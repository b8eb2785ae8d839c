"""Bars laid on a pulse: the one place where counted beats become a `Grid`.

Input: a `Pulse` (beat times) and `Line`s: from this beat on, bars of this meter. Output: a `Grid`.

A place on the pulse is a `Fraction` of beats, so that meters whose beats are uneven (7/8 = 2 + 2 + 3) can be laid
on an even pulse of quarters. A bar that the next line cuts short gets the meter that fits. What stands before the
first line is the pickup, bar 0.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Final, NamedTuple

import numpy as np

from fourlimb.model import Bar, Beat, Grid
from fourlimb.model.places import bar_length, beat_lengths, is_compound

from .beats import Pulse
from .evidence import FloatArray

SHORTEST_CUT: Final = Fraction(1, 2)
"""A bar is not cut shorter than half a beat: the line before moves instead."""


class Line(NamedTuple):
    """From beat `at` of the pulse on, bars of `meter`. `sure`: how likely the lines are right if the beats are."""

    at: Fraction
    meter: str
    sure: float = 1.0


def lay(pulse: Pulse, lines: Sequence[Line], *, until_s: float) -> Grid:
    """A grid from the pulse's first beat to the bar that holds `until_s`; the pulse is carried on where it ends."""
    pulse = carried(pulse, until_s, max((float(bar_beats(line.meter)) for line in lines), default=4.0))
    stop = _index_at(pulse.times_s, until_s)
    bars = expanded(lines, stop)
    beats: list[Beat] = []
    made: list[Bar] = []
    for number, (at, meter, sure, end) in enumerate(bars, start=0 if lines and lines[0].at > 0 else 1):
        edges = [at + place for place in _beat_places(meter)]
        start_s, end_s = time_of(pulse.times_s, at), time_of(pulse.times_s, end)
        bpm = 60 * len(edges) / max(end_s - start_s, 1e-3)
        made.append(Bar(bar=number, start_s=round(start_s, 4), meter=meter, tempo_bpm=round(bpm, 2)))
        for count, edge in enumerate(edges, start=1):
            trust = float(np.interp(float(edge), np.arange(len(pulse.confidence)), pulse.confidence))
            trust *= sure if count == 1 else 1.0
            time_s = round(time_of(pulse.times_s, edge), 4)
            beats.append(Beat(time_s=time_s, bar=number, beat=count, confidence=round(trust, 3)))
    return Grid(beats=tuple(beats), bars=tuple(made), end_s=round(time_of(pulse.times_s, bars[-1][3]), 4))


def bar_beats(meter: str) -> Fraction:
    """Beats of the pulse in one bar: quarters in simple meters, dotted quarters in compound ones (7/8 has 3.5)."""
    return bar_length(meter) / pulse_unit(meter)


def pulse_unit(meter: str) -> Fraction:
    """The note value that the pulse counts under a meter, in whole notes."""
    return beat_lengths(meter)[0] if is_compound(meter) else Fraction(1, 4)


def meter_of(beats: Fraction, like: str) -> str:
    """The meter of a bar that lasts so many beats of the pulse, written like `like`."""
    length = beats * pulse_unit(like)
    unit = 8 if is_compound(like) else 4
    while (length * unit).denominator != 1 and unit < 32:
        unit *= 2
    return f"{max(round(length * unit), 1)}/{unit}"


def expanded(lines: Sequence[Line], stop: float) -> list[tuple[Fraction, str, float, Fraction]]:
    """Every bar as (first beat, meter, trust, end); bars run on until one holds `stop`."""
    bars: list[tuple[Fraction, str, float, Fraction]] = []
    ordered = sorted(lines, key=lambda line: line.at)
    if ordered[0].at > 0:
        bars.append((Fraction(0), meter_of(ordered[0].at, ordered[0].meter), ordered[0].sure, ordered[0].at))
    for index, line in enumerate(ordered):
        limit = ordered[index + 1].at if index + 1 < len(ordered) else None
        size, at = bar_beats(line.meter), line.at
        while at < limit if limit is not None else (float(at) < stop - 1e-6 or not bars):
            end = at + size if limit is None else min(at + size, limit)
            meter = line.meter if end - at == size else meter_of(end - at, line.meter)
            bars.append((at, meter, line.sure, end))
            at = end
    return bars


def time_of(times_s: FloatArray, at: Fraction | float) -> float:
    """Seconds of a place on the pulse; before the first and after the last beat time runs on evenly."""
    place = float(at)
    last = len(times_s) - 1
    if place > last:
        return float(times_s[-1] + (place - last) * (times_s[-1] - times_s[-2]))
    return float(np.interp(place, np.arange(len(times_s)), times_s))


def carried(pulse: Pulse, until_s: float, more_beats: float = 0.0) -> Pulse:
    """Beats at the same speed past `until_s` by `more_beats`: a last bar needs all of its beats."""
    times, trust = pulse.times_s, pulse.confidence
    gap = float(np.median(np.diff(times[-9:]))) if len(times) > 1 else 0.5
    count = max(int(np.ceil((until_s - times[-1]) / gap + more_beats)) + 1, 1)
    extra = times[-1] + gap * np.arange(1, count + 1)
    return Pulse(np.concatenate([times, extra]), np.concatenate([trust, np.full(count, trust[-1] * 0.5)]))


def _beat_places(meter: str) -> list[Fraction]:
    """Where the felt beats of a bar stand, in beats of the pulse from its line."""
    places, at = [], Fraction(0)
    for length in beat_lengths(meter):
        places.append(at)
        at += length / pulse_unit(meter)
    return places


def _index_at(times_s: FloatArray, time_s: float) -> float:
    return float(np.interp(time_s, times_s, np.arange(len(times_s))))
