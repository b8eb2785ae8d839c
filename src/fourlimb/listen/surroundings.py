"""What stands round everything that may be a stroke.

In: rows in time order as `chances` makes them, each with its group and how likely it is. Out: what else sounds at its
moment, what its own group does just before and after, how loud it is among its group; by these are told apart the
high tom that is heard in every snare, the second stroke of a drag, the faint hat under a crash.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from .evidence import FloatArray

Ints = npt.NDArray[np.int64]

MOMENT_S: Final = 0.035
"""What is this near sounds at the same moment."""
CLOSE_S: Final = (0.07, 0.16)
"""Just before or after: a drag's strokes, and 16ths up to about 95 beats a minute."""


def beside(groups: int, group: Ints, time_s: FloatArray, share: FloatArray) -> FloatArray:
    """How likely each other group sounds at each row's moment, shape (n, groups); 0 for the row's own group."""
    found = np.zeros((len(time_s), groups))
    for one in range(groups):
        mine = np.flatnonzero(group == one)
        low, high = np.searchsorted(time_s[mine], (time_s - MOMENT_S, time_s + MOMENT_S))
        found[:, one] = _highest(share[mine], low, high)
        found[mine, one] = 0.0
    return found


def neighbours(groups: int, group: Ints, time_s: FloatArray, share: FloatArray) -> FloatArray:
    """How likely a row of the same group comes before and after within each of `CLOSE_S`, shape (n, 4)."""
    found = np.zeros((len(time_s), 2 * len(CLOSE_S)))
    for one in range(groups):
        mine = np.flatnonzero(group == one)
        at, here = time_s[mine], np.arange(len(mine))
        for n, within_s in enumerate(CLOSE_S):
            low, high = np.searchsorted(at, (at - within_s, at + within_s))
            found[mine, 2 * n] = _highest(share[mine], low, here)
            found[mine, 2 * n + 1] = _highest(share[mine], here + 1, high)
    return found


def louder(groups: int, group: Ints, loudness_db: FloatArray, struck: npt.NDArray[np.bool_]) -> FloatArray:
    """Decibels above the usual stroke of the same group in this song, shape (n,)."""
    found = loudness_db.copy()
    for one in range(groups):
        mine = group == one
        usual = loudness_db[mine & struck] if (mine & struck).any() else loudness_db[mine]
        if len(usual):
            found[mine] -= float(np.median(usual))
    return found


def _highest(values: FloatArray, low: Ints, high: Ints) -> FloatArray:
    """Largest of values[low:high] for every pair of ends; 0 where there is none."""
    highest = np.zeros(len(low))
    for step in range(int((high - low).max(initial=0))):
        inside = low + step < high
        highest[inside] = np.maximum(highest[inside], values[(low + step)[inside]])
    return highest
