"""Where the beats are: a bar-pointer walk through tempo and phase.

Input: `Evidence` (a beat curve, 0 to 1, 100 frames a second). Output: beat times in seconds with a confidence.

Method: the state is (beat period, place inside the beat), after Whiteley, Cemgil and Godsill 2006 in the efficient
discretisation of Krebs, Boeck and Widmer 2015 (one frame is one step, the tempo may change only on a beat). The
most likely path is found by the Viterbi algorithm. A tempo prior (log-normal, centre 112 a minute, from the same
family of models) is paid on *every* beat, so that a slow song is not doubled just because something sounds between
its beats. Afterwards each beat moves to the evidence close by and the whole is smoothed over four beats, so that a
band without a click is followed and one with a click stays straight.

What it cannot do: choose the octave of the tempo musically (see `weigh`, `other_tempo`), or follow a tempo that
changes by more than about 8 % from one beat to the next without a break.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from .evidence import FRAMES_PER_S, Evidence, FloatArray

SLOWEST_BPM: Final = 38.0
FASTEST_BPM: Final = 250.0
USUAL_BPM: Final = 112.0
USUAL_OCTAVES: Final = 0.85
"""Standard deviation of the tempo prior (in octaves)."""
PRIOR_WEIGHT: Final = 0.35
"""How much of the prior is paid on each beat (set on rendered grooves)."""
TEMPO_CHANGE: Final = 140.0
"""Exponential penalty on relative tempo change from beat to beat (100 in Krebs, Boeck and Widmer 2015)."""
BEAT_SHARE: Final = 8
"""The part of a beat (1/8) in which evidence counts as a beat (1/16 in the same paper, at another frame rate)."""
TEMPI: Final = 84


@dataclass(frozen=True, eq=False)
class Pulse:
    """Beats. `times_s`, `confidence`: shape (n,), times increasing."""

    times_s: FloatArray
    confidence: FloatArray

    @property
    def period_s(self) -> float:
        """Median distance of two beats, 0.5 when there are fewer than two."""
        return float(np.median(np.diff(self.times_s))) if len(self.times_s) > 1 else 0.5


def find_beats(evidence: Evidence, *, slowest: float = SLOWEST_BPM, fastest: float = FASTEST_BPM) -> Pulse:
    """Beats of the whole song, from its first second to its last, silent stretches bridged."""
    curve = np.clip(evidence.beat, 1e-3, 0.999)
    frames = _walk(curve, _periods(slowest, fastest))
    if len(frames) < 2:
        return Pulse(np.zeros(0), np.zeros(0))
    times = _settle(frames, evidence.beat)
    return Pulse(times, confidence(times, evidence))


def steady(duration_s: float, bpm: float = 120.0, start_s: float = 0.0) -> Pulse:
    """Even beats with confidence 0: what is given when no beat can be found."""
    times = np.arange(start_s, max(duration_s, start_s + 240.0 / bpm), 60.0 / bpm)
    return Pulse(times, np.zeros(len(times)))


def confidence(times_s: FloatArray, evidence: Evidence) -> FloatArray:
    """How far each beat can be trusted, 0 to 1: evidence on it and on its neighbours, against that between beats."""
    if len(times_s) < 2:
        return np.zeros(len(times_s))
    on = evidence.near(evidence.beat, times_s, reach=3)
    between = _mean_between(times_s, evidence.beat)
    around = np.convolve(np.pad(on, 4, mode="edge"), np.ones(9) / 9, mode="valid")
    contrast = around / (around + 2.0 * between + 0.05)
    return np.clip(0.35 * np.minimum(on / 0.5, 1) + 0.65 * contrast, 0, 1) * _steadiness(times_s)


def _mean_between(times_s: FloatArray, curve: FloatArray) -> FloatArray:
    total = np.concatenate([[0.0], np.cumsum(curve)])
    edges = np.clip(np.rint(times_s * FRAMES_PER_S).astype(int), 0, len(curve) - 1)
    means = np.diff(total[edges]) / np.maximum(np.diff(edges), 1)
    return np.append(means, means[-1])


def _steadiness(times_s: FloatArray) -> FloatArray:
    """1 where neighbouring beats are evenly spaced, towards 0 where they jump by a tenth."""
    gaps = np.diff(times_s)
    change = np.abs(np.diff(np.log(gaps))) if len(gaps) > 1 else np.zeros(1)
    change = np.concatenate([[change[0]], change, [change[-1]]])[: len(times_s)]
    return np.exp(-np.minimum(change / 0.1, 4.0))


def _periods(slowest: float, fastest: float) -> npt.NDArray[np.int64]:
    """Beat periods in frames, about evenly spaced in log tempo."""
    bpm = np.geomspace(slowest, fastest, TEMPI)
    return np.unique(np.rint(60 * FRAMES_PER_S / bpm).astype(np.int64))


def _walk(curve: FloatArray, periods: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Viterbi over (period, phase). Returns the frames at which the path enters a beat."""
    count, kinds = len(curve), len(periods)
    first = np.concatenate([[0], np.cumsum(periods)[:-1]])
    last = first + periods - 1
    kind = np.repeat(np.arange(kinds), periods)
    phase = np.concatenate([np.arange(p) for p in periods]) / periods[kind]
    in_beat = np.flatnonzero(phase < 1 / BEAT_SHARE)
    on, off = np.log(curve), np.log((1 - curve) / (BEAT_SHARE - 1))
    change = -TEMPO_CHANGE * np.abs(periods[None, :] / periods[:, None] - 1)
    change -= np.log(np.exp(change).sum(axis=1, keepdims=True))
    usual = -0.5 * (np.log2(60 * FRAMES_PER_S / periods / USUAL_BPM) / USUAL_OCTAVES) ** 2
    change += PRIOR_WEIGHT * usual[None, :]
    score = 4 * usual[kind] - np.log(periods)[kind]
    came_from = np.empty((count, kinds), np.int16)
    columns = np.arange(kinds)
    shifted = np.empty_like(score)
    for frame in range(count):
        entry = score[last][:, None] + change
        best = entry.argmax(axis=0)
        came_from[frame] = best
        shifted[1:] = score[:-1]
        shifted[first] = entry[best, columns]
        shifted += off[frame]
        shifted[in_beat] += on[frame] - off[frame]
        score, shifted = shifted, score
        if frame % 4096 == 0:
            score -= score.max()
    return _trace(int(score.argmax()), came_from, first, last, kind)


def _trace(
    state: int,
    came_from: npt.NDArray[np.int16],
    first: npt.NDArray[np.int64],
    last: npt.NDArray[np.int64],
    kind: npt.NDArray[np.int64],
) -> npt.NDArray[np.int64]:
    """Frames at which the best path stands at the start of a beat, in order; a whole beat is stepped over at once."""
    beats = []
    frame = len(came_from) - 1
    while frame >= 0:
        tempo = int(kind[state])
        frame -= state - int(first[tempo])
        if frame < 0:
            break
        beats.append(frame)
        state = int(last[came_from[frame, tempo]])
        frame -= 1
    return np.array(beats[::-1], dtype=np.int64)


def _settle(frames: npt.NDArray[np.int64], curve: FloatArray) -> FloatArray:
    """Moves each beat to the evidence's centre within +-5 frames, then smooths what is left of the jitter."""
    times = frames.astype(np.float64)
    gaps = np.gradient(times) if len(times) > 2 else np.full(len(times), 50.0)
    weight = np.full(len(times), 1e-3)
    for index, frame in enumerate(frames):
        reach = int(min(5, gaps[index] / 6))
        low, high = max(frame - reach, 0), min(frame + reach + 6, len(curve))
        piece = curve[low:high]
        total = float(piece.sum())
        if total > 0.05:
            peak = low + int(piece.argmax())
            near = np.arange(max(peak - 2, 0), min(peak + 3, len(curve)))
            mass = curve[near]
            times[index] = float((near * mass).sum() / max(mass.sum(), 1e-9))
            weight[index] = float(mass.max())
    return smooth(times, weight) / FRAMES_PER_S


def smooth(times: FloatArray, weight: FloatArray, stiffness: float = 1.0) -> FloatArray:
    """Least squares: stay near `times` by `weight`, keep neighbouring gaps alike (second differences small).

    A penalised spline (Whittaker 1923) with a pentadiagonal system, solved by banded elimination.
    """
    count = len(times)
    if count < 4:
        return times
    base = float(np.median(weight))
    w = weight / max(base, 1e-6) + 1e-4
    return _solve_banded(w, w * times, stiffness * 4.0)


def _solve_banded(diagonal: FloatArray, right: FloatArray, stiffness: float) -> FloatArray:
    """Solves (diag + stiffness * D'D) x = right with D the second difference, by LDL' of its five bands."""
    n = len(diagonal)
    a = diagonal + stiffness * np.array([1.0, 5.0] + [6.0] * (n - 4) + [5.0, 1.0])
    b = stiffness * np.array([-2.0] + [-4.0] * (n - 3) + [-2.0])
    c = np.full(n - 2, stiffness)
    d, e, f, z = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    for i in range(n):
        up1 = e[i - 1] if i else 0.0
        up2 = f[i - 2] if i > 1 else 0.0
        d1 = d[i - 1] if i else 0.0
        d2 = d[i - 2] if i > 1 else 0.0
        d[i] = a[i] - up1 * up1 * d1 - up2 * up2 * d2
        if i < n - 1:
            e[i] = (b[i] - (f[i - 1] * e[i - 1] * d1 if i else 0.0)) / d[i]
        if i < n - 2:
            f[i] = c[i] / d[i]
        z[i] = right[i] - (up1 * z[i - 1] if i else 0.0) - (up2 * z[i - 2] if i > 1 else 0.0)
    x = z / d
    for i in range(n - 2, -1, -1):
        x[i] -= e[i] * x[i + 1] + (f[i] * x[i + 2] if i < n - 2 else 0.0)
    return x
