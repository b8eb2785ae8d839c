"""How sure a missing stroke is: by what ears miss of its kind, and by what they missed of it in this take."""

from fractions import Fraction

from fourlimb.mark import mark
from fourlimb.mark.unheard import HEARD, kind_of
from fourlimb.model import SOUNDS, Sound, Stroke

from .takes import chart_of, play


def _sure(chart_line: str, piece: Sound, missed: int) -> float:
    """How sure the last missing stroke of a piece is, of which the first so many of a take are not heard."""
    chart, grid = chart_of([chart_line] * 8)
    own = [stroke for stroke in chart.strokes if stroke.piece == piece]
    gone = [*own[: missed - 1], own[len(own) // 2]]
    take = play(chart, grid, leave=lambda s: s in gone)
    marking = mark(take, chart, grid, heights=lambda sound, time_s: 0.02)
    return next(s.confidence for s in reversed(marking.strokes) if s.piece == piece and s.verdict == "missed")


def test_a_foot_hat_is_doubted_more_than_one_struck_with_a_stick() -> None:
    struck = _sure("hat every 8th; snare 2 4; kick 1 2& 3", "hat_closed", 1)
    assert _sure("ride every 8th; foot hat 2 4; snare 2 4; kick 1 2& 3", "hat_pedal", 1) < struck


def test_cross_sticks_that_ears_miss_say_nothing_of_the_snare() -> None:
    line = "hat every 8th; snare 2 4; rim 1& 3& 4&; kick 1 2& 3"
    assert _sure(line, "rim", 12) < _sure(line, "rim", 1) - 0.1
    chart, grid = chart_of([line] * 8)
    rims = [s for s in chart.strokes if s.piece == "rim"][:12]
    snare = next(s for s in chart.strokes if s.bar == 6 and s.piece == "snare")
    few = mark(play(chart, grid, leave=lambda s: s == snare), chart, grid, heights=lambda sound, time_s: 0.02)
    many = mark(
        play(chart, grid, leave=lambda s: s == snare or s in rims), chart, grid, heights=lambda sound, time_s: 0.02
    )
    of = [[s.confidence for s in m.strokes if s.piece == "snare" and s.verdict == "missed"] for m in (few, many)]
    assert of[0] == of[1] != []


def test_what_has_a_share_is_a_kind_that_strokes_have() -> None:
    kinds = {
        kind_of(Stroke(bar=1, position=Fraction(0), piece=piece, limb="right hand", ghost=ghost))
        for piece in SOUNDS
        for ghost in (False, True)
    }
    assert set(HEARD) <= kinds
    assert all(0 < share < 1 for share in HEARD.values())
