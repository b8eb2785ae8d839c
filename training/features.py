"""Log-mel pictures of a batch of clips (PyTorch).

The numpy twin is `fourlimb.listen.features`; a test holds them equal.
"""

import numpy as np
import numpy.typing as npt
import torch

from training.material import RATE_HZ

HOP = 320
WINDOWS = (1024, 4096)
BANDS = 80
LOW_HZ, HIGH_HZ = 35.0, 15500.0
REFERENCE_RMS = 0.1
LOUD_QUANTILE = 0.95
RMS_SAMPLES = 3200
FLOOR = 1e-5


def filterbank(window: int) -> npt.NDArray[np.float32]:
    """Triangles, shape (window // 2 + 1, BANDS), on a scale linear below 300 Hz and logarithmic above.

    Each is at least two bins wide and divided by the root of its area, so that noise gives a flat picture.
    """
    edges = 300 * (10 ** (np.linspace(_scale(LOW_HZ), _scale(HIGH_HZ), BANDS + 2) / 2595) - 1)
    width = RATE_HZ / window
    hz = np.arange(window // 2 + 1) * width
    bank = np.zeros((len(hz), BANDS), np.float32)
    for m in range(BANDS):
        low, centre, high = edges[m : m + 3]
        if high - low < 2 * width:
            low, high = centre - width, centre + width
        bank[:, m] = np.clip(np.minimum((hz - low) / (centre - low), (high - hz) / (high - centre)), 0, None)
    root: npt.NDArray[np.float32] = bank / np.sqrt(np.maximum(bank.sum(0, keepdims=True), 1e-6))
    return root


def _scale(hz: float) -> float:
    return float(2595 * np.log10(1 + hz / 300))


class LogMel(torch.nn.Module):
    """Sound, shape (batch, samples) at 32 kHz, to pictures, shape (batch, 2, frames, 80)."""

    def __init__(self) -> None:
        super().__init__()
        for n in WINDOWS:
            self.register_buffer(f"window{n}", torch.hann_window(n))
            self.register_buffer(f"bank{n}", torch.tensor(filterbank(n)))

    def forward(self, sound: torch.Tensor, gain: torch.Tensor | None = None) -> torch.Tensor:
        """Level each clip to the same loudness, then to `gain` (shape (batch,), linear) times that."""
        frames = sound.shape[1] // HOP
        blocks = sound[:, : frames * HOP].reshape(sound.shape[0], -1, RMS_SAMPLES).square().mean(2).sqrt()
        loud = torch.quantile(blocks, LOUD_QUANTILE, dim=1, keepdim=True).clamp_min(1e-5)
        sound = sound * (REFERENCE_RMS / loud)
        if gain is not None:
            sound = sound * gain[:, None]
        return torch.stack([self._picture(sound, n, frames) for n in WINDOWS], 1)

    def short(self, *sounds: torch.Tensor) -> list[torch.Tensor]:
        """Short-window pictures as the sounds are, one gain for all; shape (batch, frames, 80) each."""
        loud = torch.stack([s.square().mean(1).sqrt() for s in sounds]).amax(0).clamp_min(1e-5)[:, None]
        return [self._picture(s * (REFERENCE_RMS / loud), WINDOWS[0], s.shape[1] // HOP) for s in sounds]

    def _picture(self, sound: torch.Tensor, n: int, frames: int) -> torch.Tensor:
        window = self.get_buffer(f"window{n}")
        bins = torch.stft(sound, n, HOP, n, window, center=True, pad_mode="constant", return_complex=True)
        magnitude = bins[:, :, :frames].abs() * (2 / window.sum())
        return torch.log10(magnitude.transpose(1, 2) @ self.get_buffer(f"bank{n}") + FLOOR) * 0.5 + 1.5
