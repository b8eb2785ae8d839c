"""Parts that nobody can play: each breaks one limit, and the checker names that limit."""

from fractions import Fraction as F

import msgspec
import pytest
from bench.written import KIT
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.arrange import check
from fourlimb.model import Chart, Kit, Limb, Sound, Stroke
from fourlimb.model.grid import regular

WHOLE_MS = 2000
GRID = regular(["4/4"] * 4, 120)
Row = tuple[int, Sound, Limb]
RIGHT: Limb = "right hand"
LEFT: Limb = "left hand"
KICK: Limb = "right foot"
HAT: Limb = "left foot"

GROOVE: tuple[Row, ...] = tuple(
    row
    for beat in range(4)
    for row in (
        (500 * beat, "hat_closed", RIGHT),
        (500 * beat + 250, "hat_closed", RIGHT),
        (500 * beat, "snare" if beat % 2 else "kick", LEFT if beat % 2 else KICK),
    )
)  # type: ignore[assignment]


def chart(rows: tuple[Row, ...], bar: int = 1, **changes: object) -> Chart:
    """Strokes at milliseconds from the bar line; `changes` apply to the first row."""
    strokes = [Stroke(bar=bar, position=F(ms, WHOLE_MS), piece=piece, limb=limb) for ms, piece, limb in rows]
    if changes:
        strokes[0] = msgspec.structs.replace(strokes[0], **changes)
    return Chart(strokes=tuple(strokes), bars=(), grade=1.0)


def limits(made: Chart, kit: Kit = KIT) -> set[str]:
    return {breach.limit for breach in check(made, GRID, kit)}


def evenly(piece: Sound, limb: Limb, gap: int, count: int) -> tuple[Row, ...]:
    return tuple((n * gap, piece, limb) for n in range(count))


IMPOSSIBLE: dict[str, tuple[str, tuple[Row, ...]]] = {
    "three hand sounds at once": (
        "two hands", ((0, "snare", LEFT), (0, "ride", RIGHT), (0, "crash", LEFT))),
    "two sounds at once in one hand": ("one limb, one stroke", ((0, "snare", LEFT), (0, "tom_high", LEFT))),
    "two kicks in 40 ms": ("foot_repeat", evenly("kick", KICK, 40, 2)),
    "three kicks at 70 ms": ("foot_burst", evenly("kick", KICK, 70, 3)),
    "seventeen kicks at 110 ms": ("foot_sustained", evenly("kick", KICK, 110, 17)),
    "one hand twice in 40 ms": ("hand_repeat", evenly("snare", LEFT, 40, 2)),
    "one hand three times at 62 ms": ("hand_burst", evenly("snare", LEFT, 62, 3)),
    "one hand seventeen times at 90 ms": ("hand_sustained", evenly("hat_closed", RIGHT, 90, 17)),
    "crash and floor tom 30 ms apart in one hand": ("travel", ((0, "crash", RIGHT), (30, "tom_floor", RIGHT))),
    "hat to ride in 80 ms": ("travel", ((0, "hat_closed", RIGHT), (80, "ride", RIGHT))),
    "chick on an open hat": ("hat open or closed", ((0, "hat_open", RIGHT), (0, "hat_pedal", HAT))),
    "chick 20 ms after an open hat": ("hat_close", ((0, "hat_open", RIGHT), (20, "hat_pedal", HAT))),
    "chicks at 100 ms": ("hat_foot_repeat", evenly("hat_pedal", HAT, 100, 2)),
    "a foot on the snare": ("hand or foot", ((0, "snare", KICK),)),
    "a hand on the kick": ("hand or foot", ((0, "kick", RIGHT),)),
    "the hat foot on the only kick pedal": ("pedal within reach", ((0, "kick", HAT),)),
    "a china that is not there": ("piece on the kit", ((0, "china", RIGHT),)),
    "past the bar line": ("outside the bar", ((2100, "snare", LEFT),)),
    "cross-stick to snare in 50 ms": ("cross_stick", ((0, "rim", LEFT), (50, "snare", LEFT))),
}  # fmt: skip


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
