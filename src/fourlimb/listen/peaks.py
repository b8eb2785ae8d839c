"""From the network's curves to strokes: where each curve peaks, how high, how loud.

A peak is a frame that is higher than `REACH` frames on either side (the first of equals). Its place between frames
is the
top of a parabola through the logarithms of the three highest values, which is exact for the bell-shaped targets the
network was trained on. Strokes of one sound 30 ms apart and more stay two strokes, so flams stay flams.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS

from .features import FRAMES_PER_S

Floats = npt.NDArray[np.float32]
Doubles = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

REACH = 2
LEAST = 0.03
"""Peaks lower than this are never anything (they number some ten thousand in a song)."""


class Peaks(NamedTuple):
    """Peaks of one curve. frames : integer places; times_s : refined; heights : 0 to 1; levels : 0 to 1."""

    frames: Ints
    times_s: Doubles
    heights: Floats
    levels: Floats


def find_peaks(curve: Floats, levels: Floats, least: float = LEAST) -> Peaks:
    """Peaks of one sound's curve, in time order. curve, levels : shape (n,)."""
    n = len(curve)
    padded = np.pad(curve, REACH, constant_values=-1.0)
    around = np.stack([padded[k : k + n] for k in range(2 * REACH + 1)])
    before, after = around[:REACH], around[REACH + 1 :]
    top = (curve > before.max(axis=0)) & (curve >= after.max(axis=0)) & (curve > least)
    frames = np.flatnonzero(top)
    places = (frames + _between(curve, frames)) / FRAMES_PER_S
    return Peaks(frames, np.maximum(places, 0.0), curve[frames], levels[frames])


def all_peaks(hits: Floats, levels: Floats, least: float = LEAST) -> list[Peaks]:
    """Peaks of every sound, in the order of `SOUNDS`. hits, levels : shape (n, 18)."""
    return [find_peaks(hits[:, k], levels[:, k], least) for k in range(len(SOUNDS))]


def _between(curve: Floats, frames: Ints) -> Doubles:
    """How far the true top lies from a frame, -0.5 to 0.5 frames."""
    logs = np.log(np.maximum(curve.astype(np.float64), 1e-6))
    left = logs[np.maximum(frames - 1, 0)]
    right = logs[np.minimum(frames + 1, len(curve) - 1)]
    bend = 2 * logs[frames] - left - right
    shift = (right - left) / np.maximum(2 * bend, 1e-9)
    return np.asarray(np.clip(shift, -0.5, 0.5))
