"""Which pitch classes sound when: chords change at bar lines more often than inside bars.

Input: decoded sound. Output: chroma, shape (frames, 12), `CHROMA_FRAMES_PER_S` frames a second, each row of length 1
(zeros where nothing pitched sounds).

Method: magnitudes of short spectra between 55 and 1,700 Hz, what stands out over its neighbours (drums are broad and
fall away), loudness bent by a logarithm, folded onto twelve classes (Fujishima 1999). A song is worked
through in parts, so that memory does not grow with its length.

What it cannot do: tell chords by name, or hear harmony in drums alone; then the rows are noise.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from fourlimb.model import Recording
from fourlimb.model.audio import Samples

from .evidence import FloatArray

RATE: Final = 11_025
WINDOW: Final = 4096
HOP: Final = 551
CHROMA_FRAMES_PER_S: Final = RATE / HOP
LOWEST_HZ, HIGHEST_HZ = 55.0, 1700.0
NEIGHBOURS: Final = 12
"""Bins on each side whose mean a pitch must stand out over."""
QUIETEST: Final = 1e-6
PART_S: Final = 20.0
"""So much is worked on at a time."""


def chroma(audio: Recording) -> FloatArray:
    """Pitch classes of a whole recording."""
    fold, low, high = _fold()
    window = np.hanning(WINDOW).astype(np.float32)
    rows = [np.zeros((0, 12))]
    for frames, loud in _frames(audio):
        size = np.abs(np.fft.rfft(frames * window, axis=1))[:, low:high]
        bent = np.log1p(size / (max(loud, QUIETEST) * WINDOW / 64))
        rows.append(np.maximum(bent - _around(bent), 0) @ fold)
    found = np.concatenate(rows)
    length = np.linalg.norm(found, axis=1, keepdims=True)
    unit: FloatArray = np.where(length > 1e-3, found / np.maximum(length, 1e-9), 0.0)
    return unit


def _frames(audio: Recording) -> Iterator[tuple[Samples, float]]:
    """Frames centred on every `HOP`th sample, many at a time, and how loud (RMS) that part of the sound is."""
    import soxr

    stream = soxr.ResampleStream(audio.rate, RATE, 1, dtype="float32")
    half = np.zeros(WINDOW // 2, dtype=np.float32)
    held, loud = half, 0.0
    for block in audio.blocks(int(PART_S * audio.rate)):
        part = block.mean(axis=1, dtype=np.float32)
        loud = float(np.sqrt((part**2).mean())) if len(part) else 0.0
        held = np.concatenate([held, stream.resample_chunk(part)])
        count = (len(held) - WINDOW) // HOP + 1
        if count > 0:
            yield np.lib.stride_tricks.sliding_window_view(held, WINDOW)[::HOP][:count], loud
            held = held[count * HOP :]
    held = np.concatenate([held, stream.resample_chunk(half[:0], last=True), half])
    if len(held) >= WINDOW:
        yield np.lib.stride_tricks.sliding_window_view(held, WINDOW)[::HOP], loud


def _around(rows: FloatArray) -> FloatArray:
    """Mean of the neighbours of each bin."""
    total = np.cumsum(np.pad(rows, ((0, 0), (NEIGHBOURS + 1, NEIGHBOURS)), mode="edge"), axis=1)
    width = 2 * NEIGHBOURS + 1
    mean: FloatArray = (total[:, width:] - total[:, :-width]) / width
    return mean


def _fold() -> tuple[FloatArray, int, int]:
    """How much each bin counts for each pitch class, and the bins that are used."""
    hertz = np.fft.rfftfreq(WINDOW, 1 / RATE)
    low, high = int(np.searchsorted(hertz, LOWEST_HZ)), int(np.searchsorted(hertz, HIGHEST_HZ))
    pitch = 12 * np.log2(hertz[low:high] / 440.0)
    away = (pitch[:, None] - np.arange(12) + 6) % 12 - 6
    weight: FloatArray = np.exp(-0.5 * (away / 0.35) ** 2)
    return weight, low, high
