"""A count-in is not the first bar: what follows decides."""

import pytest

from fourlimb.mark import mark
from fourlimb.mark.countin import count_in
from fourlimb.model import Hit, Sound

from .takes import FILL, GROOVE, LANDING, chart_of, joined, play

CHART, GRID = chart_of([GROOVE] * 7 + [FILL, LANDING] + [GROOVE] * 3)


def _counts(places: list[float], sound: Sound = "rim", beat_s: float = 0.5, ends_s: float = 5.0) -> list[Hit]:
    """Strokes on these beats before the second at which the song begins."""
    return [
        Hit(id=0, time_s=ends_s + beat * beat_s, sound=sound, loudness_db=-9.0, confidence=1.0) for beat in places
    ]


ONE_BAR = [-4.0, -3.0, -2.0, -1.0]
TWO_BARS = [float(beat) for beat in range(-8, 0)]
ONE_TWO = [-8.0, -6.0, *ONE_BAR]


@pytest.mark.parametrize("places", [ONE_BAR, TWO_BARS, ONE_TWO])
def test_strokes_alone_and_even_before_the_first_bar_are_a_count_in(places: list[float]) -> None:
    take = play(CHART, GRID, start_s=5.0)
    assert count_in(joined(_counts(places), take)) == len(places)


def test_what_is_uneven_or_holds_a_kick_or_has_no_song_after_it_counts_nothing_in() -> None:
    take = play(CHART, GRID, start_s=5.0)
    assert count_in(take) == 0
    assert count_in(joined(_counts([-4.0, -2.9, -2.4, -1.0]), take)) == 0
    assert count_in(joined(_counts(ONE_BAR, "kick"), take)) == 0
    assert count_in(_counts(ONE_BAR)) == 0


def test_two_names_for_one_stick_are_one_count() -> None:
    both = sorted([*_counts(ONE_BAR), *_counts(ONE_BAR[1:], "cowbell")], key=lambda hit: hit.time_s)
    assert count_in(joined(both, play(CHART, GRID, start_s=5.0))) == 7


@pytest.mark.parametrize("places", [ONE_BAR, TWO_BARS, ONE_TWO])
@pytest.mark.parametrize("sound", ["rim", "snare", "hat_closed"])
def test_a_count_in_takes_no_bar_of_the_song(places: list[float], sound: Sound) -> None:
    marking = mark(joined(_counts(places, sound), play(CHART, GRID, start_s=5.0, to_bar=10)), CHART, GRID)
    assert (marking.take.from_bar, marking.take.to_bar) == (1, 10)
    assert [bar.say for bar in marking.bars if bar.say] == []
    assert marking.summary.score > 0.99


def test_a_song_that_begins_like_a_count_in_keeps_its_first_bar() -> None:
    chart, grid = chart_of(["hat 1 2 3 4", *[GROOVE] * 6, FILL, LANDING, GROOVE])
    take = play(chart, grid, start_s=5.0)
    assert count_in(take) == 4
    marking = mark(take, chart, grid)
    assert (marking.take.from_bar, marking.take.to_bar) == (1, 10)
    assert {stroke.verdict for stroke in marking.strokes} == {"played"}
