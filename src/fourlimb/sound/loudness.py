"""How loud sound is, and keeping it where it should be.

Meter: ITU-R BS.1770-4 integrated loudness (K-weighting, 400 ms blocks, absolute and relative gates) and true peak by
fourfold oversampling. The K-weighting filters are derived again for every sample rate by the bilinear transform
(parameters of De Man, *Evaluation of implementations of the EBU R128 loudness measurement*, AES 145, 2018, from
memory): the coefficients printed in the standard hold at 48 kHz only.

Limiter: looks ahead, holds the smallest gain needed, and moves to it on a straight ramp: no sample and no point
between samples passes the ceiling. A file's loudness is not a sound level: what reaches an ear depends on the
listener's volume.
"""

from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from ..model import Audio, Samples
from .filters import convolve, running_mean, running_min

TARGET_LUFS: Final = -18.0
"""Lesson audio (judgement: headphone practice with room to turn up; audio exports elsewhere lie at -14 to -23)."""

CEILING_DBTP: Final = -2.0
"""True-peak ceiling before lossy coding, which lifts peaks by up to 1.05 dB (measured at 64-195 kbit/s)."""

BLOCK_S: Final = 0.4
STEP_S: Final = 0.1
ABSOLUTE_GATE_LUFS: Final = -70.0
RELATIVE_GATE_LU: Final = -10.0
OFFSET_DB: Final = -0.691
SURROUND_WEIGHTS: Final = (1.0, 1.0, 1.0, 1.41, 1.41)
"""Numbers of ITU-R BS.1770-4; channel order left, right, centre, left and right surround."""

OVERSAMPLING: Final = 4
REACH: Final = 16
STRETCH: Final = 4096
FAR_UNDER: Final = 0.35
"""Oversampling: factor, reach of the interpolator (samples), length of a stretch, and how far under the ceiling a
stretch may be left alone (9 dB: music's points between samples lie 0 to 3 dB over its samples)."""

LOOK_AHEAD_S: Final = 0.005
LIMITED_AT_ONCE: Final = 1 << 20
"""Samples limited in one go: bounds memory, not the result."""
SILENCE_LUFS: Final = float("-inf")


def loudness(audio: Audio) -> float:
    """Integrated loudness in LUFS; minus infinity under 0.4 s or when everything is gated away."""
    return loudness_of(step_powers(audio))


def loudness_of(powers: npt.NDArray[np.float64]) -> float:
    """The same from the power of every step (`step_powers`)."""
    blocks = _block_powers(powers)
    if not len(blocks):
        return SILENCE_LUFS
    levels = OFFSET_DB + 10 * np.log10(blocks + 1e-15)
    kept = levels > ABSOLUTE_GATE_LUFS
    if not kept.any():
        return SILENCE_LUFS
    gate = OFFSET_DB + 10 * np.log10(blocks[kept].mean()) + RELATIVE_GATE_LU
    kept &= levels > gate
    return float(OFFSET_DB + 10 * np.log10(blocks[kept].mean()))


def step_powers(audio: Audio) -> npt.NDArray[np.float64]:
    """K-weighted power of each whole 100 ms, channels summed by weight."""
    hop = round(STEP_S * audio.rate)
    steps = len(audio.samples) // hop
    response, channels = k_weighting(audio.rate), audio.samples.shape[1]
    weights = SURROUND_WEIGHTS if channels == len(SURROUND_WEIGHTS) else (1.0,) * channels
    power = np.zeros(steps)
    for channel in range(channels):
        heard = convolve(audio.samples[:, channel], response)[: steps * hop]
        power += weights[channel] * (heard**2).reshape(steps, hop).mean(axis=1)
    return power


def _block_powers(powers: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Power of each 400 ms block; none under 0.4 s."""
    span = round(BLOCK_S / STEP_S)
    sums = np.concatenate([[0.0], np.cumsum(powers)])
    return np.asarray((sums[span:] - sums[:-span]) / span)


@lru_cache(maxsize=4)
def k_weighting(rate: int) -> npt.NDArray[np.float64]:
    """Impulse response of the two filters of BS.1770 at a sample rate, as long as it can be heard in the sums.

    Both are second-order sections; the response is their product on the unit circle, transformed back (it has died
    away by e^-40 where it would wrap).
    """
    count = 1 << int(np.ceil(np.log2(0.18 * rate)))
    turn = np.exp(-2j * np.pi * np.arange(count // 2 + 1) / count)
    k = np.tan(np.pi * 1681.974450955533 / rate)
    gain, q = 10 ** (3.999843853973347 / 20), 0.7071752369554196
    middle = gain**0.4996667741545416
    over = (gain + middle * k / q + k * k) + 2 * (k * k - gain) * turn + (gain - middle * k / q + k * k) * turn**2
    shelf = over / ((1 + k / q + k * k) + 2 * (k * k - 1) * turn + (1 - k / q + k * k) * turn**2)
    k, q = np.tan(np.pi * 38.13547087602444 / rate), 0.5003270373238773
    a0 = 1 + k / q + k * k
    high_pass = (1 - turn) ** 2 / (1 + 2 * (k * k - 1) / a0 * turn + (1 - k / q + k * k) / a0 * turn**2)
    return np.asarray(np.fft.irfft(shelf * high_pass, count))


def true_peak_db(audio: Audio) -> float:
    """Highest point between samples, dB re full scale (dBTP); minus infinity for silence."""
    if not len(audio.samples):
        return float("-inf")
    peak = float(_peaks(audio.samples).max(initial=0.0))
    return 20 * float(np.log10(peak)) if peak > 0 else float("-inf")


def _peaks(samples: Samples, from_level: float = 0.0) -> npt.NDArray[np.float64]:
    """Highest oversampled magnitude near each sample, over all channels, shape (n,).

    Stretches that stay under `from_level` by far are not oversampled.
    """
    peaks = np.abs(samples).max(axis=1, initial=0.0).astype(np.float64)
    padded = np.pad(samples, ((REACH, REACH), (0, 0)))
    for start, end in _loud_stretches(peaks, from_level * FAR_UNDER):
        for channel in range(samples.shape[1]):
            piece = padded[start : end + 2 * REACH, channel].astype(np.float64)
            for taps in _between():
                fine: npt.NDArray[np.float64] = np.abs(np.convolve(piece, taps, "valid"))
                peaks[start:end] = np.maximum(peaks[start:end], fine)
    return np.asarray(peaks)


def _loud_stretches(peaks: npt.NDArray[np.float64], level: float) -> list[tuple[int, int]]:
    """Runs of `STRETCH` samples that hold something at or over a level, joined."""
    runs: list[tuple[int, int]] = []
    for start in range(0, len(peaks), STRETCH):
        end = min(start + STRETCH, len(peaks))
        if peaks[start:end].max() < level:
            continue
        if runs and runs[-1][1] == start and end - runs[-1][0] <= 64 * STRETCH:
            runs[-1] = (runs[-1][0], end)
        else:
            runs.append((start, end))
    return runs


@lru_cache(maxsize=1)
def _between() -> tuple[npt.NDArray[np.float64], ...]:
    """Interpolators for the points a quarter, a half and three quarters of a sample on (windowed sinc)."""
    at = np.arange(-REACH, REACH + 1)
    shifts = [n / OVERSAMPLING for n in range(1, OVERSAMPLING)]
    return tuple(np.asarray(np.sinc(at + shift) * np.kaiser(2 * REACH + 3, 8.0)[1:-1]) for shift in shifts)


def limit(audio: Audio, ceiling_dbtp: float = CEILING_DBTP) -> Audio:
    """The same sound with no true peak above the ceiling."""
    ceiling = 10 ** (ceiling_dbtp / 20) * 0.995
    peaks = _peaks(audio.samples, ceiling)
    if peaks.max(initial=0.0) <= ceiling:
        return audio
    limited = audio.samples.copy()
    reach = round(LOOK_AHEAD_S * audio.rate)
    for start in range(0, len(peaks), LIMITED_AT_ONCE):
        end = min(start + LIMITED_AT_ONCE, len(peaks))
        seen = slice(max(start - 2 * reach, 0), end + 2 * reach)
        needed = np.minimum(1.0, ceiling / np.maximum(peaks[seen], 1e-9))
        gain = running_mean(running_min(needed, reach), reach)[start - seen.start :][: end - start]
        limited[start:end] *= gain.astype(np.float32)[:, None]
    return Audio(limited, audio.rate)


def level_to(audio: Audio, target_lufs: float = TARGET_LUFS, ceiling_dbtp: float = CEILING_DBTP) -> Audio:
    """Brings sound to a loudness and limits its peaks.

    Too short to measure: by its peak, to the ceiling less 6 dB.
    """
    measured = loudness(audio)
    if measured == SILENCE_LUFS:
        peak = true_peak_db(audio)
        gain_db = ceiling_dbtp - 6 - peak if peak > float("-inf") else 0.0
    else:
        gain_db = target_lufs - measured
    return limit(Audio(audio.samples * np.float32(10 ** (gain_db / 20)), audio.rate), ceiling_dbtp)


def faded(audio: Audio, in_s: float = 0.05, out_s: float = 0.05) -> Audio:
    """Fades the very start and end in place of a click."""
    samples = audio.samples.copy()
    rise, fall = (min(round(s * audio.rate), len(samples)) for s in (in_s, out_s))
    samples[:rise] *= np.linspace(0, 1, rise, dtype=np.float32)[:, None]
    samples[len(samples) - fall :] *= np.linspace(1, 0, fall, dtype=np.float32)[:, None]
    return Audio(samples, audio.rate)
