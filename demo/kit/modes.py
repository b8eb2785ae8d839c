"""What every synthesised voice is built from: decaying modes, shaped noise, envelopes.

A struck body rings in *modes*: sinusoids that start together and die away each at its own rate. `ring` sums any
number of them as one matrix product (1800 modes of 5 s in a third of a second). All sounds are mono float64 at
`RATE`. "T60" is the time in seconds in which a level falls by 60 dB.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

Wave = npt.NDArray[np.float64]

RATE: Final = 44_100
"""Samples a second of every voice."""

DECAY_60_DB: Final = 6.907755
"""ln(1000): exp(-DECAY_60_DB) is -60 dB."""

BLOCK: Final = 64
"""Samples a row of the matrix product in `ring`: near the fastest for 10 to 2000 modes (measured)."""


def ring(hz: Wave, level: Wave, t60_s: Wave, phase: Wave, count: int) -> Wave:
    """Sum of level * sin(2 pi hz t + phase) * decay, `count` samples; the four arrays have shape (modes,)."""
    step = (-DECAY_60_DB / t60_s + 2j * np.pi * hz) / RATE
    rows = -(-count // BLOCK)
    start = (level * np.exp(1j * phase)) * np.exp(step * (np.arange(rows)[:, None] * BLOCK))
    inside = np.exp(step[:, None] * np.arange(BLOCK))
    start, inside = start.astype(np.complex64), inside.astype(np.complex64)
    summed = start.real @ inside.imag + start.imag @ inside.real
    return summed.ravel()[:count].astype(np.float64)


def seconds(count: int) -> Wave:
    """Times of `count` samples in seconds."""
    return np.arange(count) / RATE


def decay(count: int, attack_s: float, t60_s: float) -> Wave:
    """Envelope that rises within about `attack_s` and falls 60 dB in `t60_s`."""
    at = seconds(count)
    return (1 - np.exp(-at / max(attack_s, 1e-5))) * np.exp(-DECAY_60_DB * at / t60_s)


def band(wave: Wave, low_hz: float | None, high_hz: float | None, order: int = 2) -> Wave:
    """Butterworth band, high or low pass (None: no edge on that side)."""
    from scipy.signal import butter, sosfilt

    if low_hz and high_hz:
        sections = butter(order, [low_hz, high_hz], "bandpass", fs=RATE, output="sos")
    elif low_hz:
        sections = butter(order, low_hz, "highpass", fs=RATE, output="sos")
    else:
        sections = butter(order, high_hz, "lowpass", fs=RATE, output="sos")
    return np.asarray(sosfilt(sections, wave), dtype=np.float64)


def hiss(rng: np.random.Generator, count: int, low_hz: float | None, high_hz: float | None, order: int = 2) -> Wave:
    """Noise of unit RMS inside a band."""
    wave = band(rng.standard_normal(count), low_hz, high_hz, order)
    return wave / (np.sqrt(np.mean(wave**2)) + 1e-12)


def drive(wave: Wave, amount: float) -> Wave:
    """Soft saturation: unity gain for small signals, ceiling at 1 / `amount`."""
    return np.tanh(wave * amount) / amount


def edges(wave: Wave, start_s: float = 0.0005, end_s: float = 0.02) -> Wave:
    """Fades both ends so that neither clicks."""
    rise, fall = max(1, int(start_s * RATE)), min(len(wave), int(end_s * RATE))
    shaped = wave.copy()
    shaped[:rise] *= np.linspace(0.0, 1.0, rise)
    shaped[len(shaped) - fall :] *= np.linspace(1.0, 0.0, fall)
    return shaped
