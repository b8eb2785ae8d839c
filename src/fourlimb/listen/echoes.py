"""Toms that are only the snare's own ring.

A snare with a loose or ringing head sounds, under its wires, like a small tom. The ears then hear both. What tells
them apart is the whole song: a tom is also struck alone, in fills and grooves; a ring never is.

In: a song's strokes of snare and toms. Out: which tom strokes are the snare's (common practice among those who
transcribe, no source).

Cannot: tell a song whose few tom strokes all fall with a snare stroke, as in one flam between the two.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS

Doubles = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

RINGING: Final = tuple(SOUNDS.index(s) for s in ("tom_high", "tom_mid"))
SNARE: Final = SOUNDS.index("snare")
TOGETHER_S: Final = 0.03
MOSTLY: Final = 0.6
"""A tom with more of its strokes on the snare's than this share is taken for its ring (ours)."""


def echoes(sounds: Ints, times_s: Doubles) -> npt.NDArray[np.bool_]:
    """Which strokes are a snare's ring. sounds : numbers in `SOUNDS`, times_s : seconds; shape (n,) each."""
    found = np.zeros(len(sounds), bool)
    snares = np.sort(times_s[sounds == SNARE])
    for tom in RINGING:
        own = np.flatnonzero(sounds == tom)
        on_snare = _near(times_s[own], snares)
        if len(own) and on_snare.mean() > MOSTLY:
            found[own[on_snare]] = True
    return found


def _near(times_s: Doubles, others: Doubles) -> npt.NDArray[np.bool_]:
    """Which times have one of `others` (increasing) within `TOGETHER_S`."""
    if not len(others):
        return np.zeros(len(times_s), bool)
    after = np.clip(np.searchsorted(others, times_s), 1, max(len(others) - 1, 1))
    last = np.minimum(after, len(others) - 1)
    off = np.minimum(np.abs(others[last] - times_s), np.abs(others[np.maximum(after - 1, 0)] - times_s))
    return np.asarray(off < TOGETHER_S)
