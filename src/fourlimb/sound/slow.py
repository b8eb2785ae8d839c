"""A recording slower (or a little faster) at the same pitch, with its attacks whole.

In: decoded sound, a speed, the times of everything struck. Out: sound. Made for drums: what is heard at an attack
is the recording itself, unstretched, on the very sample; only what lies between attacks is drawn out (Ottosen &
Dörfler, *A phase vocoder based on nonstationary Gabor frames*, IEEE/ACM TASLP 2017, from memory, for slope one
through attacks). Two bands: below 600 Hz long windows for clean bass, above it short ones. Feed it doubtful hits
too: a zone where nothing was struck does no harm, an attack without a zone is smeared as by any such program.

Works through the song in blocks: besides the sound going in and coming out it needs some tens of megabytes.
It cannot do: very slow speeds without an audible grain in held chords, separate treatment of voices.
"""

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from ..model import Audio, InputError, Progress, Samples, silent
from .timemap import TimeMap, time_map
from .vocoder import Fetch, Pieces, Vocoder

Tell = Callable[[float], None]

SLOWEST: Final = 0.25
FASTEST: Final = 1.25
"""Speeds: outside these the result is not worth hearing."""

CROSSING_HZ: Final = 600.0
LOW_SIZE: Final = 4096
HIGH_SIZE: Final = 2048
"""Where the bands meet and their windows, samples at 44.1 kHz (measured best of a few tried); other rates: scaled."""

SPLIT_TAPS: Final = 2049
SPLIT_REACH_HZ: Final = 250.0
"""Length of the linear-phase filter that splits the bands, and how far from the crossing it still lets through."""

BLOCK_FRAMES: Final = 256
STAGE: Final = "slowing the recording"


def slow(audio: Audio, speed: float, attacks_s: Sequence[float], progress: Progress = silent) -> Audio:
    """The same recording at `speed` (0.25 to 1.25), of length n / speed; attack t is heard at t / speed.

    Raises InputError on a speed that cannot be or attacks that are not numbers.
    """
    if not SLOWEST <= speed <= FASTEST:
        raise InputError(f"speed {speed:g} cannot be made from the recording: use {SLOWEST:g} to {FASTEST:g}")
    if not np.isfinite(np.asarray(attacks_s, dtype=np.float64)).all():
        raise InputError("a hit's time is not a number: run the analysis again")
    count = round(len(audio.samples) / speed)
    if speed == 1.0 or count == 0:
        return audio
    mapped = time_map(attacks_s, audio.duration_s, speed)
    scale = 1 << max(0, round(np.log2(audio.rate / 44_100)))
    out = np.zeros((count, audio.samples.shape[1]), dtype=np.float32)
    for number, size in enumerate((LOW_SIZE * scale, HIGH_SIZE * scale)):
        _add_band(out, audio, mapped, size, number == 0, _half(progress, number))
    return Audio(out, audio.rate)


def _half(progress: Progress, number: int) -> Tell:
    return lambda share: progress(STAGE, (number + share) / 2)


def _add_band(out: Samples, audio: Audio, mapped: TimeMap, size: int, low: bool, tell: Tell) -> None:
    """Stretches one band and adds it to `out`."""
    hop, rate = size // 4, audio.rate
    vocoder = Vocoder(_band(audio, low), size, _bins(size, rate, low))
    frames = np.arange(-3, len(out) // hop + 4)
    centres = np.round(mapped.heard(frames * hop / rate) * rate).astype(np.int64)
    loose = _zone_starts(mapped, frames * hop / rate)
    for start in range(0, len(frames), BLOCK_FRAMES):
        block = slice(start, start + BLOCK_FRAMES)
        made = vocoder.block(centres[block], loose[block])
        at = int(frames[start]) * hop - size // 2
        first, end = max(at, 0), min(at + made.shape[1], len(out))
        if end > first:
            out[first:end] += made[:, first - at : end - at].T
        tell(min(1.0, (start + BLOCK_FRAMES) / len(frames)))


def _zone_starts(mapped: TimeMap, frame_s: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    """True for the first frame centred inside each zone."""
    starts = np.zeros(len(frame_s), dtype=np.bool_)
    first = np.searchsorted(frame_s, mapped.zones[:, 0] - 1e-9)
    inside = (first < len(frame_s)) & (frame_s[np.minimum(first, len(frame_s) - 1)] <= mapped.zones[:, 1])
    starts[first[inside]] = True
    return starts


def _bins(size: int, rate: int, low: bool) -> tuple[int, int]:
    edge = (CROSSING_HZ + SPLIT_REACH_HZ) if low else max(0.0, CROSSING_HZ - SPLIT_REACH_HZ)
    bin_ = round(edge / rate * size)
    return (0, bin_ + 1) if low else (bin_, size // 2 + 1)


def _band(audio: Audio, low: bool) -> Fetch:
    """Reads one band of the recording piece by piece: the low one filtered, the high one what is left."""
    taps = _low_pass(audio.rate)
    reach = len(taps) // 2
    samples = audio.samples.T

    def fetch(first: int, end: int) -> Pieces:
        wide = _cut(samples, first - reach, end + reach)
        size = 1 << int(np.ceil(np.log2(wide.shape[1])))
        spectrum = np.fft.rfft(wide, size, axis=1) * np.fft.rfft(taps, size)
        below = np.fft.irfft(spectrum, size, axis=1)[:, 2 * reach : wide.shape[1]].astype(np.float32)
        return below if low else wide[:, reach : wide.shape[1] - reach] - below

    return fetch


def _cut(samples: Samples, first: int, end: int) -> Pieces:
    """Samples first to end of shape (channels, n), zeros outside."""
    inside = samples[:, max(first, 0) : max(end, 0)]
    left = min(max(-first, 0), end - first)
    right = max(0, end - first - left - inside.shape[1])
    return np.pad(inside, ((0, 0), (left, right)))


def _low_pass(rate: int) -> npt.NDArray[np.float64]:
    """Linear-phase low pass at the crossing, Blackman window, unity at 0 Hz."""
    count = (round(SPLIT_TAPS * rate / 44_100) // 2) * 2 + 1
    at = np.arange(count) - count // 2
    taps = np.sinc(2 * CROSSING_HZ / rate * at) * np.blackman(count)
    return np.asarray(taps / taps.sum())
