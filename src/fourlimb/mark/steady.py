"""The take's own steady time: when each written time would have come, had the player kept time.

A locally weighted line through the strokes that were played, robust against single early or late ones (Cleveland,
*Robust locally weighted regression and smoothing scatterplots*, JASA 74 (1979) 829-836): tricube weights over some
bars to each side, bisquare weights against outliers. Wide enough that a rushed fill stands out, narrow enough that a
tempo that drifts over a song is the player's tempo and no mistake.
"""

from typing import Final, NamedTuple

import numpy as np

from .written import Floats

REACH_BEATS: Final = 16.0
"""Half width of the window, felt beats: four bars of 4/4 to each side (ours)."""

ROUNDS: Final = 3
"""Rounds of robust weighting (Cleveland: two or three are enough)."""

SPREAD_LEAST_S: Final = 0.004
"""Spread of timing below which nothing is an outlier; players are not steadier (ours)."""


class Steady(NamedTuple):
    """Steady time as a broken line: written seconds -> take seconds, knots increasing in both."""

    written_s: Floats
    take_s: Floats

    def at(self, written_s: Floats) -> Floats:
        """Take seconds of written times; beyond the knots the outer lines run on."""
        return _through(written_s, self.written_s, self.take_s)

    def written_at(self, take_s: Floats) -> Floats:
        """Written seconds of take times."""
        return _through(take_s, self.take_s, self.written_s)

    def ratio(self) -> float:
        """Mean tempo as a share of the song's."""
        return float((self.written_s[-1] - self.written_s[0]) / (self.take_s[-1] - self.take_s[0]))


def keep_time(written_s: Floats, take_s: Floats, ratio: float, beat_s: float) -> Steady:
    """Steady time through pairs of written and take seconds, shape (n,), n >= 1, in order of written time.

    `ratio`: the take's tempo as a share of the song's, used where pairs are too few; `beat_s`: a written beat.
    """
    reach = REACH_BEATS * beat_s
    low, high = float(written_s[0]), float(written_s[-1])
    knots = np.linspace(low, max(high, low + beat_s), max(int((high - low) / (2 * beat_s)), 1) + 1)
    trust = np.ones(len(written_s))
    for _ in range(ROUNDS):
        line = np.array([_local(knot, written_s, take_s, trust, reach, ratio) for knot in knots])
        line = np.maximum.accumulate(line + 1e-6 * np.arange(len(line)))
        rest = np.abs(take_s - _through(written_s, knots, line))
        spread = 6 * max(float(np.median(rest)), SPREAD_LEAST_S)
        trust = np.where(rest < spread, (1 - (rest / spread) ** 2) ** 2, 0.0)
    return Steady(knots, line)


def _local(at: float, x: Floats, y: Floats, trust: Floats, reach: float, ratio: float) -> float:
    """Value at `at` of the weighted line; with too little to go by, the given tempo through the weighted mean."""
    near = np.abs(x - at) / reach
    if float(near.min()) >= 0.75:
        near = near / (2 * float(near.min()))
    w = np.where(near < 1, (1 - np.minimum(near, 1.0) ** 3) ** 3, 0.0) * trust
    if w.sum() <= 1e-9:
        w = np.where(near < 1, 1.0, 0.0) + 1e-9
    mean_x, mean_y = float(np.average(x, weights=w)), float(np.average(y, weights=w))
    spread = float(np.average((x - mean_x) ** 2, weights=w))
    slope = float(np.average((x - mean_x) * (y - mean_y), weights=w)) / spread if spread > 1e-3 else 1 / ratio
    if not 0.8 / ratio < slope < 1.25 / ratio:
        slope = 1 / ratio
    return mean_y + slope * (at - mean_x)


def _through(x: Floats, knots: Floats, values: Floats) -> Floats:
    """Piecewise linear, the first and last pieces running on."""
    inside = np.interp(x, knots, values)
    first = (values[1] - values[0]) / (knots[1] - knots[0])
    last = (values[-1] - values[-2]) / (knots[-1] - knots[-2])
    inside = np.where(x < knots[0], values[0] + first * (x - knots[0]), inside)
    return np.where(x > knots[-1], values[-1] + last * (x - knots[-1]), inside)
