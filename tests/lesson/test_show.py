"""A lesson in words, for the terminal."""

import re
from pathlib import Path

import msgspec

from fourlimb import lesson
from fourlimb.lesson.products import sheets
from fourlimb.lesson.show import counted, show, summary
from fourlimb.teach import cue_sheet


def test_a_pickup_is_no_bar_and_has_no_number(demo_folder: Path) -> None:
    song, form = show(lesson.read_lesson(demo_folder)).split("\n\n")[:2]
    assert song.splitlines()[1] == "1:23, 132 beats a minute, 4/4, 45 bars"
    assert "A: the pickup and bars 1-16" in form
    assert not re.search(r"\bbars? 0", form)


def test_every_figure_is_told_with_its_bars(demo_folder: Path) -> None:
    found = lesson.read_lesson(demo_folder)
    block = next(part for part in show(found).split("\n\n") if part.startswith("Figures"))
    lines = [line for line in block.splitlines()[1:] if not line.startswith("  ...")]
    assert len(lines) > 6
    assert all(re.match(r"  [A-Z]+'?, ((every other )?bars?|the pickup|\d+ bars, first) ?", line) for line in lines)


def test_one_tempo_is_one_number_everywhere(demo_folder: Path) -> None:
    full = sheets(lesson.read_lesson(demo_folder))["full"]
    cues = cue_sheet(full)
    assert {cue.tempo_bpm for cue in cues if cue.what in ("listen", "say", "join")} == {132}
    assert len({cue.tempo_bpm for cue in cues}) == 2, "the song's tempo, and where it is begun slowly"


def test_one_of_a_kind_is_not_many(short_folder: Path) -> None:
    found = lesson.read_lesson(short_folder)
    lone = msgspec.structs.replace(found, sections=found.sections[:1], figures=found.figures[:1], doubts=())
    assert "1 section, 1 figure" in summary(Path("x.lesson"), lone)
    assert (counted(0, "bar"), counted(1, "bar"), counted(2, "bar")) == ("0 bars", "1 bar", "2 bars")


def test_a_pickup_is_counted_alike_in_words_and_under_the_notes(demo_folder: Path) -> None:
    found = lesson.read_lesson(demo_folder)
    plan = sheets(found)["full"].plan
    pickup = next(figure for figure in plan.figures if 0 in figure.bars)
    told = next(difference for difference in plan.differences if difference.to == pickup.name)
    assert plan.counts[0] == "(1 2) 3 & 4 (e) & a"
    assert told.say == "new: snare on 3, 3& and 4; high tom on 4&; floor tom on 4a"
    assert lesson.why(found, "pickup on 3").startswith("the pickup on 3: heard snare")
    assert lesson.why(found, "bar 0 beat 3") == lesson.why(found, "the pickup, beat 3")


def test_sound_is_promised_where_there_is_some(short_folder: Path, tmp_path: Path) -> None:
    found = lesson.read_lesson(short_folder)
    assert "sound/" in summary(short_folder, found)
    assert "sound/" not in summary(tmp_path, found)
