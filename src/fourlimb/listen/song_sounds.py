"""Hearing again with the song as teacher.

The first pass judges every moment alone, with ears that know no song. But a song repeats itself: a hat that is faint
under
the guitars in bar 7 is clear in bar 3; a kit without a ride doesn't grow one for a single stroke; the loudest thing
that sounds like a rim tells how a rim would sound here. So every candidate stroke is judged again by

- how high its curve peaks, alone and against this sound's own peaks in this song;
- how high it peaks at the same place of other bars, of neighbouring beats and of half bars;
- how clear the clearest moments of its sound are (the class's evidence in this song), and how many there are;
- what else of its family sounds at the same moment.

Each of these can carry weight. In what ships only the height counts for every sound, and the same place in other
bars and half bars for kick, snare, cross-stick, closed hat and ride bell (weights set by hand, thresholds `keep` on
the
open recordings). A logistic regression on rendered songs (`training/calibrate.py`) that used all of them was worse on
real records (.89 against .91 at five classes), so it doesn't ship. Confidence is therefore over-sure between .5 and
.95:
docs/ears.md has the table.

Cannot: help in a song without repetition, or put right a bar line that is wrong (then repetition still shows on
beats).
"""

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS

from .features import FRAMES_PER_S
from .peaks import Peaks, all_peaks

Floats = npt.NDArray[np.float32]
Doubles = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

WEIGHTS = Path(__file__).parent / "weights" / "second.json"

FEATURES = (
    "height", "against the song", "clearest", "how many", "same place in other bars", "half bars",
    "neighbouring beats", "neighbouring halves", "rival", "neighbour sounds", "beat heard", "drums present",
)  # fmt: skip

FAMILIES = (
    ("snare", "rim", "clap"),
    ("hat_closed", "hat_open", "hat_pedal"),
    ("tom_high", "tom_mid", "tom_floor", "snare"),
    ("crash", "ride", "ride_bell", "china", "splash", "hat_open"),
    ("tambourine", "shaker", "hat_closed", "cowbell"),
)
"""Sounds that are taken for one another."""

NEAR_FRAMES = 3
CLEAREST = 8
BARS_AROUND = 12
BAR_FADE = 9.0
"""Bars this far away count 1/e."""

EVEN_BEATS_AROUND = 8
FLOOR, CEILING = 1e-3, 1 - 1e-3


class Pulse(NamedTuple):
    """Where beats fall. times_s : shape (n,), increasing; beats_per_bar : usual number."""

    times_s: Doubles
    beats_per_bar: int


class Candidates(NamedTuple):
    """Possible strokes of all sounds. All of shape (n,), except features : shape (n, len(FEATURES))."""

    sounds: Ints
    frames: Ints
    times_s: Doubles
    heights: Floats
    levels: Floats
    features: Doubles


@dataclass(frozen=True, eq=False)
class Judge:
    """Weights of the features for every sound.

    weights : (18, features); bias : (18,); centre, spread :
    (features,).
    """

    weights: Doubles
    bias: Doubles
    centre: Doubles
    spread: Doubles
    keep: Doubles

    def probability(self, found: Candidates) -> Doubles:
        """How likely each candidate is a stroke, 0 to 1."""
        x = (found.features - self.centre) / self.spread
        z = (x * self.weights[found.sounds]).sum(axis=1) + self.bias[found.sounds]
        return np.asarray(1 / (1 + np.exp(-np.clip(z, -30, 30))))


@cache
def shipped_judge() -> Judge:
    """The judge that comes with the package."""
    return read_judge(WEIGHTS.read_text())


def read_judge(text: str) -> Judge:
    """From JSON, as `training/calibrate.py` writes it."""
    stored = json.loads(text)
    if tuple(stored["features"]) != FEATURES:
        raise ValueError("second.json was fitted for other features")
    return Judge(*(np.array(stored[k], np.float64) for k in ("weights", "bias", "centre", "spread", "keep")))


def candidates(hits: Floats, levels: Floats, pulse: Floats, beats: Pulse) -> Candidates:
    """Everything that could be a stroke, with what speaks for it.

    hits, levels : shape (n, 18); pulse : shape (n, 4); beats : may be empty (then no repetition is used).
    """
    peaks = all_peaks(hits, levels)
    highest = _highest_around(hits)
    parts = [_of_one_sound(k, p, highest, pulse, beats) for k, p in enumerate(peaks)]
    sounds = np.concatenate([np.full(len(p.frames), k, np.int64) for k, p in enumerate(peaks)])
    return Candidates(
        sounds,
        np.concatenate([p.frames for p in peaks]),
        np.concatenate([p.times_s for p in peaks]),
        np.concatenate([p.heights for p in peaks]),
        np.concatenate([p.levels for p in peaks]),
        np.concatenate(parts),
    )


def _of_one_sound(sound: int, peaks: Peaks, highest: Floats, pulse: Floats, beats: Pulse) -> Doubles:
    frames, heights = peaks.frames, peaks.heights.astype(np.float64)
    if not len(frames):
        return np.zeros((0, len(FEATURES)))
    own = highest[:, sound].astype(np.float64)
    clearest = (
        float(np.sort(heights)[-CLEAREST:].mean()) if len(heights) >= CLEAREST else float(heights.sum()) / CLEAREST
    )
    minutes = max(len(highest) / FRAMES_PER_S / 60, 0.1)
    upper = heights[heights > 0.5 * clearest].mean() if len(heights) else 0.0
    same, half, beat, between = _elsewhere(peaks.times_s, own, beats)
    n = len(frames)
    return np.stack(
        [
            _logit(heights),
            _logit(np.minimum(heights / max(upper, 0.05), 1.0) * 0.9),
            np.full(n, _logit(np.array([clearest]))[0]),
            np.full(n, np.log1p((heights > 0.5).sum() / minutes)),
            _logit(same),
            _logit(half),
            _logit(beat),
            _logit(between),
            _logit(_rival(sound, frames, highest)),
            _logit(own_neighbours(frames, own)),
            _logit(pulse[frames, 0].astype(np.float64)),
            _logit(pulse[frames, 3].astype(np.float64)),
        ],
        axis=1,
    )


def own_neighbours(frames: Ints, own: Doubles) -> Doubles:
    """Height of the same sound's curve 60 to 90 ms away: a lone bump or a ripple on a plateau."""
    n = len(own)
    return np.maximum(own[np.maximum(frames - 9, 0)], own[np.minimum(frames + 9, n - 1)])


def _elsewhere(times_s: Doubles, own: Doubles, beats: Pulse) -> tuple[Doubles, Doubles, Doubles, Doubles]:
    """Mean height at the same place of other bars, half bars, neighbouring beats and half beats."""
    rest = np.full(len(times_s), float(own.mean()))
    if len(beats.times_s) < 2 * beats.beats_per_bar + 1:
        return rest, rest, rest, rest
    places = _beat_of(times_s, beats.times_s)
    m = beats.beats_per_bar
    bars = np.array([k for k in range(-BARS_AROUND, BARS_AROUND + 1) if k])
    evens = np.array([k for k in range(-EVEN_BEATS_AROUND, EVEN_BEATS_AROUND + 1, 2) if k % m])
    near = np.array([-2.0, -1.0, 1.0, 2.0])
    return (
        _mean_at(places, bars * m, np.exp(-np.abs(bars) / BAR_FADE), own, beats.times_s, rest),
        _mean_at(places, evens, np.ones(len(evens)), own, beats.times_s, rest),
        _mean_at(places, near, np.ones(4), own, beats.times_s, rest),
        _mean_at(places, near[1:3] / 2, np.ones(2), own, beats.times_s, rest),
    )


def _mean_at(
    places: Doubles, steps: npt.NDArray[np.generic], weights: Doubles, own: Doubles, times_s: Doubles, rest: Doubles
) -> Doubles:  # fmt: skip
    if not len(steps):
        return rest
    there = places[:, None] + steps[None].astype(np.float64)
    inside = (there >= 0) & (there <= len(times_s) - 1)
    frames = np.rint(np.interp(there, np.arange(len(times_s)), times_s) * FRAMES_PER_S).astype(np.int64)
    inside &= (frames >= 0) & (frames < len(own))
    weighted = weights[None] * inside
    total = weighted.sum(axis=1)
    mean = (own[np.clip(frames, 0, len(own) - 1)] * weighted).sum(axis=1) / np.maximum(total, 1e-9)
    return np.where(total > 0, mean, rest)


def _beat_of(times_s: Doubles, beats_s: Doubles) -> Doubles:
    """Place in beats, going on at the same speed before the first beat and after the last."""
    n = len(beats_s)
    inside = np.interp(times_s, beats_s, np.arange(n))
    first, last = beats_s[1] - beats_s[0], beats_s[-1] - beats_s[-2]
    before = (times_s - beats_s[0]) / first
    after = n - 1 + (times_s - beats_s[-1]) / last
    return np.where(times_s < beats_s[0], before, np.where(times_s > beats_s[-1], after, inside))


def _rival(sound: int, frames: Ints, highest: Floats) -> Doubles:
    name = SOUNDS[sound]
    others = sorted({SOUNDS.index(o) for f in FAMILIES if name in f for o in f if o != name})
    if not others:
        return np.full(len(frames), FLOOR)
    rival: Doubles = highest[frames][:, others].max(axis=1).astype(np.float64)
    return rival


def _highest_around(hits: Floats) -> Floats:
    """Each curve's maximum within `NEAR_FRAMES` frames."""
    n = len(hits)
    padded = np.pad(hits, ((NEAR_FRAMES, NEAR_FRAMES), (0, 0)))
    highest = padded[:n].copy()
    for k in range(1, 2 * NEAR_FRAMES + 1):
        np.maximum(highest, padded[k : k + n], out=highest)
    return highest


def _logit(p: Doubles) -> Doubles:
    p = np.clip(p, FLOOR, CEILING)
    return np.asarray(np.log(p / (1 - p)))
