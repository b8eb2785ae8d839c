"""Strokes and hits of one sound, paired in order at the least total cost.

Nearest-first pairing breaks where a player rushes by more than half a gap: then every stroke takes its neighbour's
hit. Order helps: hits are played in the order in which they are written. This is the alignment of two sequences by
dynamic programming (Needleman and Wunsch 1970): a pair costs its lateness as a share of the reach, and its hit's
doubt; a stroke left out costs 1, a hit left over half of that times how sure it is.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from .written import Floats

MISS: Final = 1.0
LEFT_OVER: Final = 0.5
"""Costs of a stroke without a hit and of a hit without a stroke, where a pair at the edge of the reach costs 1
(ours)."""

DOUBT: Final = 1.0
"""What a pair with a hit that is not sure at all costs more (ours): of an early snare and the echo that stands where
it should, the snare is taken."""

CHUNK: Final = 400
"""Most strokes aligned at once: longer rows are cut, so that time and memory grow with the song and not its
square."""


def in_order(due: Floats, times: Floats, reach: float, trust: Floats | None = None) -> list[tuple[int, int]]:
    """Pairs (stroke, hit), both increasing, never further apart than `reach`.

    `due`, `times`: seconds, in order; `trust`: how sure each hit is, 0 to 1 (None: all are).
    """
    trust = np.ones(len(times)) if trust is None else trust
    pairs = []
    taken = 0
    for first, last in _chunks(due, reach):
        low = max(int(np.searchsorted(times, due[first] - reach)), taken)
        high = int(np.searchsorted(times, due[last - 1] + reach, side="right"))
        for a, b in _align(due[first:last], times[low:high], reach, trust[low:high]):
            pairs.append((first + a, low + b))
            taken = low + b + 1
    return pairs


def _chunks(due: Floats, reach: float) -> Iterator[tuple[int, int]]:
    """Runs of strokes whose reaches touch; within a run nothing can be decided alone."""
    start = 0
    for n in range(1, len(due) + 1):
        if n == len(due) or due[n] - due[n - 1] > 2 * reach or n - start >= CHUNK:
            yield start, n
            start = n


def _align(due: Floats, times: Floats, reach: float, trust: Floats) -> list[tuple[int, int]]:
    """One run: cheapest cost for every (strokes so far, hits so far), then the way back."""
    left_over = LEFT_OVER * np.concatenate([[0.0], np.cumsum(trust)])
    cost = np.zeros((len(due) + 1, len(times) + 1))
    cost[0] = left_over
    pair = np.abs(times[None, :] - due[:, None]) / reach
    pair = np.where(pair > 1, np.inf, pair + DOUBT * (1 - trust))
    for i in range(len(due)):
        row = cost[i] + MISS
        row[1:] = np.minimum(row[1:], cost[i, :-1] + pair[i])
        cost[i + 1] = np.minimum.accumulate(row - left_over) + left_over
    return _way_back(cost, pair, LEFT_OVER * trust)


def _way_back(cost: Floats, pair: Floats, left_over: Floats) -> list[tuple[int, int]]:
    pairs = []
    i, j = pair.shape
    while i and j:
        if abs(cost[i, j] - cost[i - 1, j - 1] - pair[i - 1, j - 1]) < 1e-9:
            i, j = i - 1, j - 1
            pairs.append((i, j))
        elif abs(cost[i, j] - cost[i, j - 1] - left_over[j - 1]) < 1e-9:
            j -= 1
        else:
            i -= 1
    return pairs[::-1]
