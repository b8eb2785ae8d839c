"""Count lines."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.model import InputError, Stroke
from fourlimb.model.count import read_line
from fourlimb.model.grid import Skipped, regular
from fourlimb.model.places import bar_length, beat_starts
from fourlimb.teach.content import content_of
from fourlimb.teach.count import TRADITIONS, count_line, count_lines

from .written import METERS, strokes


def _count(text: str, meter: str = "4/4", tradition: str = "num-en") -> str:
    places = {place for line in text.split(";") if line.strip() for place in read_line(meter, line)[1]}
    return count_line(meter, sorted(places), tradition)


@pytest.mark.parametrize(
    ("text", "meter", "line"),
    [
        ("hat every 8th", "4/4", "1 & 2 & 3 & 4 &"),
        ("hat every 4th", "4/4", "1 2 3 4"),
        ("kick 1 2a 3", "4/4", "1 (2) (e) (&) a 3 (4)"),
        ("snare every 16th", "4/4", "1 e & a 2 e & a 3 e & a 4 e & a"),
        ("kick 1 4&", "4/4", "1 (2) (3) (4) &"),
        ("snare 3 3trip 3let", "4/4", "(1) (2) 3 trip let (4)"),
        ("hat every 8th", "6/8", "1 & a 2 & a"),
        ("hat every 8th", "12/8", "1 & a 2 & a 3 & a 4 & a"),
        ("hat every 8th", "7/8", "1 & 2 & 3 & a"),
        ("hat every 4th", "5/4", "1 2 3 4 5"),
        ("hat every 8th", "5/8", "1 & 2 & a"),
        ("hat every 16th", "6/8", "1 ta la ta li ta 2 ta la ta li ta"),
        ("snare 1+1/8 1", "4/4", "1 . (e) . (&) . (a) . (2) (3) (4)"),
        ("snare 1+1/5", "4/4", "(1) +1/5 (2) (3) (4)"),
        ("", "3/4", "(1) (2) (3)"),
    ],
)
def test_the_finest_grid_used_in_the_beat_is_counted_and_silent_places_stand_in_brackets(
    text: str, meter: str, line: str
) -> None:
    assert _count(text, meter) == line


@given(st.sampled_from(METERS), st.sampled_from(sorted(TRADITIONS)), st.sets(st.integers(0, 60), max_size=9))
def test_as_many_words_stand_free_as_places_are_played(meter: str, tradition: str, numbers: set[int]) -> None:
    places = sorted({F(n, 16) % bar_length(meter) for n in numbers})
    words = count_line(meter, places, tradition).split()
    assert sum(not word.startswith("(") for word in words) == len(places)


@given(st.sampled_from(METERS), st.sampled_from(sorted(TRADITIONS)))
def test_every_beat_of_a_silent_bar_is_thought(meter: str, tradition: str) -> None:
    words = count_line(meter, [], tradition).split()
    assert len(words) == len(beat_starts(meter))
    assert all(word[0] == "(" and word[-1] == ")" for word in words)


def test_a_slow_rung_is_counted_one_level_finer() -> None:
    assert count_line("4/4", [F(0), F(1, 2)], at_least=2) == "1 (&) (2) (&) 3 (&) (4) (&)"


def test_a_pickup_keeps_the_numbers_of_a_whole_bar() -> None:
    last = Skipped(3, "4/4", F(3, 4))
    bars = {0: content_of("1/4", strokes(0, "snare 1 1&", "1/4"), last), 1: content_of("4/4", strokes(1, "kick 1 3"))}
    assert count_lines(bars)[0] == "(1 2 3) 4 &"


@pytest.mark.parametrize(
    ("whole", "short", "line"),
    [
        ("4/4", "1/8", "(1 2 3) (4) &"),
        ("4/4", "3/8", "(1 2) (3) & 4 &"),
        ("3/4", "1/8", "(1 2) (3) &"),
        ("6/8", "1/8", "(1) (2) (&) a"),
        ("6/8", "2/8", "(1) (2) & a"),
        ("2/4", "3/8", "(1) & 2 &"),
        ("4/4", "1/16", "(1 2 3) (4) (e) (&) a"),
        ("4/4", "2/4", "(1 2) 3 & 4 &"),
    ],
)
def test_a_pickup_of_less_than_its_beats_is_counted_where_it_falls(whole: str, short: str, line: str) -> None:
    grid = regular([short, whole], 120, first_bar=0)
    step = F(1, 8) if not short.endswith("16") else F(1, 16)
    played = [F(0) + n * step for n in range(int(grid.length(0) / step))]
    hits = [Stroke(bar=0, position=at, piece="snare", limb="left hand") for at in played]
    assert count_lines({0: content_of(short, hits, grid.skipped(0))})[0] == line


@pytest.mark.parametrize(
    ("tradition", "line"),
    [
        ("num-en", "1 & 2 e & a 3 trip let 4"),
        ("eastman", "1 te 2 ti te ta 3 la li 4"),
        ("takadimi", "ta di ta ka di mi ta ki da ta"),
        ("kodaly", "ti ti ti ri ti ri tri o la ta"),
        ("de", "1 und 2 e und e 3 und die 4"),
        ("fr", "1 et 2 2 3 4 3 et a 4"),
        ("es", "1 y 2 e y a 3 y a 4"),
        ("pt", "1 e 2 e & a 3 e a 4"),
    ],
)
def test_each_tradition_has_its_row(tradition: str, line: str) -> None:
    assert _count("snare 1 1& 2 2e 2& 2a 3 3trip 3let 4", tradition=tradition) == line


def test_no_word_is_invented_where_a_tradition_has_none() -> None:
    assert count_line("4/4", [F(0), F(1, 20)], "kodaly") == "1 +1/5 (ta) (ta) (ta)"


def test_an_unknown_tradition_names_the_known_ones() -> None:
    with pytest.raises(InputError, match="num-en, eastman"):
        count_line("4/4", [], "morse")
