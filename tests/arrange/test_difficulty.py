"""One scale of difficulty: what makes a bar harder, and what never does."""

from fractions import Fraction as F

import pytest
from bench.written import KIT, song

from fourlimb.arrange import arrange, difficulty, hardest, sections, whole
from fourlimb.arrange.surprise import surprise
from fourlimb.model import Section

PLAIN = "kick 1 3; snare 2 4; hat every 8th"


def value(line: str, bpm: float = 100) -> float:
    heard = song([line], bpm=bpm)
    return difficulty(arrange(heard, KIT).charts["full"], heard.grid, KIT)[1].value


@pytest.mark.parametrize(
    "harder",
    [
        "kick 1 2& 3; snare 2 4; hat every 8th",
        "kick 1 2a 3; snare 2 4; hat every 8th",
        "kick 1 3; snare 2 4; soft snare 2a 3e; hat every 8th",
        "kick 1 3; snare 2 4; hat every 16th",
        "kick 1 3; snare 2 4; hat 1 1& 2 2& 3 3& 4; open hat 4&",
        "kick 1 3; snare 2 4; hat every 8th; foot hat 1& 3&",
        "kick 1 3; flam snare 2; snare 4; hat 1 1& 2& 3 3& 4 4&",
    ],
)
def test_each_thing_that_teachers_call_harder_is_harder_than_the_plain_groove(harder: str) -> None:
    assert value(harder) > value(PLAIN)


@pytest.mark.parametrize("line", [PLAIN, "kick 1 1a 2& 3; snare 2 4; soft snare 2e; hat every 16th"])
def test_difficulty_never_falls_when_the_tempo_rises(line: str) -> None:
    values = [value(line, bpm) for bpm in (60, 80, 100, 120)]
    assert values == sorted(values)


def test_the_same_bar_is_equally_hard_wherever_it_stands() -> None:
    heard = song([PLAIN, "kick 1 2a 3; snare 2 4; hat every 8th", PLAIN])
    judged = difficulty(arrange(heard, KIT).charts["full"], heard.grid, KIT)
    assert judged[1].value == judged[3].value


def test_the_hardest_bar_is_named_with_its_reasons() -> None:
    heard = song([PLAIN, PLAIN, "snare 1 1e 1& 1a 2 2e 2& 2a; floor tom 3 3e 3& 3a 4 4e 4& 4a", PLAIN], bpm=130)
    assert hardest(arrange(heard, KIT).charts["full"], heard.grid, KIT).startswith("bar 3 is the hardest: ")


def test_an_empty_chart_has_no_hardest_bar() -> None:
    heard = song([""])
    assert hardest(arrange(heard, KIT).charts["full"], heard.grid, KIT) == ""


def test_kicks_where_drummers_rarely_play_are_harder_than_as_many_where_they_do() -> None:
    heard = {line: song([f"{line}; snare 2 4; hat every 16th"], bpm=80) for line in ("kick 1 3a", "kick 1 3e")}
    judged = {
        line: difficulty(arrange(one, KIT).charts["full"], one.grid, KIT)[1].factors for line, one in heard.items()
    }
    assert judged["kick 1 3e"]["surprise"] > judged["kick 1 3a"]["surprise"] > 0


def test_surprise_never_grows_when_a_stroke_is_left_out() -> None:
    for meter, places in (("4/4", 16), ("7/8", 14), ("6/8", 12)):
        for n in range(places):
            for drum in ("kick", "snare", "tom_high"):
                assert surprise(meter, F(n, 16), drum) >= 0


def test_music_that_repeats_later_is_harder_as_a_whole_bar_by_bar_the_same() -> None:
    other = "kick 1 2& 3; snare 2 4; hat every 8th"
    third = "kick 1 2& 3&; snare 2 4; hat every 8th"
    short, long = song([other, third] * 4), song([other, third, PLAIN, other.replace("3;", "3 4&;")] * 2)
    wholes = [whole(arrange(one, KIT).charts["full"], one.grid, KIT) for one in (short, long)]
    assert wholes[1].factors["length"] > wholes[0].factors["length"] > 0


def test_sections_are_judged_on_the_scale_of_the_whole() -> None:
    form = (Section(name="A", from_bar=1, to_bar=2), Section(name="B", from_bar=3, to_bar=4))
    heard = song([PLAIN, PLAIN, "kick 1 1a 2& 3e; snare 2 4; hat every 16th", PLAIN], bpm=110, sections=form)
    chart = arrange(heard, KIT).charts["full"]
    (_, first), (_, second) = sections(chart, heard.grid, KIT, form)
    assert first.value < whole(chart, heard.grid, KIT).value <= second.value
    assert first.value == pytest.approx(difficulty(chart, heard.grid, KIT)[1].value)


def test_no_level_has_a_higher_grade_than_the_one_above() -> None:
    heard = song(["kick 1 2& 3; snare 2 4; hat every 8th", "kick 1 2&; snare 2 4; hat every 8th"] * 3)
    grades = [chart.grade for chart in arrange(heard, KIT).charts.values()]
    assert grades == sorted(grades, reverse=True)
