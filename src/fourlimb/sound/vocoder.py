"""Phase vocoder for one band, in blocks, with its phases locked to peaks and let go at attacks.

Output frames stand at a fixed hop; each is a windowed piece of the recording from where the time map says, its
spectrum turned so that it fits the frame before. How far a peak must turn is measured on the recording itself: the
phase it gained over exactly one hop. All bins round a peak turn together (identity phase locking: Laroche & Dolson,
IEEE TSAP 7(3) 1999), all channels turn alike, which keeps the stereo image. At the start of a zone round an attack
the turn is set to zero (Röbel, DAFx 2003); as time runs at slope one there, it stays zero, and the attack comes out
sample for sample.

The turn is kept as a unit complex number; channels are weighed by their energy in the cross spectrum.
"""

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

Spectra = npt.NDArray[np.complex64]
Pieces = npt.NDArray[np.float32]

Fetch = Callable[[int, int], Pieces]
"""(first sample, end) -> the band's samples, shape (channels, end - first), zeros outside the recording."""

OVERLAP: Final = 4
"""Frames over each sample: Hann windows at analysis and at synthesis then add up to 1.5 exactly."""

WINDOW_SUM: Final = 1.5


class Vocoder:
    """One band of one recording. `size`: samples of a window; `bins`: (first, end) bins that hold the band."""

    def __init__(self, fetch: Fetch, size: int, bins: tuple[int, int]) -> None:
        self.fetch, self.size, self.bins = fetch, size, slice(*bins)
        self.hop = size // OVERLAP
        window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size) / size)
        self.window = window.astype(np.float32)
        self.turn: npt.NDArray[np.complex64] | None = None
        self.last: Spectra | None = None

    def block(self, centres: npt.NDArray[np.int64], loose: npt.NDArray[np.bool_]) -> Pieces:
        """Frames centred on these samples of the recording, overlap-added.

        `loose`: frames where the turn starts anew. Returns shape (channels, (frames + 3) * hop); the first frame
        starts at 0.
        """
        now, before = self._spectra(centres), self._spectra(centres - self.hop)
        turns = self._turns(now, before, loose)
        turned = np.zeros((now.shape[0], now.shape[1], self.size // 2 + 1), dtype=np.complex64)
        turned[:, :, self.bins] = now * turns
        frames = np.fft.irfft(turned, self.size, axis=-1).astype(np.float32) * (self.window / WINDOW_SUM)
        return self._added(frames)

    def _spectra(self, centres: npt.NDArray[np.int64]) -> Spectra:
        """Shape (channels, frames, bins of the band)."""
        first, end = int(centres.min()) - self.size // 2, int(centres.max()) + self.size // 2
        samples = self.fetch(first, end)
        windows = np.lib.stride_tricks.sliding_window_view(samples, self.size, axis=-1)
        pieces = windows[:, centres - self.size // 2 - first] * self.window
        return np.fft.rfft(pieces, axis=-1)[:, :, self.bins].astype(np.complex64)

    def _turns(self, now: Spectra, before: Spectra, loose: npt.NDArray[np.bool_]) -> Spectra:
        """Unit rotations of every frame and bin, shape (frames, bins)."""
        heights = np.abs(now).sum(axis=0)
        peaks = _is_peak(heights)
        previous = np.concatenate([now[:, :1] if self.last is None else self.last, now[:, :-1]], axis=1)
        gained = (previous * np.conj(before)).sum(axis=0)
        size = np.abs(gained)
        gained = np.where(size > 0, gained / np.maximum(size, 1e-30), 1).astype(np.complex64)
        turns = np.empty(heights.shape, dtype=np.complex64)
        turn = self.turn
        for frame in range(len(heights)):
            if turn is None or loose[frame]:
                turn = np.ones(heights.shape[1], dtype=np.complex64)
            else:
                turn = (turn * gained[frame])[_nearest(np.flatnonzero(peaks[frame]), heights.shape[1])]
            turns[frame] = turn
        turns /= np.maximum(np.abs(turns), 1e-30)
        self.turn, self.last = turns[-1], now[:, -1:]
        return turns

    def _added(self, frames: Pieces) -> Pieces:
        channels, count, _ = frames.shape
        parts = frames.reshape(channels, count, OVERLAP, self.hop)
        out = np.zeros((channels, count + OVERLAP - 1, self.hop), dtype=np.float32)
        for part in range(OVERLAP):
            out[:, part : part + count] += parts[:, :, part]
        return out.reshape(channels, -1)


def _is_peak(heights: npt.NDArray[np.float32]) -> npt.NDArray[np.bool_]:
    """Bins higher than two neighbours on either side."""
    peaks = np.zeros(heights.shape, dtype=np.bool_)
    middle = heights[:, 2:-2]
    peaks[:, 2:-2] = (middle > heights[:, 1:-3]) & (middle >= heights[:, 3:-1])
    peaks[:, 2:-2] &= (middle > heights[:, :-4]) & (middle >= heights[:, 4:])
    return peaks


def _nearest(peaks: npt.NDArray[np.intp], bins: int) -> npt.NDArray[np.intp]:
    """For every bin the index of the nearest peak (itself, when there is none)."""
    if not len(peaks):
        return np.arange(bins)
    middles = (peaks[1:] + peaks[:-1] + 1) // 2
    return np.repeat(peaks, np.diff(np.concatenate([[0], middles, [bins]])))
