import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.model import Audio
from fourlimb.sound.filters import convolve, running_mean, running_min
from fourlimb.sound.loudness import faded, level_to, limit, loudness, true_peak_db


def noise(seconds: float, level: float = 0.1, rate: int = 44100) -> Audio:
    return Audio(
        (np.random.default_rng(1).standard_normal((int(seconds * rate), 2)) * level).astype(np.float32), rate
    )


@given(st.integers(0, 2**31), st.floats(0.2, 20.0), st.integers(1, 20000))
@settings(max_examples=25, deadline=None)
def test_nothing_passes_the_limiter(seed: int, gain: float, count: int) -> None:
    rng = np.random.default_rng(seed)
    spikes = rng.standard_normal((count, 2)) * (rng.random((count, 1)) < 0.02) * gain
    out = limit(Audio(spikes.astype(np.float32), 44100), -2.0)
    assert out.samples.shape == spikes.shape
    assert true_peak_db(out) <= -2.0 + 0.3  # held over the gain's own ramp, which bends waveforms between samples
    assert np.abs(out.samples).max(initial=0) <= 10 ** (-2 / 20) + 1e-6


def test_quiet_sound_passes_the_limiter_untouched() -> None:
    sound = noise(0.5, 0.05)
    assert limit(sound) is sound


def test_level_to_reaches_the_loudness() -> None:
    assert loudness(level_to(noise(3), -23.0)) == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize("count", [0, 1, 100, 4000])
def test_too_short_or_silent_sound_has_no_loudness_and_no_error(count: int) -> None:
    nothing = Audio(np.zeros((count, 2), dtype=np.float32), 44100)
    assert loudness(nothing) == float("-inf")
    assert true_peak_db(nothing) == float("-inf")
    assert np.isfinite(level_to(nothing).samples).all()


def test_fades_reach_zero_and_leave_the_middle() -> None:
    sound = Audio(np.ones((44100, 1), dtype=np.float32), 44100)
    out = faded(sound).samples[:, 0]
    assert out[0] == 0
    assert out[-1] == 0
    assert (out[3000:40000] == 1).all()


@pytest.mark.parametrize("taps", [1, 7, 5000])
def test_block_convolution_equals_the_direct_sum(taps: int) -> None:
    rng = np.random.default_rng(2)
    x, h = rng.standard_normal(200_000), rng.standard_normal(taps)
    np.testing.assert_allclose(convolve(x, h)[:3000], np.convolve(x[:3000], h)[:3000], atol=1e-8)
    np.testing.assert_allclose(convolve(x, h)[-100:], np.convolve(x[-taps - 100 :], h)[taps : taps + 100], atol=1e-8)


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=40), st.integers(0, 12))
@settings(max_examples=60, deadline=None)
def test_running_minimum_and_mean_equal_the_slow_way(values: list[float], reach: int) -> None:
    x = np.array(values)
    padded = np.pad(x, reach, mode="edge")
    windows = [padded[i : i + 2 * reach + 1] for i in range(len(x))]
    np.testing.assert_allclose(running_min(x, reach), [w.min() for w in windows])
    np.testing.assert_allclose(running_mean(x, reach), [w.mean() for w in windows], atol=1e-9)
