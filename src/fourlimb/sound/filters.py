"""Filters in plain numpy: convolution in blocks, running minimum and mean. All act along the first axis."""

import numpy as np
import numpy.typing as npt

Real = npt.NDArray[np.float64]

BLOCK = 1 << 16
"""Samples a block of fast convolution: bounds memory whatever the length."""


def convolve(samples: npt.NDArray[np.floating], response: npt.NDArray[np.floating]) -> Real:
    """Causal convolution of shape (n,) with (m,), cut to n samples (overlap-add)."""
    taps = len(response)
    size = 1 << int(np.ceil(np.log2(BLOCK + taps)))
    step = size - taps + 1
    spectrum = np.fft.rfft(response, size)
    out = np.zeros(len(samples) + size)
    for start in range(0, len(samples), step):
        piece = np.fft.irfft(np.fft.rfft(samples[start : start + step], size) * spectrum, size)
        out[start : start + size] += piece
    return np.asarray(out[: len(samples)])


def running_min(values: Real, reach: int) -> Real:
    """Smallest value within `reach` samples on either side."""
    width = 2 * reach + 1
    smallest = np.pad(values, reach, mode="edge")
    covered = 1
    while covered < width:
        shift = min(covered, width - covered)
        smallest = np.minimum(smallest[:-shift], smallest[shift:])
        covered += shift
    return smallest


def running_mean(values: Real, reach: int) -> Real:
    """Mean of the values within `reach` samples on either side."""
    width = 2 * reach + 1
    sums = np.cumsum(np.pad(values, (reach + 1, reach), mode="edge"))
    return np.asarray((sums[width:] - sums[:-width]) / width)
