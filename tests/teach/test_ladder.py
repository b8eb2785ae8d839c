"""The practice ladder and the count-in."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.model import InputError
from fourlimb.teach.ladder import LADDER, count_in_bars, count_in_words, ladder

SHAPES = ("steady", "zigzag", "alternating")


@given(st.floats(1, 400), st.sampled_from(SHAPES))
def test_a_ladder_reaches_the_goal_and_goes_a_little_over(tempo: float, shape: str) -> None:
    rungs = [rung.bpm for rung in ladder(tempo, shape=shape)]
    goal = max(round(tempo), 1)
    assert goal in rungs
    assert rungs[0] <= goal <= max(rungs) <= round(goal * LADDER.over_share)
    assert min(rungs) >= 1


@given(st.floats(1, 400))
def test_a_steady_ladder_only_climbs(tempo: float) -> None:
    rungs = [rung.bpm for rung in ladder(tempo)]
    assert rungs == sorted(set(rungs))


def test_the_usual_ladder() -> None:
    assert [rung.bpm for rung in ladder(100)] == [60, 65, 70, 75, 80, 85, 90, 95, 100, 105]


def test_a_zigzag_goes_up_eight_and_down_four() -> None:
    assert [rung.bpm for rung in ladder(100, shape="zigzag")][:5] == [60, 68, 64, 72, 68]


def test_an_alternating_ladder_has_bursts_at_the_goal() -> None:
    assert [rung.bpm for rung in ladder(100, shape="alternating")][:4] == [60, 100, 65, 100]


def test_a_known_start_overrules_the_table() -> None:
    assert ladder(100, from_bpm=82)[0].bpm == 82
    assert ladder(100, from_bpm=300)[0].bpm == 100


@pytest.mark.parametrize("tempo", [0.0, -3.0, float("nan"), float("inf")])
def test_a_tempo_that_cannot_be_has_no_ladder(tempo: float) -> None:
    with pytest.raises(InputError):
        ladder(tempo)


def test_one_bar_is_counted_in_above_ninety_and_two_below() -> None:
    assert (count_in_bars("4/4", 90.0), count_in_bars("4/4", 89.0)) == (1, 2)
    assert count_in_bars("6/8", 120.0) == 2
    assert count_in_words("4/4", 120.0) == ("1 2 3 4",)
    assert count_in_words("4/4", 70.0) == ("1 - 2 -", "1 2 3 4")
    assert count_in_words("3/4", 60.0) == ("1 2 3", "1 2 3")


def test_the_last_numbers_are_not_spoken_over_a_pickup() -> None:
    assert count_in_words("4/4", 120.0, pickup=F(1, 4)) == ("1 2 3 (4)",)
    assert count_in_words("4/4", 120.0, pickup=F(3, 8)) == ("1 2 3 (4)",)


def test_slow_six_eight_is_counted_in_six_and_fast_in_two() -> None:
    assert count_in_words("6/8", 50.0)[-1] == "1 2 3 4 5 6"
    assert count_in_words("6/8", 90.0) == ("1 2", "1 2")
