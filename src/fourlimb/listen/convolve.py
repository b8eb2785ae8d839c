"""Convolutions of 3 frames by 3 bands, with numpy's matrix product alone.

A picture lies framed: shape (frames + 2, width, channels), zeros round `bands` bands, width the next multiple of
three. Of such an array every third place with its two neighbours is already a matrix, so nothing is copied to
convolve over bands.

Method over frames: two at once by four products instead of six, F(2, 3) of Winograd (1980; Lavin and Gray 2016). It
rounds a little differently from plain sums: by some 1e-6 of values near 1.
"""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]

FRAMES_AT_ONCE = 32
"""Keeps what is worked on in the processor's nearer caches; even."""


def framed(frames: int, bands: int, channels: int) -> Floats:
    """Room for a picture."""
    return np.zeros((frames + 2, -(-(bands + 2) // 3) * 3, channels), np.float32)


def inside(picture: Floats, bands: int) -> Floats:
    """The picture without its frame, shape (frames, bands, channels)."""
    return picture[1:-1, 1 : bands + 1]


def convolve(picture: Floats, bands: int, weight: Floats, bias: Floats, *, halved: bool = False) -> Floats:
    """The framed picture after convolution and ReLU; `halved`: the higher of every two bands.

    picture : framed, frames even; weight : (9 channels, out), order frame, band, channel.
    """
    frames, width, channels = len(picture) - 2, picture.shape[1], picture.shape[2]
    kernels = _kernels(weight.reshape(3, 3 * channels, -1))
    left = bands // 2 if halved else bands
    out = framed(frames, left, kernels.shape[2])
    mixed = np.zeros((4, FRAMES_AT_ONCE // 2 * width + 3, channels), np.float32)
    parts = np.empty((4, FRAMES_AT_ONCE // 2 * width // 3, 3, kernels.shape[2]), np.float32)
    for start in range(0, frames, FRAMES_AT_ONCE):
        half = min(FRAMES_AT_ONCE, frames - start) // 2
        _mix([picture[start + k : start + k + 2 * half : 2] for k in range(4)], mixed)
        _multiply(mixed, kernels, parts[:, : half * width // 3])
        first, second = _unmix(parts[:, : half * width // 3].reshape(4, half, width, -1)[:, :, :bands])
        into = inside(out, left)[start : start + 2 * half]
        for side, y in enumerate((first, second)):
            into[side::2] = np.maximum(y[:, 0::2], y[:, 1::2]) if halved else y
        into += bias
        np.maximum(into, 0, out=into)
    return out


def _kernels(taps: Floats) -> Floats:
    """Three frames' taps as the four of F(2, 3)."""
    a, b, c = taps
    return np.stack([a, (a + b + c) * np.float32(0.5), (a - b + c) * np.float32(0.5), c])


def _mix(frames: list[Floats], into: Floats) -> None:
    a, b, c, d = frames
    w, x, y, z = (part[: a.shape[0] * a.shape[1]].reshape(a.shape) for part in into)
    np.subtract(a, c, out=w)
    np.add(b, c, out=x)
    np.subtract(c, b, out=y)
    np.subtract(b, d, out=z)


def _multiply(mixed: Floats, kernels: Floats, out: Floats) -> None:
    """Every place and its two neighbours to the right, by the kernels. out : shape (4, places // 3, 3, channels)."""
    n, wide = out.shape[1], kernels.shape[1]
    for k in range(4):
        for shift in range(3):
            np.matmul(mixed[k, shift : shift + 3 * n].reshape(n, wide), kernels[k], out=out[k, :, shift])


def _unmix(parts: Floats) -> tuple[Floats, Floats]:
    """Every first and every second frame, in the room of the parts."""
    w, x, y, z = parts
    w += x
    w += y
    x -= y
    x -= z
    return w, x
