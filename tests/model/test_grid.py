"""Seconds and exact places."""

from fractions import Fraction as F
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.model import FeelSpan, InputError
from fourlimb.model.grid import from_tempi, regular, swing_in, swing_out
from fourlimb.model.places import bar_length, beat_lengths, beat_starts

METERS = ("4/4", "3/4", "2/4", "6/8", "12/8", "5/4", "7/8")


def test_steady_time_is_arithmetic() -> None:
    grid = regular(["4/4"] * 3, 120.0, start_s=0.5)
    assert grid.time_at(1, F(0)) == pytest.approx(0.5)
    assert grid.time_at(2, F(3, 8)) == pytest.approx(2.5 + 0.75)
    assert grid.end_s == pytest.approx(6.5)
    assert grid.time_at(3, F(1)) == pytest.approx(6.5)


@given(st.lists(st.tuples(st.sampled_from(METERS), st.floats(40, 240)), min_size=1, max_size=6), st.data())
def test_a_place_and_its_seconds_are_inverse(bars: list[tuple[str, float]], data: st.DataObject) -> None:
    grid = from_tempi(bars)
    bar = data.draw(st.sampled_from(grid.numbers))
    position = F(data.draw(st.integers(0, 47)), 48) * bar_length(grid.meter(bar))
    back, place = grid.phase_at(grid.time_at(bar, position) + 1e-7)
    assert back == bar
    assert place == pytest.approx(float(position), abs=1e-4)


@given(st.floats(0, 0.999), st.floats(0.5, 0.75), st.sampled_from(["8th", "16th"]))
def test_swing_in_undoes_swing_out(share: float, swing: float, unit: Literal["8th", "16th"]) -> None:
    feel = FeelSpan(from_bar=1, to_bar=1, feel="straight", swing=swing, swing_unit=unit)
    assert swing_in(swing_out(share, feel), feel) == pytest.approx(share, abs=1e-9)


def test_a_triplet_swing_puts_the_second_eighth_on_the_last_third() -> None:
    feel = FeelSpan(from_bar=1, to_bar=1, feel="straight", swing=2 / 3)
    assert swing_out(0.5, feel) == pytest.approx(2 / 3)


@pytest.mark.parametrize("meter", METERS)
def test_beats_fill_the_bar(meter: str) -> None:
    assert sum(beat_lengths(meter)) == bar_length(meter)
    assert len(beat_starts(meter)) == len(beat_lengths(meter))


@pytest.mark.parametrize("meter", ["4", "4/3", "0/4", "99/4", "a/b", "4/4/4", ""])
def test_a_meter_that_cannot_be_is_refused(meter: str) -> None:
    with pytest.raises(InputError):
        bar_length(meter)
