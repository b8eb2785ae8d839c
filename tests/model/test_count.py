"""Counting as text, both ways."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.model import CorrectionError
from fourlimb.model.count import read_line, read_place, say_line, say_place, speak_at, speak_place
from fourlimb.model.grid import regular
from fourlimb.model.places import bar_length

METERS = ("4/4", "3/4", "2/4", "6/8", "12/8", "5/4", "7/8", "9/8", "2/2")


@given(st.sampled_from(METERS), st.integers(0, 10_000), st.sampled_from([16, 12, 24, 32, 20]))
def test_a_place_said_is_the_place_read(meter: str, n: int, parts: int) -> None:
    position = F(n, parts) % bar_length(meter)
    assert read_place(meter, say_place(meter, position)) == position


@pytest.mark.parametrize(
    ("meter", "text", "position"),
    [
        ("4/4", "1", F(0)),
        ("4/4", "2&", F(3, 8)),
        ("4/4", "4a", F(15, 16)),
        ("4/4", "3trip", F(1, 2) + F(1, 12)),
        ("6/8", "2&", F(1, 2)),
        ("7/8", "3a", F(3, 4)),
        ("4/4", "2+1/8", F(1, 4) + F(1, 32)),
    ],
)
def test_places_are_counted_as_drummers_do(meter: str, text: str, position: F) -> None:
    assert read_place(meter, text) == position


@pytest.mark.parametrize(
    ("meter", "position", "said"),
    [
        ("4/4", F(15, 32), "the 32nd after 2a"),
        ("4/4", F(3, 8), "2&"),
        ("4/4", F(1, 24), "the triplet 16th after 1"),
        ("6/8", F(3, 16), "the 16th after 1&"),
        ("2/2", F(1, 16), "the 16th after 1"),
        ("4/4", F(1, 64), "1+1/16"),
    ],
)
def test_what_lies_between_counted_places_is_told_by_note_value(meter: str, position: F, said: str) -> None:
    assert speak_place(meter, position) == said
    assert read_line(meter, f"snare {said}") == ("snare", (position,))


@given(st.sampled_from(METERS), st.integers(0, 10_000), st.sampled_from([16, 12, 24, 32, 20]))
def test_a_place_told_is_the_place_read(meter: str, n: int, parts: int) -> None:
    position = F(n, parts) % bar_length(meter)
    assert read_line(meter, f"kick {speak_place(meter, position)}") == ("kick", (position,))


def test_a_note_after_the_last_place_is_not_in_the_bar() -> None:
    with pytest.raises(CorrectionError, match="past the end"):
        read_line("4/4", "kick 8th after 4&")


def test_a_line_of_quick_entry() -> None:
    assert read_line("4/4", "kick 1 2& 3") == ("kick", (F(0), F(3, 8), F(1, 2)))
    assert read_line("4/4", "hat every 8th") == ("hat_closed", tuple(F(n, 8) for n in range(8)))
    assert read_line("6/8", "ride every beat") == ("ride", (F(0), F(3, 8)))
    assert read_line("4/4", "no crash") == ("crash", ())
    assert read_line("4/4", "Open Hat 4&") == ("hat_open", (F(7, 8),))


@given(st.sampled_from(METERS), st.sets(st.integers(0, 200), max_size=8))
def test_a_line_said_is_the_line_read(meter: str, places: set[int]) -> None:
    positions = tuple(sorted({F(n, 16) % bar_length(meter) for n in places}))
    assert read_line(meter, say_line(meter, "tom_floor", positions)) == ("tom_floor", positions)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("kik 1 3", 'did you mean "kick"'),
        ("kick 5", "beats 1 to 4"),
        ("kick 2q", "not a place"),
        ("kick", "names no place"),
        ("1 3", "names no piece"),
        ("hat every now and then", "not understood"),
        ("kick 1+3/2", "past the end"),
        ("kick 1+3/0", "past the end"),
        ("", "nothing was written"),
    ],
)
def test_a_slip_is_met_with_a_hint(text: str, part: str) -> None:
    with pytest.raises(CorrectionError) as caught:
        read_line("4/4", text)
    assert part in str(caught.value)


@given(st.sampled_from(METERS), st.integers(1, 24), st.sampled_from([8, 16]), st.integers(0, 200))
def test_a_place_of_any_pickup_is_counted_as_the_end_of_a_whole_bar(
    whole: str, count: int, unit: int, n: int
) -> None:
    short = f"{count}/{unit}"
    if bar_length(short) >= bar_length(whole):
        return
    grid = regular([short, whole], 120, first_bar=0)
    at = F(n, 16) % bar_length(short)
    said = say_place(short, at, grid.skipped(0))
    assert said == say_place(whole, bar_length(whole) - bar_length(short) + at)
    assert read_place(short, said, grid.skipped(0)) == at


def test_an_upbeat_of_an_eighth_is_the_and_of_the_last_beat() -> None:
    grid = regular(["1/8", "4/4"], 120, first_bar=0)
    assert speak_at(grid, 0, F(0)) == "the pickup on 4&"
    assert read_line("1/8", "snare 4&", grid.skipped(0)) == ("snare", (F(0),))
    with pytest.raises(CorrectionError, match='"1": this pickup begins on 4&'):
        read_line("1/8", "snare 1", grid.skipped(0))
    assert grid.skipped(1) == 0
    assert not regular(["4/4", "4/4"], 120, first_bar=0).skipped(0)
