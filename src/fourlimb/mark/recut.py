"""Where exactly a take jumps: the hit at which one stretch ends and the next begins.

`follow` knows jumps to a beat. Around each, every hit is asked on whose strokes it falls, before the jump or after;
the cut that leaves most hits on a stroke wins. Of cuts that are as good the one nearest to a bar line is taken, for
there players leave and come back; where they go back, one in a pause, for they stop first. A bar that is left out
makes no pause.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from fourlimb.model import Hit
from fourlimb.model.sounds import INSTRUMENT

from .follow import Stretch
from .steady import Steady
from .written import Floats, Written, weight

AROUND_BEATS: Final = 4.5
"""How far from a jump another cut is looked for, felt beats of the take (ours: a bar of 4/4 and a little)."""

ON_S: Final = 0.06
"""A hit this near to a stroke of its instrument is on it (seconds of the take; ours)."""

TOGETHER_S: Final = 0.06
"""Strokes closer than this are struck together and not cut apart (ours)."""

PAUSE_BEATS: Final = 1.5
"""A silence from so many felt beats on is a pause (ours)."""

AS_GOOD: Final = 1.3
"""Cuts that lose less than this, a stroke or two, are as good as the best (ours)."""


def recut(
    written: Written,
    hits: Sequence[Hit],
    one: tuple[Stretch, Steady],
    after: tuple[Stretch, Steady],
) -> tuple[Stretch, Stretch]:
    """The two stretches, each with its steady time, with the cut between them moved."""
    (before, own), (then, others) = one, after
    if before.last + 1 != then.first:
        return before, then
    beat_s = written.beat_s / max(others.ratio(), 1e-6)
    at = hits[then.first].time_s
    near = [j for j in range(before.first + 1, then.last + 1) if abs(hits[j].time_s - at) <= AROUND_BEATS * beat_s]
    if not near:
        return before, then
    low, high = near[0], near[-1]
    inside = range(low, high + 1)
    here, there = (_on(written, [hits[j] for j in inside], steady) for steady in (own, others))
    worth = [float(here[:n].sum() + there[n:].sum()) for n in range(len(inside))]
    places = others.written_at(np.array([hits[j].time_s for j in inside]))
    away = [float(np.abs(written.lines_s - place).min()) for place in places]
    best = max(worth)
    gaps = [hits[j].time_s - hits[j - 1].time_s for j in inside]
    good = [n for n in range(len(inside)) if worth[n] >= best - AS_GOOD and gaps[n] >= TOGETHER_S]
    if not good:
        return before, then
    back = float(others.written_at(np.array([at]))[0]) < float(own.written_at(np.array([at]))[0])
    cut = low + min(
        good, key=lambda n: (back and gaps[n] < PAUSE_BEATS * beat_s, round(away[n], 2), abs(low + n - then.first))
    )
    return _stretch(before.first, cut - 1, hits, own), _stretch(cut, then.last, hits, others)


def _on(written: Written, hits: Sequence[Hit], steady: Steady) -> Floats:
    """For each hit its weight where it falls on a stroke of its instrument, else a loss of half of it."""
    due = steady.at(written.time_s)
    names = np.array([INSTRUMENT[stroke.piece] for stroke in written.strokes])
    found = []
    for hit in hits:
        same = due[names == INSTRUMENT[hit.sound]]
        on = len(same) > 0 and float(np.abs(same - hit.time_s).min()) <= ON_S
        found.append(weight(hit.sound) * (1.0 if on else -0.5))
    return np.array(found)


def _stretch(first: int, last: int, hits: Sequence[Hit], steady: Steady) -> Stretch:
    return Stretch(first, last, steady.written_at(np.array([hits[j].time_s for j in range(first, last + 1)])))
