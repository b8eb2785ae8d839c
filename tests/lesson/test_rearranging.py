"""A teacher who corrects bar after bar: only what changed is arranged again, and the lesson is the same."""

from fractions import Fraction as F
from pathlib import Path

import msgspec
from bench.written import song

from fourlimb.arrange import Memory
from fourlimb.lesson import build
from fourlimb.model import Correction, Lesson, Level
from fourlimb.model.codec import encode

BARS = ("kick 1 2& 3; snare 2 4; hat every 8th", "kick 1 2& 3 4&; snare 2 4; hat every 8th")
WORDS = (
    "bar 12: kick 1 2a 3",
    "bar 12: rimshot 4",
    "bar 20: silent",
    "bars 5-6: as bar 2",
    "bar 9: no snare",
    "steady bar 3: kick 1",
    "bones bars 13-14: as full",
)


def test_a_lesson_corrected_with_a_memory_is_the_lesson_made_anew() -> None:
    heard, memory = song([BARS[n % 2] for n in range(40)], bpm=120), Memory()
    build(heard, memory=memory)
    everything = memory.made
    given: tuple[Correction, ...] = ()
    for number, what in enumerate(WORDS, 1):
        given = (*given, Correction(n=number, what=what))
        quick = build(heard, corrections=given, memory=memory)
        assert all(item.state == "applied" for item in quick.corrections)
        assert encode(quick) == encode(build(heard, corrections=given))
        assert memory.made < everything


def test_a_level_may_be_aimed_by_a_correction_and_a_target_that_means_nothing_is_told() -> None:
    heard = song(["kick 1 1a 2& 3; snare 2 4; soft snare 2a; hat every 16th"] * 8, bpm=120)
    given = tuple(
        Correction(n=n, what=what)
        for n, what in enumerate(("full: no 16th kicks", "steady: grade 2", "full: no tubas"), 1)
    )
    lesson = build(heard, corrections=given)
    assert [item.state for item in lesson.corrections] == ["applied", "applied", "unfit"]
    assert "is not known" in lesson.corrections[2].why
    kicks = {s.position for s in lesson.charts["full"].strokes if s.piece == "kick"}
    assert kicks == {F(0), F(3, 8), F(1, 2)}
    assert lesson.charts["steady"].grade <= 2
    assert any(r.rule == "16th kicks left out" and r.levels == ("full",) for r in lesson.reasons)


def _snares(made: Lesson, level: Level, bar: int) -> dict[F, tuple[bool, bool, str | None]]:
    strokes = made.charts[level].by_bar[bar]
    return {s.position: (s.ghost, s.accent, s.grace) for s in strokes if s.piece == "snare"}


def test_ghosts_accents_and_flams_are_written_and_taken_away_in_words() -> None:
    said = (
        "bar 1: ghosted snare 2a 3e; accented snare 4",
        "bar 2: snare flam 4; hat 1 1& 2 2& 3 3& 4&",  # a flam takes both hands
        "bar 3: ghost 2 4",
        "bar 3: plain snare 2",
        "steady bar 4: accented flam snare 2",
        "bar 4: accented hat 1",
    )
    given = tuple(Correction(n=n, what=what) for n, what in enumerate(said, 1))
    made = build(song(["kick 1 3; snare 2 4; hat every 8th"] * 8), corrections=given)
    assert [item.state for item in made.corrections] == ["applied"] * len(said)
    plain, ghost = (False, False, None), (True, False, None)
    assert _snares(made, "full", 1) == {
        F(1, 4): plain, F(7, 16): ghost, F(9, 16): ghost, F(3, 4): (False, True, None),
    }  # fmt: skip
    assert set(_snares(made, "steady", 1)) == {F(1, 4), F(3, 4)}, "ghosts are not for an easier level"
    assert _snares(made, "full", 2) == {F(1, 4): plain, F(3, 4): (False, False, "flam")}
    assert _snares(made, "full", 3) == {F(1, 4): plain, F(3, 4): ghost}
    assert _snares(made, "full", 4) == {F(1, 4): plain, F(3, 4): plain}
    assert _snares(made, "steady", 4)[F(1, 4)] == (False, True, "flam")
    hats = [s for s in made.charts["full"].by_bar[4] if s.piece == "hat_closed"]
    assert [s.position for s in hats if s.accent] == [F(0)]


def test_a_ghost_that_the_teacher_wants_is_one_though_nothing_is_louder() -> None:
    given = (Correction(n=1, what="bars 1-4: ghosted snare 2 4"),)
    made = build(song(["kick 1 3; snare 2 4; hat every 8th"] * 4), corrections=given)
    assert all(s.ghost for s in made.charts["full"].strokes if s.piece == "snare")


def test_a_chart_for_a_target_is_printed_beside_the_lesson(tmp_path: Path) -> None:
    from fourlimb.lesson import aim_at
    from fourlimb.lesson.folder import lesson_files, write

    heard = song(["kick 1 2& 3; snare 2 4; hat every 8th"] * 2)
    heard = msgspec.structs.replace(heard, song=msgspec.structs.replace(heard.song, title="Night Ferry"))
    lesson = build(heard)
    folder = tmp_path / "short.lesson"
    write(folder, lesson_files(lesson, heard))
    said = aim_at(folder, "tempo 70 %", tmp_path / "out")
    assert said.startswith("tempo 70 %: grade ")
    named = {f"Night-Ferry-tempo-70{kind}" for kind in (".pdf", ".musicxml", ".mid")}
    assert {p.name for p in (tmp_path / "out").iterdir()} == named
    aim_at(folder, "tempo 70 %", tmp_path / "out", level="bones")
    aim_at(folder, "no 16th kicks", tmp_path / "out")
    assert len(list((tmp_path / "out").iterdir())) == 9, "one wish does not write over another's chart"
