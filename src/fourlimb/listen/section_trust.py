"""How far a section of the song can be trusted: whether it starts and ends where the music changes.

Input: bar vectors (see `alike`) and the edges between sections. Output: for each section the probability that both
its ends are within one bar of true ones.

Method: a logistic curve over four signs, fitted by `bench.section_curve` on songs made of the learning half of the
Groove set (`bench.bars` prints its error on the other half).

What it cannot do: know that the singer starts where the drums go on.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from .evidence import FloatArray

AROUND_BARS: Final = 4
SIGNS: Final = ("weaker edge", "unlike inside", "unlike halves", "odd length", "always")
WEIGHTS: Final = (6.33, 1.35, -4.32, -1.49, -1.23)


def trust(vectors: FloatArray, edges: Sequence[int]) -> list[float]:
    """For each section, 0 to 1."""
    odds = signs(vectors, edges) @ np.array(WEIGHTS)
    return [round(float(p), 3) for p in 1 / (1 + np.exp(-odds))]


def signs(vectors: FloatArray, edges: Sequence[int]) -> FloatArray:
    """One row a section, in the order of `SIGNS`.

    weaker edge: how unlike the bars before and after it are, at the start or the end, whichever changes less;
    unlike inside, unlike halves: of its bars and their mean, of its first half and its second; odd length: 0 for a
    multiple of eight bars, 1 for four, 2 for two, 3 for others.
    """
    unit = vectors / np.maximum(np.linalg.norm(vectors, axis=1), 1e-9)[:, None]
    rows = []
    for first, stop in pairwise(edges):
        ends = [_change(unit, edge) for edge in (first, stop) if 0 < edge < len(unit)]
        inside, half = unit[first:stop], (first + stop) // 2
        rows.append([
            min(ends, default=1.0),
            1 - float((inside @ _mean(inside)).mean()) if np.any(inside) else 0.0,
            _unlike(unit[first:half], unit[half:stop]) if half > first else 0.0,
            float(next(n for n, size in enumerate((8, 4, 2, 1)) if (stop - first) % size == 0)),
            1.0,
        ])  # fmt: skip
    return np.array(rows, dtype=np.float64).reshape(-1, len(SIGNS))


def _change(unit: FloatArray, edge: int) -> float:
    return _unlike(unit[max(edge - AROUND_BARS, 0) : edge], unit[edge : edge + AROUND_BARS])


def _unlike(before: FloatArray, after: FloatArray) -> float:
    one, two = _mean(before), _mean(after)
    return 1 - float(one @ two) if np.any(one) or np.any(two) else 0.0


def _mean(rows: FloatArray) -> FloatArray:
    """The mean of some bars, of length 1 (or 0 when all are silent)."""
    mean: FloatArray = rows.mean(axis=0)
    return mean / max(float(np.linalg.norm(mean)), 1e-9)
