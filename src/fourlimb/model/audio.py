"""Decoded sound in memory."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Audio:
    """Sound. `samples`: float32, shape (n, channels), nominally -1 to 1, finite; `rate`: samples a second.

    `notes`: what was odd about the file it came from, in sentences for the teacher ("ends early, at 1:02.0").
    """

    samples: Samples
    rate: int
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.samples.ndim != 2:
            raise ValueError(f"samples must have shape (n, channels), not {self.samples.shape}")

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate

    def mono(self) -> Samples:
        """The channels' mean, shape (n,)."""
        mean: Samples = self.samples.mean(axis=1, dtype=np.float32)
        return mean
