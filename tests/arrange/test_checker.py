"""Parts that nobody can play: each breaks one limit, and the checker names that limit."""

from fractions import Fraction as F

import pytest
from bench.impossible import GRID, GROOVE, HAT, IMPOSSIBLE, KICK, LEFT, RIGHT, Row, chart, evenly, limits
from bench.written import KIT
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.arrange import check
from fourlimb.model import Chart, Kit


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_each_impossible_part_is_caught_under_its_own_limit(name: str) -> None:
    limit, rows = IMPOSSIBLE[name]
    assert limit in limits(chart(rows))


@settings(max_examples=60, deadline=None)
@given(name=st.sampled_from(sorted(IMPOSSIBLE)), bar=st.integers(1, 4), late=st.integers(0, 40))
def test_an_impossible_part_is_caught_anywhere_in_a_playable_groove(name: str, bar: int, late: int) -> None:
    """The groove plays in all other bars; the part stands in one of them, moved a little."""
    limit, rows = IMPOSSIBLE[name]
    moved = tuple((ms + late, piece, limb) for ms, piece, limb in rows)
    strokes = [s for b in range(1, 5) if b != bar for s in chart(GROOVE, b).strokes]
    mixed = Chart(strokes=(*strokes, *chart(moved, bar).strokes), bars=(), grade=1.0)
    found = check(mixed, GRID, KIT)
    assert limit in {b.limit for b in found}
    assert all(abs(b.bar - bar) <= 1 for b in found)


def test_a_playable_groove_has_no_breach() -> None:
    assert not check(chart(GROOVE), GRID, KIT)


def test_a_flam_needs_the_other_hand_free() -> None:
    free = chart(((500, "snare", LEFT), (200, "hat_closed", RIGHT)), grace="flam")
    busy = chart(((500, "snare", LEFT), (500, "hat_closed", RIGHT)), grace="flam")
    assert "grace" not in limits(free)
    assert "grace" in limits(busy)


def test_a_choking_hand_is_not_free_at_once() -> None:
    rows: tuple[Row, ...] = ((0, "crash", RIGHT), (90, "crash", RIGHT))
    assert "choke" in limits(chart(rows, struck="choke"))
    assert "choke" not in limits(chart(rows))


def test_a_second_pedal_lets_the_other_foot_kick_but_not_jump_between_pedals() -> None:
    double = Kit(double_pedal=True)
    assert not limits(chart(((0, "kick", KICK), (40, "kick", HAT))), double)
    assert "pedal_change" in limits(chart(((0, "kick", HAT), (120, "hat_pedal", HAT))), double)


def test_a_limb_the_player_does_not_use_is_named() -> None:
    one_hand = Kit(limbs=("right hand", "right foot"))
    assert "limb of the player" in limits(chart(((0, "snare", LEFT),)), one_hand)


def test_the_verdict_says_where_and_why_in_words() -> None:
    (breach,) = check(chart(evenly("kick", KICK, 40, 2)), GRID, KIT)
    assert (breach.bar, breach.position) == (1, F(1, 50))
    assert breach.why == "the right foot has 40 ms for kick to kick; 60 is the least"
