"""Pictures of sound that the network looks at: two log-mel spectrograms, one sharp in time, one in pitch.

Conventions. Sound is mono at `RATE_HZ`; a picture has 100 frames a second and 80 bands from 35 Hz to 15.5 kHz, on
a scale that is linear below 300 Hz and logarithmic above (the shape of the mel scale of O'Shaughnessy 1987 with its
corner moved from 700 Hz, so that kick and toms get more bands). Levels are `0.5 log10(magnitude + 1e-5) + 1.5`;
silence is `SILENCE`. Before that, the song is brought to one loudness: the level that its 100 ms blocks stay under
95 % of the time becomes -20 dB. So a recording 30 dB softer gives the same picture.

Cannot: hear above 16 kHz, or tell left from right.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fourlimb.model import Recording
from fourlimb.model.audio import mono

RATE_HZ = 32000
FRAMES_PER_S = 100
HOP = RATE_HZ // FRAMES_PER_S
WINDOWS = (1024, 4096)
BANDS = 80
SHADES = 16
LOW_HZ, HIGH_HZ = 35.0, 15500.0
SILENCE = -1.0

REFERENCE_RMS = 0.1
LOUD_QUANTILE = 0.95
BLOCK_S = 0.1
QUIETEST_RMS = 1e-5
"""A song softer than this (-100 dB) is silence; it isn't turned up."""

FRAMES_AT_ONCE = 160
"""Frames are always computed in the same groups, so that no block size changes a bit of the result."""
SPECTRA_AT_ONCE = 40
"""As many as stay in the processor's nearer caches; it takes half the time of all at once."""

Floats = npt.NDArray[np.float32]


def pictures(audio: Recording, speed: float = 1.0, gain: float | None = None) -> Iterator[Floats]:
    """Pictures of a whole recording, piece by piece: shape (n, 2, 80) each, n up to `FRAMES_AT_ONCE`.

    speed : how fast it is played, .92 lower and slower. gain : its loudness, measured when not given.
    Only a few seconds of sound are held at a time. The pieces' lengths add up to `count_frames(audio, speed)`.
    """
    level = np.float32(song_gains(audio, (speed,))[0] if gain is None else gain)
    reach = max(WINDOWS) // 2
    held = np.zeros(reach, np.float32)
    left = count_frames(audio, speed)
    for sound in _at_rate(audio, rate_at(audio, speed), reach + FRAMES_AT_ONCE * HOP):
        held = np.concatenate([held, sound * level])
        while left > 0 and len(held) >= FRAMES_AT_ONCE * HOP + 2 * reach:
            n = min(left, FRAMES_AT_ONCE)
            yield log_mel(held[: FRAMES_AT_ONCE * HOP + 2 * reach])[:n]
            held = held[FRAMES_AT_ONCE * HOP :]
            left -= n


def rate_at(audio: Recording, speed: float) -> int:
    """Samples a second of a recording played at another speed."""
    return max(1, round(audio.rate * speed))


def count_frames(audio: Recording, speed: float = 1.0) -> int:
    """How many frames a recording has: one for each whole hop."""
    return audio.length * FRAMES_PER_S // rate_at(audio, speed)


def shades(picture: Floats) -> Floats:
    """The sharp picture in `SHADES` wide bands, shape (n, SHADES)."""
    wide: Floats = picture[:, 0].reshape(len(picture), SHADES, -1).mean(axis=2)
    return wide


def song_gain(audio: Recording) -> float:
    """Factor that brings a recording to the reference loudness (1 for silence)."""
    return song_gains(audio, (1.0,))[0]


def song_gains(audio: Recording, speeds: Sequence[float]) -> list[float]:
    """The factor at each speed, from one reading of the recording."""
    sizes = [max(1, round(BLOCK_S * rate_at(audio, speed))) for speed in speeds]
    levels: list[list[npt.NDArray[np.float64]]] = [[] for _ in sizes]
    held = [np.zeros(0) for _ in sizes]
    for block in audio.blocks(10 * audio.rate):
        mixed = mono(block).astype(np.float64)
        for k, size in enumerate(sizes):
            sound = np.concatenate([held[k], mixed])
            whole = sound[: len(sound) // size * size].reshape(-1, size)
            levels[k].append(np.sqrt(np.mean(whole * whole, axis=1)))
            held[k] = sound[whole.size :]
    return [_gain(np.concatenate(found or [np.zeros(0)])) for found in levels]


def _gain(rms: npt.NDArray[np.float64]) -> float:
    loud = float(np.quantile(rms, LOUD_QUANTILE)) if len(rms) else 0.0
    return REFERENCE_RMS / loud if loud > QUIETEST_RMS else 1.0


def log_mel(sound: Floats) -> Floats:
    """Pictures of `FRAMES_AT_ONCE` frames, shape (frames, 2, 80).

    sound : levelled, at `RATE_HZ`, from half the longest window before the first frame to as far after the last.
    """
    reach = max(WINDOWS) // 2
    n = (len(sound) - 2 * reach) // HOP
    out = np.empty((n, len(WINDOWS), BANDS), np.float32)
    for k, window in enumerate(WINDOWS):
        analysis = _analysis(window)
        start = reach - window // 2
        frames = np.lib.stride_tricks.sliding_window_view(sound[start:], window)[: n * HOP : HOP]
        for at in range(0, n, SPECTRA_AT_ONCE):
            spectra = np.abs(np.fft.rfft(frames[at : at + SPECTRA_AT_ONCE] * analysis.window, axis=1))
            out[at : at + SPECTRA_AT_ONCE, k] = spectra @ analysis.bank
    levels: Floats = np.log10(out + np.float32(1e-5)) * np.float32(0.5) + np.float32(1.5)
    return levels


@dataclass(frozen=True, eq=False)
class _Analysis:
    window: Floats
    bank: Floats


_KNOWN: dict[int, _Analysis] = {}


def _analysis(window: int) -> _Analysis:
    if window not in _KNOWN:
        hann = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(window) / window)).astype(np.float32)
        _KNOWN[window] = _Analysis(hann, filterbank(window) * np.float32(2 / hann.sum()))
    return _KNOWN[window]


def filterbank(window: int) -> Floats:
    """Triangles over the bins of a window, shape (window // 2 + 1, BANDS).

    Each is at least two bins wide and divided by the root of its area, so that noise gives a flat picture.
    """
    edges = 300 * (10 ** (np.linspace(_scale(LOW_HZ), _scale(HIGH_HZ), BANDS + 2) / 2595) - 1)
    bin_hz = RATE_HZ / window
    hz = np.arange(window // 2 + 1) * bin_hz
    bank = np.zeros((len(hz), BANDS), np.float32)
    for m in range(BANDS):
        low, centre, high = edges[m : m + 3]
        if high - low < 2 * bin_hz:
            low, high = centre - bin_hz, centre + bin_hz
        bank[:, m] = np.clip(np.minimum((hz - low) / (centre - low), (high - hz) / (high - centre)), 0, None)
    area = np.maximum(bank.sum(axis=0, keepdims=True), 1e-6)
    return np.asarray(bank / np.sqrt(area), np.float32)


def _scale(hz: float) -> float:
    return float(2595 * np.log10(1 + hz / 300))


def _at_rate(audio: Recording, rate: int, trailing: int) -> Iterator[Floats]:
    """Mono sound of `rate` samples a second at `RATE_HZ`, in pieces of ten seconds, then silence."""
    import soxr

    stream = soxr.ResampleStream(rate, RATE_HZ, 1, dtype="float32")
    left = audio.length
    for block in audio.blocks(10 * rate):
        mixed = mono(block)
        left -= len(block)
        yield mixed if rate == RATE_HZ else np.asarray(stream.resample_chunk(mixed, last=left <= 0), np.float32)
    yield np.zeros(trailing + FRAMES_AT_ONCE * HOP + max(WINDOWS), np.float32)
