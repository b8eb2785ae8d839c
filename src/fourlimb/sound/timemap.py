"""Which moment of the recording is heard at which moment of the slower one.

Around every attack time runs as in the recording (slope one), so the attack is copied whole; the gaps between take
up all the stretching. Every attack lands on its time divided by the speed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Times = npt.NDArray[np.float64]

BEFORE_S: Final = 0.027
AFTER_S: Final = 0.0232
"""Reach of a zone round an attack: half a window of the high band (2048 at 44.1 kHz), and 4 ms more before."""

SHARE_BEFORE: Final = 0.35
SHARE_AFTER: Final = 0.50
"""Zones take at most this share of the gap to the neighbouring attack (measured best of a few tried)."""

MERGE_S: Final = 0.020
"""Attacks closer than this are one: a flam keeps its width."""


@dataclass(frozen=True, eq=False)
class TimeMap:
    """Breakpoints in seconds, both increasing, and where zones start and end in the slower sound."""

    out_s: Times
    in_s: Times
    zones: Times

    def heard(self, out_s: Times) -> Times:
        """Seconds of the recording heard at `out_s`; runs on at slope one outside the song."""
        inside = np.interp(out_s, self.out_s, self.in_s)
        before = np.minimum(out_s - self.out_s[0], 0.0)
        after = np.maximum(out_s - self.out_s[-1], 0.0)
        return np.asarray(inside + before + after)


def time_map(attacks_s: Sequence[float] | Times, duration_s: float, speed: float) -> TimeMap:
    """The map for a recording of `duration_s` at a speed (0.5: half as fast)."""
    attacks = separate(attacks_s, duration_s)
    narrower = min(1.0, 1.0 / speed)
    gaps = np.diff(np.concatenate([[0.0], attacks, [duration_s]]))
    first = np.where(np.arange(len(attacks)) == 0, 1.0, SHARE_BEFORE)
    before = np.minimum(BEFORE_S, first * gaps[:-1] * narrower)
    after = np.minimum(AFTER_S, SHARE_AFTER * gaps[1:] * narrower)
    edges_in = np.stack([attacks - before, attacks + after], axis=1)
    edges_out = np.stack([attacks / speed - before, attacks / speed + after], axis=1)
    whole_in = np.concatenate([[0.0], edges_in.ravel(), [duration_s]])
    whole_out = np.concatenate([[0.0], edges_out.ravel(), [duration_s / speed]])
    kept = np.concatenate([[True], (np.diff(whole_out) > 1e-9) & (np.diff(whole_in) > 1e-9)])
    return TimeMap(whole_out[kept], whole_in[kept], edges_out)


def separate(attacks_s: Sequence[float] | Times, duration_s: float) -> Times:
    """Attacks in order, inside the song, those closer than `MERGE_S` to the last kept one left out."""
    kept: list[float] = []
    for attack in sorted(float(a) for a in attacks_s):
        if 0.0 < attack < duration_s and (not kept or attack - kept[-1] > MERGE_S):
            kept.append(attack)
    return np.array(kept)
