"""Convolution by matrix products is convolution, and what windows share is the same whoever computes it."""

import numpy as np
import pytest

from fourlimb.listen.convolve import FRAMES_AT_ONCE, convolve, framed, inside
from fourlimb.listen.network import STEP_FRAMES, WINDOW_FRAMES, front_after, shipped


def plainly(x: np.ndarray, weight: np.ndarray, bias: np.ndarray) -> np.ndarray:
    """By the definition, in double precision."""
    frames, bands, channels = x.shape
    padded = np.pad(x.astype(np.float64), ((1, 1), (1, 1), (0, 0)))
    taps = weight.astype(np.float64).reshape(3, 3, channels, -1)
    total = sum(padded[t : t + frames, f : f + bands] @ taps[t, f] for t in range(3) for f in range(3))
    return np.maximum(total + bias, 0)


@pytest.mark.parametrize("frames", [2, FRAMES_AT_ONCE, FRAMES_AT_ONCE + 2])
@pytest.mark.parametrize("bands", [20, 80])
@pytest.mark.parametrize("channels", [2, 24])
def test_it_is_convolution(frames: int, bands: int, channels: int) -> None:
    rng = np.random.default_rng(frames + bands + channels)
    x = rng.normal(0, 1, (frames, bands, channels)).astype(np.float32)
    weight = rng.normal(0, 0.2, (9 * channels, 10)).astype(np.float32)
    bias = rng.normal(0, 0.2, 10).astype(np.float32)
    picture = framed(frames, bands, channels)
    inside(picture, bands)[:] = x
    wanted = plainly(x, weight, bias)
    assert np.abs(inside(convolve(picture, bands, weight, bias), bands) - wanted).max() < 2e-5
    halved = inside(convolve(picture, bands, weight, bias, halved=True), bands // 2)
    assert np.abs(halved - np.maximum(wanted[:, 0::2], wanted[:, 1::2])).max() < 2e-5


def test_nothing_is_left_in_the_frame() -> None:
    picture = framed(6, 20, 3)
    inside(picture, 20)[:] = 1.0
    out = convolve(picture, 20, np.ones((27, 4), np.float32), np.ones(4, np.float32))
    inside(out, 20)[:] = 0.0
    assert not out.any()


def test_what_two_windows_share_is_computed_once_and_the_same() -> None:
    rng = np.random.default_rng(0)
    pictures = rng.uniform(-1, 1, (STEP_FRAMES + WINDOW_FRAMES, 2, 80)).astype(np.float32)
    network = shipped()
    first = network.front(pictures[:WINDOW_FRAMES])
    whole = network.front(pictures[STEP_FRAMES:])
    assert np.abs(front_after(network, pictures[STEP_FRAMES:], first) - whole).max() < 1e-5
