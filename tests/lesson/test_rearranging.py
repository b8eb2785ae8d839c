"""A teacher who corrects bar after bar: only what changed is arranged again, and the lesson is the same."""

from fractions import Fraction as F
from pathlib import Path

import msgspec
from bench.written import song

from fourlimb.arrange import Memory
from fourlimb.lesson import build
from fourlimb.model import Correction
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
