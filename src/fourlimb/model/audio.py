"""Sound: decoded and held in memory, or read piece by piece because it is too long for that."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]


class Recording(Protocol):
    """Sound that is read from its start as often as wanted; every reading gives the same samples.

    `rate`: samples a second; `length`: samples in each channel; `notes`: what was odd about the file, in sentences
    for the teacher.
    """

    @property
    def rate(self) -> int:
        """Samples a second."""
        ...

    @property
    def length(self) -> int:
        """Samples in each channel."""
        ...

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        ...

    @property
    def notes(self) -> tuple[str, ...]:
        """What was odd about the file it came from ("ends early, at 1:02.0")."""
        ...

    def blocks(self, size: int) -> Iterator[Samples]:
        """All samples from the start, shape (size, channels) each, the last one shorter."""
        ...

    def peaks(self) -> Samples:
        """The loudest sample, 0 and up, of every `peak_size(rate)` samples, less what is left over at the end."""
        ...


@dataclass(frozen=True, eq=False)
class Audio:
    """Sound in memory, a `Recording`. `samples`: float32, shape (n, channels), nominally -1 to 1, finite."""

    samples: Samples
    rate: int
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.samples.ndim != 2:
            raise ValueError(f"samples must have shape (n, channels), not {self.samples.shape}")

    @property
    def length(self) -> int:
        """Samples in each channel."""
        return len(self.samples)

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate

    def mono(self) -> Samples:
        """The channels' mean, shape (n,)."""
        return mono(self.samples)

    def blocks(self, size: int) -> Iterator[Samples]:
        """All samples from the start, shape (size, channels) each, the last one shorter."""
        for start in range(0, len(self.samples), size):
            yield self.samples[start : start + size]

    def peaks(self) -> Samples:
        """The loudest sample of every hundredth of a second."""
        return peaks_of(self.blocks(PEAKS_AT_ONCE * peak_size(self.rate)), self.rate)


PEAKS_AT_ONCE = 1000


def peak_size(rate: int) -> int:
    """Samples in a hundredth of a second, whole."""
    return max(rate // 100, 1)


def peaks_of(blocks: Iterable[Samples], rate: int) -> Samples:
    """The loudest sample of every hundredth of a second. blocks: of `PEAKS_AT_ONCE` hundredths, the last shorter."""
    size = peak_size(rate)
    found = [np.zeros(0, np.float32)]
    for block in blocks:
        count = len(block) // size
        found.append(np.abs(block[: count * size]).reshape(count, size * block.shape[1]).max(axis=1))
    return np.concatenate(found)


def mono(block: Samples) -> Samples:
    """The channels' mean, shape (n,). NumPy's own is forty times slower over two numbers."""
    total = block[:, 0].copy()
    for k in range(1, block.shape[1]):
        total += block[:, k]
    return np.divide(total, block.shape[1], out=total)


def in_blocks(pieces: Iterable[Samples], size: int) -> Iterator[Samples]:
    """Pieces of any lengths as blocks of `size` samples, the last one shorter."""
    held: list[Samples] = []
    count = 0
    for piece in pieces:
        held.append(piece)
        count += len(piece)
        if count < size:
            continue
        joined = np.concatenate(held)
        whole = count // size * size
        for start in range(0, whole, size):
            yield joined[start : start + size]
        held, count = [joined[whole:]], count - whole
    if count:
        yield np.concatenate(held)
