"""Groups of bars told from earlier groups."""

import re

from hypothesis import given, settings

from fourlimb.model import Chart, Grid, Section
from fourlimb.model.grid import regular
from fourlimb.teach import phrases
from fourlimb.teach.changes import apply_changes
from fourlimb.teach.content import contents

from .written import FILL, GROOVE, RIDE, chart, song, songs


def _say(bars: list[str], sections: list[Section] | None = None) -> list[str]:
    return [phrase.say for phrase in phrases(*song(bars), sections or [])]


@settings(max_examples=80, deadline=None)
@given(songs())
def test_every_bar_told_gives_that_bar_exactly_and_from_an_earlier_one(given_song: tuple[Chart, Grid]) -> None:
    bars = contents(*given_song)
    for phrase in phrases(*given_song):
        for told in phrase.bars:
            assert told.like is None or told.like < told.bar
            before = bars[told.like] if told.like is not None else bars[told.bar].empty
            assert apply_changes(before, told.changes) == bars[told.bar]


@settings(max_examples=80, deadline=None)
@given(songs())
def test_phrases_cover_the_song_once_and_in_order(given_song: tuple[Chart, Grid]) -> None:
    told = phrases(*given_song)
    assert [one.bar for phrase in told for one in phrase.bars] == list(given_song[1].numbers)
    for phrase in told:
        assert (phrase.from_bar, phrase.to_bar) == (phrase.bars[0].bar, phrase.bars[-1].bar)
        assert "\n" not in phrase.say


def test_four_bars_with_one_kick_moved_are_told_in_one_sentence() -> None:
    four = [GROOVE, GROOVE, GROOVE, f"{GROOVE} 4&"]
    other = [RIDE, RIDE, RIDE, FILL]
    moved = [GROOVE, GROOVE, GROOVE, f"{GROOVE} 4a"]
    say = _say([*four, *other, *moved])
    assert say[-1] == "bars 9-12 are bars 1-4, but in bar 12 the kick on 4& moves to 4a"


def test_eight_bars_played_again_are_said_to_be() -> None:
    eight = [GROOVE, RIDE, GROOVE, FILL, RIDE, GROOVE, RIDE, f"{GROOVE} 4a"]
    assert _say([*eight, *eight])[-1] == "bars 9-16 are bars 1-8 again"


def test_a_change_that_runs_through_is_said_once() -> None:
    four = [GROOVE, GROOVE, GROOVE, f"{GROOVE} 4&"]
    say = _say([*four, *(bar.replace("hat", "ride") for bar in four)])
    assert say[-1] == "bars 5-8 are bars 1-4, but in every bar the hat part goes to the ride"


def test_another_ending_is_told_from_its_beat() -> None:
    say = _say([GROOVE, GROOVE, GROOVE, f"{GROOVE} 4&", GROOVE, GROOVE, GROOVE, FILL])
    assert say[-1] == (
        "bars 5-8 are bars 1-4, but in bar 8 from beat 3: snare on every 16th of beat 3; high tom on 4 and 4e; "
        "floor tom on 4& and 4a"
    )


def test_a_bar_met_before_is_named_rather_than_described() -> None:
    say = _say([GROOVE, RIDE, GROOVE, FILL, GROOVE, RIDE, GROOVE, RIDE])
    assert say[-1] == "bars 5-8 are bars 1-4, but bar 8 is as bar 2"


def test_one_bar_over_and_over_is_counted() -> None:
    assert _say([GROOVE] * 12)[-1] == "bars 5-12 are bar 1, eight times"


def test_silences_stand_alone() -> None:
    assert "bars 5-6 are silent" in _say([GROOVE, RIDE, GROOVE, FILL, "", "", GROOVE, GROOVE])
    assert _say([""]) == ["bar 1 is silent"]


def test_phrases_start_where_sections_start() -> None:
    sections = [Section(name="A", from_bar=1, to_bar=3), Section(name="B", from_bar=4, to_bar=8)]
    told = phrases(*song([GROOVE, GROOVE, FILL, RIDE, RIDE, RIDE, RIDE, FILL]), sections)
    assert 4 in {phrase.from_bar for phrase in told}


def test_a_pickup_is_its_own_phrase() -> None:
    given_chart, grid = song({0: "snare 1", 1: GROOVE, 2: GROOVE}, ["1/4", "4/4", "4/4"])
    assert [phrase.from_bar for phrase in phrases(given_chart, grid)] == [0, 1]


def test_songs_of_nothing_and_of_one_bar() -> None:
    assert phrases(chart([]), Grid(beats=(), bars=())) == ()
    assert _say([GROOVE]) == ["bar 1: hat on every 8th; snare on 2 and 4; kick on 1, 2& and 3"]
    assert [phrase.say for phrase in phrases(chart([]), regular(["7/8"] * 3, 90))] == ["bars 1-3 are silent"]


def test_several_bars_are_as_another_and_one_bar_is() -> None:
    other = "kick every beat; snare 1& 2& 3& 4&; hat every 8th"
    told = _say([*["kick every beat"] * 4, *[GROOVE] * 4, *[other] * 8])
    assert any("bars 13-16 are as bar 9" in say for say in told)


@given(songs())
@settings(max_examples=40)
def test_no_bars_is(made: tuple[Chart, Grid]) -> None:
    for phrase in phrases(*made):
        assert not re.search(r"\bbars [\d, and-]+ is\b", phrase.say)
        assert not re.search(r"\b(every bar|bar \d+) are\b", phrase.say)
