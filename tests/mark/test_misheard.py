"""An added stroke that ears make of another one is not held against the student; one that they do not is told."""

import msgspec
import pytest

from fourlimb.mark import TOLD, mark
from fourlimb.model import Hit, MarkedStroke, Sound

from .takes import FILL, GROOVE, LANDING, chart_of, play

CHART, GRID = chart_of([GROOVE] * 7 + [FILL, LANDING] + [GROOVE] * 7)


def _beside(at: Sound, heard: Sound) -> list[Hit]:
    """The take with this sound heard too wherever that one is struck."""
    take = play(CHART, GRID)
    more = [msgspec.structs.replace(hit, id=900 + hit.id, sound=heard) for hit in take if hit.sound == at]
    assert more
    return [*take, *more]


def _extra(take: list[Hit], *, heard: bool) -> list[MarkedStroke]:
    marking = mark(take, CHART, GRID, heights=(lambda sound, time_s: 0.01) if heard else None)
    return [stroke for stroke in marking.strokes if stroke.verdict == "extra"]


@pytest.mark.parametrize(("at", "heard"), [("tom_floor", "snare"), ("tom_floor", "kick"), ("crash", "hat_open")])
def test_what_ears_make_of_a_drum_is_not_told_as_added(at: Sound, heard: Sound) -> None:
    added = _extra(_beside(at, heard), heard=True)
    assert added
    assert all(stroke.confidence < TOLD for stroke in added)


def test_what_ears_do_not_make_of_a_drum_is_told_as_added() -> None:
    added = _extra(_beside("hat_closed", "crash"), heard=True)
    assert added
    assert all(stroke.confidence >= TOLD for stroke in added)


def test_between_written_strokes_an_added_one_is_as_sure_as_it_was_heard() -> None:
    stray = msgspec.structs.replace(play(CHART, GRID)[0], id=999, sound="kick", time_s=9.125, confidence=0.8)
    assert [stroke.confidence for stroke in _extra([*play(CHART, GRID), stray], heard=True)] == [0.8]


def test_what_was_read_and_not_heard_is_sure() -> None:
    added = _extra(_beside("tom_floor", "kick"), heard=False)
    assert {stroke.confidence for stroke in added} == {1.0}
