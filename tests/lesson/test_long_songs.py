"""A recording far longer than a song has its charts, is not played as sound, and the lesson says so."""

import sys

import pytest

from fourlimb import demo
from fourlimb.lesson.build import build
from fourlimb.lesson.products import outputs

HEARD = demo.truth()


def test_a_song_of_usual_length_says_nothing() -> None:
    assert not [note for note in build(HEARD).notes if "minutes long" in note]


def test_one_that_is_too_long_has_charts_and_no_sound_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.modules["fourlimb.lesson.build"], "LONGEST_PLAYED_S", HEARD.grid.end_s - 1)
    lesson = build(HEARD)
    assert [note for note in lesson.notes if "not played as sound" in note]
    files = outputs(lesson, levels=("bones",))
    assert "charts/bones.pdf" in files
    assert not [name for name in files if name.startswith("sound/")]
