"""The band behind the drums.

bass, organ, guitar, a sung line, the ferry's horn. All synthesised, mono or stereo float64.

Additive and subtractive synthesis and plucked strings (Karplus & Strong, 1983: a delay line with a two-point
average).
"""

import numpy as np
import numpy.typing as npt

Wave = npt.NDArray[np.float64]
RATE = 44_100


def pitch(key: float) -> float:
    """MIDI key -> Hz."""
    return float(440.0 * 2 ** ((key - 69) / 12))


def shape(count: int, attack_s: float, release_s: float, fall_s: float | None = None) -> Wave:
    """Envelope: rise, optional exponential fall, release at the end."""
    at = np.arange(count) / RATE
    env = np.minimum(1, at / attack_s)
    if fall_s:
        env = env * np.exp(-at / fall_s)
    left = (count - np.arange(count)) / RATE
    return np.asarray(env * np.clip(left / release_s, 0, 1))


def lowpass(wave: Wave, hz: float, order: int = 2) -> Wave:
    """Butterworth low pass."""
    from scipy.signal import butter, sosfilt

    return np.asarray(sosfilt(butter(order, hz, fs=RATE, output="sos"), wave, axis=0))


def highpass(wave: Wave, hz: float) -> Wave:
    """Butterworth high pass."""
    from scipy.signal import butter, sosfilt

    return np.asarray(sosfilt(butter(2, hz, "highpass", fs=RATE, output="sos"), wave, axis=0))


def bass(key: float, length_s: float, velocity: float) -> Wave:
    """Picked electric bass: harmonics that die away faster the higher they are, a touch of drive."""
    count = int(length_s * RATE)
    at = np.arange(count) / RATE
    wave = np.zeros(count)
    for n in range(1, 14):
        hz = pitch(key) * n * (1 + 0.00012 * n * n)
        wave += (
            np.sin(2 * np.pi * hz * at + n) / n**1.15 * abs(np.sin(n * np.pi * 0.16)) * np.exp(-at * (0.9 + n * 0.9))
        )
    return np.tanh(wave * 1.6 * velocity) * shape(count, 0.004, 0.025)


def organ(keys: tuple[int, ...], length_s: float) -> Wave:
    """Drawbar organ through a slow rotor, stereo."""
    count = int(length_s * RATE)
    at = np.arange(count) / RATE
    wave = np.zeros(count)
    for key in keys:
        for ratio, level in ((0.5, 0.5), (1, 1.0), (1.5, 0.35), (2, 0.45), (3, 0.22), (4, 0.16)):
            wave += level * np.sin(2 * np.pi * pitch(key) * ratio * at + key * ratio)
    turn = 2 * np.pi * 0.85 * at
    both = np.stack([wave * (1 + 0.18 * np.sin(turn)), wave * (1 - 0.18 * np.sin(turn))], axis=1)
    return np.asarray(lowpass(np.tanh(both * 0.16), 3200) * shape(count, 0.06, 0.09)[:, None])


def pluck(key: float, length_s: float, seed: int, dull: float = 0.5, ring_s: float = 1.6) -> Wave:
    """A plucked string. `dull` 0 bright to 1 muted."""
    from scipy.signal import lfilter

    count, period = int(length_s * RATE), int(RATE / pitch(key))
    rng = np.random.default_rng(seed)
    burst = lowpass(rng.uniform(-1, 1, period), 9000 * (1 - dull) + 1200)
    driven = np.zeros(count)
    driven[:period] = burst[: min(period, count)]
    keep = 10 ** (-3 * period / RATE / ring_s)
    loop = np.zeros(period + 2)
    loop[0], loop[period], loop[period + 1] = 1.0, -keep * (0.5 + 0.4 * (1 - dull)), -keep * (0.5 - 0.4 * (1 - dull))
    return np.asarray(lfilter([1.0], loop, driven)) * shape(count, 0.001, 0.03)


def amp(wave: Wave, gain: float) -> Wave:
    """Valve-like drive and a loudspeaker's band."""
    return lowpass(highpass(np.tanh(wave * gain) * 0.5, 110), 4300, 3)


FORMANTS = ((700.0, 130.0, 1.0), (1150.0, 150.0, 0.6), (2700.0, 220.0, 0.32), (3500.0, 300.0, 0.2))
"""Centre, width (Hz), level of an "ah" (rounded from phonetics tables, from memory)."""


def voice(keys: list[tuple[float, float, float]], count: int, seed: int = 3) -> Wave:
    """A sung line as one continuous voice. `keys`: (start s, length s, MIDI key), in order, not overlapping."""
    at = np.arange(count) / RATE
    tone, level = np.full(count, keys[0][2] if keys else 60.0), np.zeros(count)
    for start, length, key in keys:
        a, b = int(start * RATE), min(count, int((start + length) * RATE))
        tone[a:] = key
        inside = np.arange(b - a) / RATE
        held = np.minimum(1, inside / 0.045) * np.clip((length - inside) / 0.07, 0, 1)
        vibrato = 0.22 * np.clip((inside - 0.22) / 0.3, 0, 1) * np.sin(2 * np.pi * 5.4 * inside)
        tone[a:b] += vibrato - 0.7 * np.exp(-inside / 0.03)
        level[a:b] = np.maximum(level[a:b], held)
    smooth = int(0.012 * RATE)
    tone = np.convolve(np.pad(tone, smooth, mode="edge"), np.ones(smooth) / smooth, "same")[smooth:-smooth]
    hz = 440.0 * 2 ** ((tone - 69) / 12)
    turns = 2 * np.pi * np.cumsum(hz) / RATE
    wave = np.zeros(count)
    for n in range(1, 16):
        colour = 0.05 + sum(g / (1 + ((n * hz - f) / w) ** 2) for f, w, g in FORMANTS)
        wave += np.sin(n * turns) * colour / n**0.55
    breath = highpass(np.random.default_rng(seed).standard_normal(count), 3000) * 0.012
    return np.asarray((wave * 0.35 + breath) * level * (0.92 + 0.08 * np.sin(2 * np.pi * 0.31 * at)))


def horn(length_s: float) -> Wave:
    """The ferry's horn: two low reeds, a slow start, the harbour behind it."""
    count = int(length_s * RATE)
    at = np.arange(count) / RATE
    wave = np.zeros(count)
    for key, level in ((38, 1.0), (45, 0.6), (50.08, 0.3)):
        hz = pitch(key) * (1 - 0.02 * np.exp(-at / 0.12))
        turns = 2 * np.pi * np.cumsum(hz) / RATE
        for n in range(1, 18):
            wave += level * np.sin(n * turns + n * n) / n**0.9
    return lowpass(wave, 900) * shape(count, 0.16, 0.35) * 0.4
