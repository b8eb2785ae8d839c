"""What a song usually does at each place of its bars, learnt from the song alone.

A hat that is faint under the guitars in bar 7 is clear in bar 3; a bump off the beat that no other bar has is noise.
In: the network's curves and the beats of a first hearing. Out: for every frame the log-odds that a stroke of each
sound falls there, by what the song does at the same place elsewhere.

Method: the song is cut into twelfths of beats. Each cell's stroke is hidden; its curve is what is seen. The rate at
a place is the mean of what other bars are believed to do there, nearer bars counting more, drawn towards half bars,
then neighbouring beats, then the whole song where bars are few; beliefs and rates are improved in turn (expectation
maximisation, Dempster, Laird and Rubin 1977). A cell never votes on itself.

Cannot: help in a song without repetition, or put right a wrong beat.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from .features import FRAMES_PER_S, Floats
from .odds import log_odds

Doubles = npt.NDArray[np.float64]

CELLS = 12
"""Places in a beat: sixteenths and triplets both fall on one."""

REACH_FRAMES = 2
ROUNDS = 6
BARS_AROUND = 24
BAR_FADE = 9.0
"""Bars this far away count 1/e."""

EVEN_BEATS_AROUND, BEATS_AROUND = 8, 4
PULL = 2.0
"""How many bars the wider rate is worth (as pseudo-counts)."""

LEAST_RATE = 0.002
SHARP, SUREST = 1.3, 9.0
"""What the curves' log-odds, less the even ones, are worth (fitted on the open recordings), and their limit."""


class Pulse(NamedTuple):
    """Where beats fall. times_s : shape (n,), increasing; beats_per_bar : usual number."""

    times_s: Doubles
    beats_per_bar: int


def habits(hits: Floats, beats: Pulse, even: Doubles) -> Doubles:
    """Log-odds of a stroke by what the song does elsewhere, of the shape of `hits`, (n, k); zeros without beats.

    even : shape (k,), log-odds of each curve that are an even chance of a stroke.
    """
    if len(beats.times_s) < 2 * beats.beats_per_bar + 1 or not len(hits):
        return np.zeros(hits.shape)
    ends = _whole_song(beats.times_s, len(hits) / FRAMES_PER_S)
    count = len(ends) - 1
    times = np.interp(np.arange(count * CELLS) / CELLS, np.arange(count + 1), ends)
    frames = np.rint(times * FRAMES_PER_S).astype(np.int64)
    inside = (frames >= 0) & (frames < len(hits))
    seen = SHARP * (log_odds(_highest_around(hits)[np.clip(frames, 0, len(hits) - 1)]) - even)
    seen = np.clip(seen, -SUREST, SUREST)
    seen[~inside] = -SUREST
    k = hits.shape[1]
    rates = _rates(seen.reshape(count, CELLS, k), inside.reshape(count, CELLS, 1), beats.beats_per_bar)
    places = np.interp(np.arange(len(hits)) / FRAMES_PER_S, ends, np.arange(count + 1))
    cells = np.clip(np.rint(places * CELLS).astype(np.int64), 0, count * CELLS - 1)
    return np.asarray(log_odds(rates.reshape(count * CELLS, k))[cells])


def _rates(seen: Doubles, inside: npt.NDArray[np.bool_], per_bar: int) -> Doubles:
    """Rate of strokes in every cell, shape (beats, CELLS, k), from what is seen elsewhere."""
    belief = 1 / (1 + np.exp(-seen))
    bars = [(n * per_bar, float(np.exp(-n / BAR_FADE))) for n in range(1, BARS_AROUND + 1)]
    halves = [(n, 1.0) for n in range(2, EVEN_BEATS_AROUND + 1, 2) if n % per_bar]
    near = [(n, 1.0) for n in range(1, BEATS_AROUND + 1)]
    there = inside.astype(np.float64)
    weights = [_around(there, steps) for steps in (bars, halves, near)]
    rate = belief
    for _ in range(ROUNDS):
        counted = belief * there
        rate = np.broadcast_to(counted.sum((0, 1)) / max(there.sum(), 1.0), belief.shape)
        for steps, weight in ((near, weights[2]), (halves, weights[1]), (bars, weights[0])):
            rate = (_around(counted, steps) + PULL * rate) / (weight + PULL)
        rate = np.clip(rate, LEAST_RATE, 1 - LEAST_RATE)
        belief = 1 / (1 + np.exp(-(seen + log_odds(rate))))
    return rate


def _around(values: Doubles, steps: Sequence[tuple[int, float]]) -> Doubles:
    """Weighted sum over beats that far before and after."""
    out = np.zeros_like(values)
    for step, weight in steps:
        if step < len(values):
            out[step:] += weight * values[:-step]
            out[:-step] += weight * values[step:]
    return out


def _whole_song(beats_s: Doubles, end_s: float) -> Doubles:
    """Beats from before the start to after the end, going on at the same speed."""
    first, last = beats_s[1] - beats_s[0], beats_s[-1] - beats_s[-2]
    before = np.arange(np.ceil(max(beats_s[0], 0.0) / first), 0, -1)
    after = np.arange(1, np.ceil(max(end_s - beats_s[-1], 0.0) / last) + 1)
    return np.concatenate([beats_s[0] - first * before, beats_s, beats_s[-1] + last * after])


def _highest_around(hits: Floats) -> Floats:
    """Each curve's maximum within `REACH_FRAMES` frames."""
    n = len(hits)
    padded = np.pad(hits, ((REACH_FRAMES, REACH_FRAMES), (0, 0)))
    highest = padded[:n].copy()
    for k in range(1, 2 * REACH_FRAMES + 1):
        np.maximum(highest, padded[k : k + n], out=highest)
    return highest
