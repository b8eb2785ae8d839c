"""How likely one way to count a song is against others: a table of weights, learned and written down.

Input: rows of signs (`signs.NAMES`), one for each way to count. Output: log-odds of each way against the others.

Method: a conditional choice among all ways that were tried (McFadden 1974) whose points are a straight sum of the
signs and a layer of smooth thresholds on them (a perceptron with one hidden layer), the mean of a few such sums. The
weights make the true ways of many songs likely; they are learned by `bench.ways` on the learning half of the Groove
set, rendered and heard, at its own and other speeds, and on songs made in every meter. Two tables: with ears trained
on beats and bar lines, and for strokes alone.

What it cannot do: tell a fast song from a slow one whose drummer plays twice as much, where players themselves differ
(bossa nova in 2 or in 4).
"""

from functools import cache
from importlib.resources import files
from typing import Final, NamedTuple

import numpy as np

from .evidence import FloatArray

TABLE: Final = "ways.npz"
FARTHEST: Final = 5.0
"""Signs further from their mean than so many standard deviations count as that far."""


class Weights(NamedTuple):
    """Of one table.

    Shapes: `mean`, `spread` (signs,); `straight` (sums, signs); `inner` (sums, signs, thresholds); `bias`, `outer`
    (sums, thresholds).
    """

    mean: FloatArray
    spread: FloatArray
    straight: FloatArray
    inner: FloatArray
    bias: FloatArray
    outer: FloatArray


def weighed(rows: FloatArray, w: Weights) -> FloatArray:
    """Log-odds of ways to count. `rows`: shape (ways, signs)."""
    signs = np.clip((rows - w.mean) / w.spread, -FARTHEST, FARTHEST)
    sums = zip(w.straight, w.inner, w.bias, w.outer, strict=True)
    found: FloatArray = np.mean(
        [signs @ straight + np.tanh(signs @ inner + bias) @ outer for straight, inner, bias, outer in sums], axis=0
    )
    return found


@cache
def learned(kind: str) -> Weights:
    """The weights that ship: "heard" with trained ears, "struck" for strokes alone."""
    with files("fourlimb.listen").joinpath(TABLE).open("rb") as file:
        table = np.load(file)
        return Weights(*(table[f"{kind}_{name}"].astype(np.float64) for name in Weights._fields))
