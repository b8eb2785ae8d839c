"""How well a slower recording keeps its attacks and its tone. Used by the tests and by `bench/sound.py`.

All compare a sound with its slower copy at known attack times. The envelope is the RMS over 1 ms above 200 Hz.

    rise    10-90 % rise time of an attack, slower over original (1: as it was)
    time    distance of the half-height point from where it should be, ms
    pre     change of the energy 30 to 4 ms before the attack against 15 ms after it, dB
    shape   correlation of the envelopes from 15 ms before to 20 ms after
    tone    spectral convergence: distance of 4096-point magnitudes at mapped times, relative (0: the same)
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Wave = npt.NDArray[np.float64]
STEP = 11
"""Samples between envelope values (0.25 ms at 44.1 kHz)."""


@dataclass(frozen=True)
class Attacks:
    count: int
    rise: float
    rise_90: float
    time_ms_95: float
    pre_db_90: float
    shape: float


def attacks(original: Wave, slower: Wave, speed: float, times_s: list[float], rate: int = 44_100) -> Attacks:
    """The measures over all attacks that stand out of what is before them."""
    before, after = envelope(original, rate), envelope(slower, rate)
    rises, lates, pres, shapes = [], [], [], []
    for time in times_s:
        was = _attack(before, time, rate)
        here, there = (_cut(e, t, 0.015, 0.02, rate) for e, t in ((before, time), (after, time / speed)))
        if was is None or here is None or there is None:
            continue
        shapes.append(float(np.corrcoef(here, there)[0, 1]))
        now = _attack(after, time / speed, rate)
        if now is None:  # lost
            rises.append(8.0)
            lates.append(20.0)
            continue
        rises.append(now[0] / was[0])
        lates.append(now[1] - was[1])
        pres.append(now[2] - was[2])
    late = np.array(lates)
    return Attacks(
        len(rises),
        float(np.median(rises)),
        float(np.percentile(rises, 90)),
        float(np.percentile(np.abs(late - np.median(late)), 95)),
        float(np.percentile(pres, 90)) if pres else 99.0,
        float(np.median(shapes)),
    )


def tone(original: Wave, slower: Wave, speed: float) -> float:
    """Spectral convergence over the whole sound."""
    size = 4096
    at = np.arange(size, len(original) - size, 1024)
    to = np.round(at / speed).astype(int)
    kept = to + size < len(slower)
    window, inside = np.hanning(size), np.arange(size) - size // 2
    a, b = (np.abs(np.fft.rfft(x[t[kept, None] + inside] * window)) for x, t in ((original, at), (slower, to)))
    return float(np.linalg.norm(a - b) / np.linalg.norm(a))


def envelope(wave: Wave, rate: int) -> Wave:
    from scipy.ndimage import uniform_filter1d
    from scipy.signal import butter, sosfiltfilt

    high = sosfiltfilt(butter(4, 200, "highpass", fs=rate, output="sos"), wave)
    return np.asarray(np.sqrt(uniform_filter1d(high * high, rate // 1000) + 1e-14)[::STEP])


def _cut(env: Wave, time_s: float, before_s: float, after_s: float, rate: int) -> Wave | None:
    per_s = rate / STEP
    start = round((time_s - before_s) * per_s)
    end = start + int((before_s + after_s) * per_s)
    return env[start:end] if start >= 0 and end <= len(env) else None


def _attack(env: Wave, time_s: float, rate: int) -> tuple[float, float, float] | None:
    """Rise time (ms), half-height point after the attack (ms), energy before over after (dB); None when masked."""
    piece = _cut(env, time_s, 0.04, 0.03, rate)
    if piece is None:
        return None
    per_ms = rate / STEP / 1000
    middle, search = int(40 * per_ms), int(25 * per_ms)
    top = search + int(np.argmax(piece[search:]))
    base = float(np.median(piece[: int(15 * per_ms)]))
    height = float(piece[top]) - base
    if height < 1.5 * base:
        return None
    high = _last_below(piece, top, base + 0.9 * height)
    low = _last_below(piece, high, base + 0.1 * height)
    half = _last_below(piece, top, base + 0.5 * height)
    quiet = float((piece[int(10 * per_ms) : int(36 * per_ms)] ** 2).mean())
    loud = float((piece[middle : middle + int(15 * per_ms)] ** 2).mean())
    return (high - low + 1) / per_ms, (half - middle) / per_ms, 10 * float(np.log10(quiet / loud + 1e-12))


def _last_below(piece: Wave, start: int, level: float) -> int:
    while start > 0 and piece[start] > level:
        start -= 1
    return start
