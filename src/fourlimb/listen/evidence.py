"""What speaks for beats and bar lines, gathered from whoever heard it.

One `Evidence` is made from a detector's answer or from hits alone (a MIDI performance, or a lesson that the
teacher corrects when the recording is no longer at hand), so that everything after it has one input. Curves have
`FRAMES_PER_S` frames a second. Hits enter as triangles three frames wide: a kick, a snare or a crash says more
about where beats are than a hat that plays between them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from fourlimb.model import Grid, Hit, Sound

from .ears import Curve, Heard

FRAMES_PER_S: Final = 100

BEAT_WEIGHT: Final[dict[Sound, float]] = {
    "kick": 0.8, "snare": 0.8, "rim": 0.6, "clap": 0.7, "crash": 0.8, "china": 0.7, "splash": 0.6,
    "hat_open": 0.45, "hat_closed": 0.35, "hat_pedal": 0.45, "ride": 0.4, "ride_bell": 0.5,
    "tom_high": 0.35, "tom_mid": 0.35, "tom_floor": 0.4, "cowbell": 0.5, "tambourine": 0.35, "shaker": 0.15,
}  # fmt: skip
"""How much one hit speaks for a beat at its time, 0 to 1 (ours; the trained ears' own beat curve is added to it)."""

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Evidence:
    """Hits in time order, and three curves of equal length, 0 to 1, at `FRAMES_PER_S`.

    beat : how much a beat is heard at each frame, hits and detector together.
    downbeat, change : first beats of bars, and changes of harmony; zeros when nobody heard any.
    trained : True when `downbeat` comes from a detector that was trained on bar lines.
    starts_s, ends_s : where the music starts and ends inside the recording.
    chroma : which pitch classes sound (see `harmony`); empty when nobody listened.
    """

    hits: tuple[Hit, ...]
    beat: FloatArray
    downbeat: FloatArray
    change: FloatArray
    duration_s: float
    trained: bool = False
    starts_s: float = 0.0
    ends_s: float = 0.0
    chroma: FloatArray = field(default_factory=lambda: np.zeros((0, 12)))

    def near(self, curve: FloatArray, times_s: FloatArray, reach: int = 2) -> FloatArray:
        """Largest value of a curve within `reach` frames of each time."""
        at = np.rint(times_s * FRAMES_PER_S).astype(int)
        columns = [curve[np.clip(at + k, 0, len(curve) - 1)] for k in range(-reach, reach + 1)]
        highest: FloatArray = np.max(np.stack(columns), axis=0)
        return highest


def from_heard(
    heard: Heard,
    hits: tuple[Hit, ...],
    duration_s: float,
    *,
    sounding: tuple[float, float] | None = None,
    chroma: FloatArray | None = None,
) -> Evidence:
    """Evidence of a detector's curves and of its hits.

    `sounding`: seconds where the music starts and ends; `chroma`: pitch classes (see `harmony`).
    """
    count = frames(duration_s)
    beat, down = _at_rate(heard.beat, heard, count), _at_rate(heard.downbeat, heard, count)
    trained = bool(down.max(initial=0.0) > 0.05)
    drums = stroke_curve(hits, count)
    both = 0.75 * np.maximum(beat, down) + 0.25 * drums if trained else 0.35 * beat + 0.65 * drums
    starts, ends = sounding or (0.0, duration_s)
    pitches = np.zeros((0, 12)) if chroma is None else chroma
    return Evidence(
        hits, both, down, _at_rate(heard.change, heard, count), duration_s, trained, starts, ends, pitches
    )


def from_hits(hits: tuple[Hit, ...], duration_s: float, *, grid: Grid | None = None) -> Evidence:
    """Evidence of hits alone, leaning on an earlier grid's beats where there is one."""
    count = frames(duration_s)
    drums = stroke_curve(hits, count)
    zeros = np.zeros(count)
    starts, ends = (hits[0].time_s, hits[-1].time_s) if hits else (0.0, duration_s)
    if grid is None:
        return Evidence(hits, drums, zeros, zeros, duration_s, False, starts, ends)
    earlier = bumps([b.time_s for b in grid.beats], [0.2 + 0.6 * b.confidence for b in grid.beats], count)
    both = np.maximum(0.5 * drums, earlier)
    return Evidence(hits, both, zeros, zeros, duration_s, False, grid.bars[0].start_s, grid.end_s)


def frames(duration_s: float) -> int:
    """Frames of curves that cover a song."""
    return max(int(duration_s * FRAMES_PER_S) + 1, 4)


def stroke_curve(hits: Sequence[Hit], count: int) -> FloatArray:
    """How much the drums speak for a beat at each frame, 0 to 1."""
    weights = [BEAT_WEIGHT[hit.sound] * hit.confidence * loudness_share(hit.loudness_db) for hit in hits]
    return np.clip(bumps([hit.time_s for hit in hits], weights, count), 0, 1)


def loudness_share(loudness_db: float) -> float:
    """1 for the loudest strokes, falling to .3 for ghosts 24 dB below."""
    return float(min(max(1 + loudness_db / 34, 0.3), 1.0))


def bumps(times_s: Sequence[float], weights: Sequence[float], count: int) -> FloatArray:
    """A triangle of half-width 3 frames at each time, summed."""
    curve = np.zeros(count + 8)
    if len(times_s):
        exact = np.asarray(times_s) * FRAMES_PER_S
        nearest = np.clip(np.rint(exact).astype(int), 0, count - 1)
        for step in range(-2, 3):
            height = np.maximum(1 - np.abs(nearest + step - exact) / 3, 0)
            np.add.at(curve, np.maximum(nearest + step, 0), height * np.asarray(weights))
    return curve[:count]


def _at_rate(curve: Curve, heard: Heard, count: int) -> FloatArray:
    """A detector's curve at our frame rate and length."""
    if not len(curve):
        return np.zeros(count)
    at = np.arange(count) * heard.frames_per_s / FRAMES_PER_S
    return np.interp(at, np.arange(len(curve)), curve.astype(np.float64), right=0.0)
