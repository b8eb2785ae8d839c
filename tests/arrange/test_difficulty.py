"""One scale of difficulty: what makes a bar harder, and what never does."""

import pytest
from bench.written import KIT, song

from fourlimb.arrange import arrange, difficulty, hardest

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
    assert hardest(arrange(heard, KIT).charts["full"], heard.grid, KIT).startswith("bar 3 is the hardest (")


def test_an_empty_chart_has_no_hardest_bar() -> None:
    heard = song([""])
    assert hardest(arrange(heard, KIT).charts["full"], heard.grid, KIT) == ""
