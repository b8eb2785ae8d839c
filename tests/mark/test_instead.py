"""A tom for the snare is told by the take's own snares, whatever ears call it."""

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.mark import TOLD, Heights, mark
from fourlimb.mark.instead import DRUMS, contrasts
from fourlimb.model import Hit, MarkedStroke, Marking, Sound

from .takes import FILL, GROOVE, LANDING, chart_of, play

CHART, GRID = chart_of([GROOVE] * 7 + [FILL, LANDING] + [GROOVE] * 7)
AT_S = 3.0 + 2 * 4 + 0.5
"""The snare on 2 of bar 5."""


def _curves(at: dict[Sound, float], usual: dict[Sound, float] | None = None) -> Heights:
    """Heights at the snare in question, and everywhere else."""
    everywhere = usual or {"snare": 0.95, "kick": 0.01}

    def height(sound: Sound, time_s: float) -> float:
        return (at if abs(time_s - AT_S) < 0.06 else everywhere).get(sound, 0.002)

    return height


def _take(heard: Sound | None) -> list[Hit]:
    take = play(CHART, GRID)
    own = min((hit for hit in take if hit.sound == "snare"), key=lambda hit: abs(hit.time_s - AT_S))
    rest = [msgspec.structs.replace(hit, confidence=0.95) for hit in take if hit is not own]
    return rest if heard is None else [*rest, msgspec.structs.replace(own, sound=heard, confidence=0.6)]


def _marked(heard: Sound | None, heights: Heights) -> tuple[MarkedStroke, Marking]:
    marking = mark(_take(heard), CHART, GRID, heights=heights)
    return next(s for s in marking.strokes if (s.bar, s.position * 4, s.piece) == (5, 1, "snare")), marking


TOM: dict[Sound, float] = {"snare": 0.2, "tom_floor": 0.7, "tom_mid": 0.2}


@pytest.mark.parametrize("heard", ["snare", "tom_floor"])
def test_a_tom_for_the_snare_is_told_whatever_ears_call_it(heard: Sound) -> None:
    stroke, marking = _marked(heard, _curves(TOM))
    assert (stroke.verdict, stroke.played) == ("other_piece", "tom_floor")
    assert stroke.confidence >= TOLD
    assert [(bar.bar, bar.say) for bar in marking.bars if bar.say] == [(5, "a tom is played for the snare on 2")]


def test_a_tom_that_ears_do_not_call_a_stroke_at_all_is_a_snare_missing() -> None:
    stroke, marking = _marked(None, _curves(TOM))
    assert stroke.verdict == "missed"
    assert stroke.confidence >= TOLD
    assert marking.bars[4].say == "the snare on 2 is missing"


def test_a_snare_that_is_only_soft_stays_a_snare() -> None:
    for curves in ({"snare": 0.3}, {"snare": 0.03, "tom_mid": 0.01}, {"snare": 0.9, "tom_floor": 0.5}):
        stroke, marking = _marked("snare", _curves(curves))
        assert stroke.verdict == "played", curves
        assert not marking.bars[4].say


def test_a_kit_whose_snare_rings_like_a_tom_everywhere_is_its_own_measure() -> None:
    ringing: dict[Sound, float] = {"snare": 0.2, "tom_floor": 0.7, "tom_mid": 0.2}
    marking = mark(_take("snare"), CHART, GRID, heights=_curves(ringing, ringing))
    assert {s.verdict for s in marking.strokes if s.piece == "snare"} == {"played"}


def test_both_names_of_one_tom_are_one_stroke() -> None:
    tom = msgspec.structs.replace(_take("tom_floor")[-1], id=999, time_s=AT_S + 0.01)
    both = sorted([*_take("snare"), tom], key=lambda hit: hit.time_s)
    marking = mark(both, CHART, GRID, heights=_curves(TOM))
    assert [s.piece for s in marking.strokes if s.verdict == "extra"] == []
    assert marking.bars[4].say == "a tom is played for the snare on 2"


def test_what_was_read_is_called_by_its_name() -> None:
    marking = mark([msgspec.structs.replace(hit, confidence=1.0) for hit in _take("tom_floor")], CHART, GRID)
    assert marking.bars[4].say == "the floor tom is played for the snare on 2"


@given(st.floats(-6, 6), st.floats(0, 8), st.floats(0, 8))
def test_the_contrast_does_not_depend_on_the_kit(shift: float, fall: float, rise: float) -> None:
    snares = np.array([[3.0, -6.0, -6.0, -5.0]] * 9) + shift
    stroke = snares[:1] + np.array([[-fall, 0.0, 0.0, rise]])
    contrast, tom = contrasts(np.concatenate([snares, stroke]), np.array([True] * 9 + [False]))[-1]
    assert contrast == pytest.approx(fall + rise)
    assert rise < 0.001 or DRUMS[1 + tom] == "tom_floor"
