"""Changes between bars, as data."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.model import Change
from fourlimb.teach.changes import apply_changes, compare
from fourlimb.teach.content import Content, content_of

from .written import METERS, contents, strokes


@given(st.sampled_from(METERS).flatmap(lambda meter: st.tuples(contents(meter), contents(meter))))
def test_changes_applied_to_one_bar_give_the_other_exactly(pair: tuple[Content, Content]) -> None:
    before, after = pair
    assert apply_changes(before, compare(before, after)) == after


@given(contents())
def test_a_bar_does_not_differ_from_itself(bar: Content) -> None:
    assert compare(bar, bar) == ()


@given(contents())
def test_a_bar_told_from_nothing_is_all_additions(bar: Content) -> None:
    changes = compare(Content(bar.meter, ()), bar)
    assert {change.what for change in changes} <= {"add"}
    assert len(changes) == len(bar.notes)


@given(st.sampled_from(METERS).flatmap(lambda meter: st.tuples(contents(meter), contents(meter))))
def test_no_stroke_is_told_to_go_twice_or_to_come_twice(pair: tuple[Content, Content]) -> None:
    changes = [change for change in compare(*pair) if change.what != "strike"]
    gone = [(change.from_, change.piece) for change in changes if change.from_ is not None]
    come = [(change.to, change.to_piece or change.piece) for change in changes if change.to is not None]
    assert len(gone) == len(set(gone))
    assert len(come) == len(set(come))


def _changes(before: str, after: str) -> tuple[Change, ...]:
    return compare(content_of("4/4", strokes(1, before)), content_of("4/4", strokes(1, after)))


def test_a_kick_that_goes_a_16th_later_is_a_move() -> None:
    assert _changes("kick 1 4&", "kick 1 4a") == (Change(what="move", piece="kick", from_=F(7, 8), to=F(15, 16)),)


def test_an_opened_hat_is_a_swap_in_its_place() -> None:
    assert _changes("hat every 8th", "hat 1 1& 2 2& 3 3& 4; open hat 4&") == (
        Change(what="swap", piece="hat_closed", from_=F(7, 8), to=F(7, 8), to_piece="hat_open"),
    )


def test_a_kick_never_becomes_a_drum_of_the_hands() -> None:
    assert {change.what for change in _changes("kick 1", "floor tom 1")} == {"drop", "add"}


def test_a_stroke_too_far_away_is_left_out_and_added() -> None:
    assert {change.what for change in _changes("kick 1", "kick 3")} == {"drop", "add"}


def test_a_ghost_is_a_strike() -> None:
    assert _changes("snare 2a", "ghost snare 2a") == (
        Change(what="strike", piece="snare", from_=F(7, 16), to=F(7, 16), ghost=True),
    )


def test_bars_of_two_meters_are_not_compared() -> None:
    with pytest.raises(ValueError, match="cannot be told"):
        compare(Content("4/4", ()), Content("3/4", ()))
