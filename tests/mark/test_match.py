"""Who is what at the ends of what is played: a stroke that was due there has its moment, heard or not."""

from fractions import Fraction as F

from fourlimb.mark import TOLD, mark
from fourlimb.model import Hit, Stroke

from .takes import chart_of, joined, play

PLAIN = "hat every 8th; snare 2 4; kick 1 2& 3"
ALONE = "hat every 4th; snare 3; kick 1 4"
AFTER = "hat every 8th; snare 2 4; kick 1 1& 3 3&"
CHART, GRID = chart_of([PLAIN] * 7 + [f"{PLAIN}; high tom 4&", ALONE] + [AFTER] * 6 + [f"{AFTER}; high tom 4&"])


def _end(stroke: Stroke) -> bool:
    return stroke.position == F(7, 8)


def _two_parts(leave_in: tuple[int, ...]) -> list[Hit]:
    """Bars 1-8 and, a bar too soon, 10-16; the last eighth of some bars is not heard."""
    first = play(CHART, GRID, to_bar=8, leave=lambda s: s.bar in leave_in and _end(s))
    then = play(CHART, GRID, from_bar=10, start_s=19.0, leave=lambda s: s.bar in leave_in and _end(s))
    return joined(first, then)


def test_what_ears_may_have_missed_where_a_take_jumps_or_ends_is_not_called_missing() -> None:
    """The curve is high there: something was struck, and nobody can say that it was not."""
    marking = mark(_two_parts((8, 16)), CHART, GRID, heights=lambda sound, time_s: 0.6)
    unheard = [s for s in marking.strokes if s.bar in (8, 16) and s.position == F(7, 8)]
    assert [s.verdict for s in unheard] == ["missed"] * 4
    assert all(s.confidence < TOLD for s in unheard)
    assert [bar.bar for bar in marking.bars if bar.say] == [9]


def test_what_is_surely_not_there_where_a_take_jumps_or_ends_is_missing() -> None:
    marking = mark(_two_parts((8, 16)), CHART, GRID)
    assert [bar.bar for bar in marking.bars if bar.say] == [8, 9, 16]


def test_a_bar_that_was_left_out_has_no_moment_and_is_surely_missing() -> None:
    marking = mark(_two_parts(()), CHART, GRID, heights=lambda sound, time_s: 0.6)
    left_out = [s for s in marking.strokes if s.bar == 9]
    assert {(s.verdict, s.confidence) for s in left_out} == {("missed", 1.0)}
