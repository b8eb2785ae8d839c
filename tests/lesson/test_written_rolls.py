"""Rolls of a MusicXML source are in the lesson's charts, and come out again as they went in."""

from fractions import Fraction as F
from pathlib import Path

import pytest

from fourlimb import arrange, engrave, lesson
from fourlimb.model import Chart, Grid, Kit, Lesson, Listening, Sheet, Stroke
from fourlimb.model.codec import decode, pretty
from fourlimb.model.grid import regular

GRID: Grid = regular(["4/4"] * 4, 120.0)
ROLLS = {
    (2, F(1, 2)): {"roll": 32, "lasts": F(1, 2)},
    (3, F(0)): {"roll": 32, "lasts": F(1, 4), "tied": True},
    (4, F(1, 4)): {"struck": "buzz", "lasts": F(1, 2)},
}


def stroke(bar: int, position: F, piece: str, **more: object) -> Stroke:
    limb = "right foot" if piece == "kick" else "right hand"
    return Stroke(bar=bar, position=position, piece=piece, limb=limb, **more)


@pytest.fixture(scope="module")
def source(short_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four bars with a roll over a bar line and a buzz, kick on every beat, a hat that meets the first roll."""
    strokes = [stroke(bar, F(n, 4), "kick") for bar in range(1, 5) for n in range(4)]
    strokes += [stroke(1, F(n, 8), "hat_closed") for n in range(8)] + [stroke(2, F(5, 8), "hat_closed")]
    strokes += [stroke(bar, at, "snare", **how) for (bar, at), how in ROLLS.items()]
    made = lesson.sheets(lesson.read_lesson(short_folder))["full"]
    chart = Chart(strokes=tuple(sorted(strokes, key=lambda s: s.sort_key)), bars=(), grade=1.0)
    sheet = Sheet(song=made.song, level="full", chart=chart, grid=GRID, kit=Kit(), plan=made.plan)
    path = tmp_path_factory.mktemp("rolls") / "rolls.musicxml"
    path.write_bytes(engrave.musicxml(sheet))
    return path


@pytest.fixture(scope="module")
def heard(source: Path) -> Listening:
    return lesson.hear_song(source)


@pytest.fixture(scope="module")
def built(heard: Listening) -> Lesson:
    return lesson.build(heard)


def rolls(chart: Chart) -> dict[tuple[int, F], tuple[object, ...]]:
    return {(s.bar, s.position): (s.piece, s.roll, s.struck, s.lasts, s.tied) for s in chart.strokes if s.rolls}


WANTED = {
    place: ("snare", how.get("roll", 0), how.get("struck"), how["lasts"], how.get("tied", False))
    for place, how in ROLLS.items()
}


def test_rolls_of_the_source_are_in_the_full_chart(built: Lesson) -> None:
    assert rolls(built.charts["full"]) == WANTED


def test_rolls_go_out_again_as_they_came_in(built: Lesson) -> None:
    again = engrave.read_musicxml(engrave.musicxml(lesson.sheets(built)["full"]), name="again.musicxml")
    assert {
        (s.bar, s.position): (s.piece, s.roll, s.struck, s.lasts, s.tied) for s in again.strokes if s.rolls
    } == WANTED


def test_the_bones_have_one_plain_stroke_for_a_roll_and_a_reason(built: Lesson) -> None:
    bones = built.charts["bones"]
    assert rolls(bones) == {}
    assert not [
        s for s in bones.strokes if s.piece == "snare" and (s.bar, s.position) == (3, F(0))
    ]  # was only tied on
    told = [r for r in built.reasons if "bones" in r.levels and "roll is played as one plain stroke" in r.why]
    assert (2, F(1, 2)) in {(r.bar, r.position) for r in told}


def test_a_hand_that_rolls_plays_nothing_else_and_the_lesson_says_so(built: Lesson) -> None:
    full = built.charts["full"]
    assert not [s for s in full.strokes if s.bar == 2 and s.piece == "hat_closed" and s.position > F(1, 2)]
    reason = next(r for r in built.reasons if r.rule == "a roll takes both hands" and "full" in r.levels)
    assert (reason.bar, reason.sound) == (2, "hat_closed")
    assert [s for s in full.strokes if s.bar == 2 and s.piece == "kick" and s.position > F(1, 2)]  # feet go on
    assert arrange.check(full, built.grid, built.kit) == ()


def test_the_teachers_word_is_last(heard: Listening) -> None:
    from fourlimb.model import Correction

    silenced = lesson.build(heard, corrections=(Correction(n=1, what="bar 2: no roll"),))
    assert (2, F(1, 2)) not in rolls(silenced.charts["full"])
    assert (4, F(1, 4)) in rolls(silenced.charts["full"])


def test_rolls_survive_the_round_trip_of_what_was_heard(heard: Listening) -> None:
    assert decode(pretty(heard), Listening) == heard
    assert [hit.roll is not None for hit in heard.hits].count(True) == 3
