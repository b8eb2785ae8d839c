"""Why a stroke is there or not; and targets instead of levels."""

from fractions import Fraction as F

import msgspec
import pytest
from bench.written import KIT, song

from fourlimb.arrange import aim, arrange, check, stickings, why
from fourlimb.arrange.limits import PLAYERS, TABLE
from fourlimb.arrange.stickings import named
from fourlimb.model import InputError

BUSY = "kick 1 1a 2& 3; snare 2 4; soft snare 2a; hat every 16th; shaker every 16th"


def test_why_tells_what_was_heard_what_is_written_and_the_reason() -> None:
    heard = song([BUSY])
    made = arrange(heard, KIT)
    lines = why(heard.hits, made.charts, made.reasons, 1, F(3, 16))
    assert lines[0] == "bar 1 on 1a: heard kick (95 % sure), hat (95 % sure), shaker (95 % sure)"
    assert lines[3] == "bones: nothing is written"
    assert any("kick dropped (bones): kicks between the eighths" in line for line in lines)


def test_why_answers_for_every_sound_that_is_heard_and_not_written() -> None:
    heard = song([BUSY] * 2)
    made = arrange(heard, KIT)
    written = {h for s in made.charts["full"].strokes for h in s.hits}
    for hit in heard.hits:
        assert hit.bar is not None
        assert hit.position is not None
        lines = why(heard.hits, made.charts, made.reasons, hit.bar, hit.position, sound=hit.sound)
        assert hit.id in written or len(lines) > 4


def test_why_refuses_a_bar_that_is_not_there() -> None:
    heard = song([BUSY])
    made = arrange(heard, KIT)
    with pytest.raises(InputError, match="no bar 9"):
        why(heard.hits, made.charts, made.reasons, 9, F(0))


def test_no_16th_kicks_leaves_only_kicks_on_eighths() -> None:
    heard = song([BUSY])
    full = arrange(heard, KIT).charts["full"]
    chart, grid, reasons = aim("no 16th kicks", full, heard.grid, KIT)
    assert [s.position for s in chart.strokes if s.piece == "kick"] == [F(0), F(3, 8), F(1, 2)]
    assert [s for s in chart.strokes if s.piece != "kick"] == [s for s in full.strokes if s.piece != "kick"]
    assert len(reasons) == 1
    assert not check(chart, grid, KIT)


def test_a_grade_is_reached_by_steps_in_order() -> None:
    heard = song([BUSY] * 4, bpm=120)
    full = arrange(heard, KIT).charts["full"]
    chart, grid, _ = aim("grade 3", full, heard.grid, KIT)
    assert full.grade > 3 >= chart.grade
    assert chart.steps[0] == "ghosts, flams and drags left out"
    assert not check(chart, grid, KIT)


def test_a_slower_tempo_keeps_every_stroke_and_is_easier() -> None:
    heard = song([BUSY] * 4, bpm=120)
    full = arrange(heard, KIT).charts["full"]
    chart, grid, _ = aim("tempo 70 %", full, heard.grid, KIT)
    assert [(s.bar, s.position, s.piece) for s in chart.strokes] == [
        (s.bar, s.position, s.piece) for s in full.strokes
    ]
    assert grid.at(2).tempo_bpm == pytest.approx(84)
    assert chart.grade < full.grade


@pytest.mark.parametrize("target", ["easier", "grade nine", "no trombone", "tempo 0 %", "tempo 900 %"])
def test_a_target_that_means_nothing_is_refused(target: str) -> None:
    heard = song([BUSY])
    full = arrange(heard, KIT).charts["full"]
    with pytest.raises(InputError):
        aim(target, full, heard.grid, KIT)


def test_a_fill_is_told_in_letters_with_its_landing() -> None:
    heard = song(["snare 1 1e 1& 1a 2 2e 2& 2a 3 3e 3& 3a; floor tom 4 4e 4& 4a", "crash 1; kick 1; hat 2 3 4"])
    (fill,) = stickings(arrange(heard, KIT).charts["full"], heard.grid)
    assert fill.hands.split()[:4] == ["R", "L", "R", "L"]
    assert fill.rudiments == ("single strokes",)
    assert fill.lands.startswith("lands on crash")


def test_rudiments_are_named_by_their_hands_either_way_round() -> None:
    assert named(["R", "L", "R", "R", "L", "R", "L", "L"]) == ("paradiddle",)
    assert named(["lR", "L", "R", "rL", "R", "L"]) == ("flam accent",)
    assert named(["L", "L", "R", "R", "L"]) == ("five stroke roll",)


def test_every_limit_eases_from_ceiling_to_beginner_and_names_its_source() -> None:
    for row in TABLE:
        values = [row.of(player) for player in reversed(PLAYERS)]
        assert values == sorted(values), row.name
        assert row.source


def test_an_easy_grade_is_reached_by_fewer_strokes_where_the_steps_do_not_suffice() -> None:
    heard = song(["kick 1 2 3 4; snare 2 4; cross-stick 1& 3&; ride every 8th; high tom 3"] * 4, bpm=190)
    full = arrange(heard, KIT).charts["full"]
    chart, grid, reasons = aim("grade 1", full, heard.grid, KIT)
    assert chart.grade <= 1
    assert chart.steps[-1] == "fewer strokes in the hardest bars"
    assert {s.position for s in chart.strokes if s.piece == "snare"} == {F(1, 4), F(3, 4)}
    assert all(any(s.piece == "kick" and s.position == 0 for s in chart.by_bar[bar]) for bar in grid.numbers)
    assert any(r.rule == "fewer strokes in the hardest bars" for r in reasons)
    assert not check(chart, grid, KIT)


def test_a_target_tells_its_reasons_of_the_level_it_started_from() -> None:
    heard = song([BUSY] * 2)
    steady = arrange(heard, KIT).charts["steady"]
    chart, _, reasons = aim("no 16th kicks", steady, heard.grid, KIT, level="steady")
    assert {r.levels for r in reasons} == {("steady",)}
    assert chart.steps[: len(steady.steps)] == steady.steps


def test_tempo_may_be_told_as_a_share_of_the_song() -> None:
    heard = song([BUSY])
    full = arrange(heard, KIT).charts["full"]
    assert aim("tempo 70 % of mine", full, heard.grid, KIT)[1] == aim("tempo 70%", full, heard.grid, KIT)[1]


def test_why_says_how_a_stroke_is_struck() -> None:
    heard = song(["crash 1; kick 1 3; snare 2 4"])
    hits = tuple(msgspec.structs.replace(h, struck="choke") if h.sound == "crash" else h for h in heard.hits)
    made = arrange(msgspec.structs.replace(heard, hits=hits), KIT)
    lines = why(hits, made.charts, made.reasons, 1, F(0))
    assert any("choked crash with the" in line for line in lines)
