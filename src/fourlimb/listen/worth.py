"""Which bars are most worth the teacher's minute.

In: a grid, hits, what else may have been a stroke. Out: bars, best first, with the number of strokes that checking
them is expected to put right in the whole song.

Method: the wrong strokes expected in a bar, and those of other bars that the rest of the song would learn from it
(`chances`: knowing a bar makes the odds of like strokes elsewhere less unsure; how many decisions that turns is
averaged over what may be found). The best bar is taken, the song is thought of as knowing it, and so on: of eight
copies of a bar one is asked for.

Cannot: see what is wrong and sure.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from fourlimb.model import Grid, Hit, Possible

from .chances import (
    EARLY_S,
    GROUP,
    USUAL,
    Chances,
    Flags,
    Ints,
    chances,
    latent,
    shared,
)
from .evidence import FloatArray
from .odds import probability

LEARNT: Final = 3.0
"""How much a stroke put right elsewhere counts, times the share of strokes expected to be wrong: a song of which much
is doubted is misheard in one way throughout and learns; in one that is nearly right mistakes are single (set on songs
of held kits and made songs of the learning half)."""
MOST_ROWS: Final = 700
"""Of one group, only this many rows are followed, the least sure first."""
MOST_BARS: Final = 24
"""So many bars are chosen with what they teach; after these, by what is wrong in them."""
AHEAD: Final = np.polynomial.hermite_e.hermegauss(7)
"""Points and weights for averages over what may be found (Gauss and Hermite)."""


def worth(grid: Grid, hits: Sequence[Hit], possible: Sequence[Possible]) -> list[tuple[int, float]]:
    """Bars, best first, with the strokes expected to be put right by checking each when those before it are known."""
    rows = chances(grid, hits, possible)
    wrong = np.where(rows.struck, 1 - probability(rows.odds), probability(rows.odds))
    wrong[_by_teacher(rows, hits)] = 0.0
    own = np.bincount(rows.bar, wrong, len(grid.bars)) + _beside(grid, hits)
    groups = [_Group(rows, wrong, which) for which in _groups(rows, wrong)]
    learnt = LEARNT * float(wrong.sum()) / max(int(rows.struck.sum()), 1)
    return [(grid.bars[bar].bar, value) for bar, value in _greedy(own, groups, learnt)]


def _by_teacher(rows: Chances, hits: Sequence[Hit]) -> Flags:
    return np.array([i >= 0 and hits[i].by == "teacher" for i in rows.hit], np.bool_)


def _beside(grid: Grid, hits: Sequence[Hit]) -> FloatArray:
    """Wrong strokes expected of sounds that are not of the kit."""
    found = np.zeros(len(grid.bars))
    starts = np.array([bar.start_s for bar in grid.bars])
    for hit in hits:
        if hit.sound not in GROUP:
            found[max(int(np.searchsorted(starts, hit.time_s + EARLY_S, side="right")) - 1, 0)] += 1 - hit.confidence
    return found


def _groups(rows: Chances, wrong: FloatArray) -> list[Ints]:
    found = []
    for group in np.unique(rows.group):
        which = np.flatnonzero(rows.group == group)
        found.append(np.sort(which[np.argsort(-wrong[which], kind="stable")][:MOST_ROWS]))
    return found


def _greedy(own: FloatArray, groups: list["_Group"], learnt: float) -> list[tuple[int, float]]:
    """Best first. A bar's worth only falls when others are known: only the best of old worths is looked at again."""
    value = np.array([own[bar] + learnt * sum(g.taught(bar) for g in groups) for bar in range(len(own))])
    chosen: list[tuple[int, float]] = []
    left = set(range(len(own)))
    while left and len(chosen) < MOST_BARS:
        fresh: set[int] = set()
        while True:
            best = max(left, key=lambda bar: (round(float(value[bar]), 6), -bar))
            if best in fresh:
                break
            value[best] = own[best] + learnt * sum(g.taught(best) for g in groups)
            fresh.add(best)
        chosen.append((best, float(value[best])))
        left.discard(best)
        for group in groups:
            group.know(best)
    rest = sorted(left, key=lambda bar: (-round(float(own[bar]), 6), bar))
    return chosen + [(bar, float(own[bar])) for bar in rest]


class _Group:
    """What is known of one group's rows: covariance of their shifts, and how it falls when a bar is known."""

    def __init__(self, rows: Chances, wrong: FloatArray, which: Ints) -> None:
        self._bar, self._struck = rows.bar[which], rows.struck[which]
        self._mean, self._open = latent(rows.odds[which], USUAL.variance), wrong[which] > 0
        self._covariance = shared(rows, which, which) + USUAL.own * np.eye(len(which))
        share = probability(rows.odds[which])
        self._noise = 1 / np.maximum(share * (1 - share), 1e-4)
        for bar in np.unique(self._bar[~self._open]):
            self._learn(np.flatnonzero((self._bar == bar) & ~self._open))

    def taught(self, bar: int) -> float:
        """Wrong strokes in other bars that would be put right by knowing this one."""
        told, others = (
            np.flatnonzero((self._bar == bar) & self._open),
            np.flatnonzero((self._bar != bar) & self._open),
        )
        if not len(told) or not len(others):
            return 0.0
        across = self._covariance[np.ix_(told, others)]
        inner = self._covariance[np.ix_(told, told)] + np.diag(self._noise[told])
        variance = self._covariance[others, others]
        less = np.clip((across * np.linalg.solve(inner, across)).sum(axis=0), 0, variance)
        points, weights = AHEAD
        then = self._mean[others][:, None] + np.sqrt(less)[:, None] * points
        share = probability(then / np.sqrt(1 + np.pi * (variance - less) / 8)[:, None])
        wrong = np.where(self._struck[others][:, None], 1 - share, share)
        return float((np.maximum(wrong - 0.5, 0) * 2 @ (weights / weights.sum())).sum())

    def know(self, bar: int) -> None:
        """A bar will have been checked."""
        self._learn(np.flatnonzero((self._bar == bar) & self._open))

    def _learn(self, told: Ints) -> None:
        if not len(told):
            return
        across = self._covariance[told]
        inner = self._covariance[np.ix_(told, told)] + np.diag(self._noise[told])
        self._covariance = self._covariance - across.T @ np.linalg.solve(inner, across)
        self._open[told] = False
