"""Where a song's own peaks part into strokes and rest."""

import numpy as np
import pytest

from fourlimb.listen.own_split import own_split

RNG = np.random.default_rng(3)


def peaks(strokes: float, rest: float, count: int = 120) -> np.ndarray:
    """Log-odds of as many strokes as bumps that are none, about these places."""
    return np.concatenate([RNG.normal(strokes, 0.6, count), RNG.normal(rest, 0.6, count)])


def test_a_sound_that_is_faint_all_through_parts_lower_than_a_clear_one() -> None:
    faint, clear = own_split(peaks(0.0, -4.0)), own_split(peaks(4.0, -1.0))
    assert faint < -1.0 < 0.5 < clear


def test_the_split_lies_between_the_two_heaps() -> None:
    for strokes, rest in ((3.0, -3.0), (1.0, -4.0), (5.0, 0.0)):
        assert rest < own_split(peaks(strokes, rest)) < strokes


def test_a_handful_of_peaks_hardly_moves_the_usual_split() -> None:
    usual = own_split(np.zeros(0))
    assert own_split(np.array([-0.5, 0.0])) == pytest.approx(usual, abs=0.7)
    assert own_split(np.full(3, -9.0)) == usual


@pytest.mark.parametrize("odds", [np.full(50, 9.2), np.full(50, -5.9), np.zeros(4000)])
def test_peaks_all_alike_give_a_number(odds: np.ndarray) -> None:
    assert np.isfinite(own_split(odds))
