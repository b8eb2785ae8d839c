"""Bars anyone can recognise."""

from fourlimb.model import Chart, FeelSpan, Grid, Landmark, Section
from fourlimb.model.grid import from_tempi
from fourlimb.teach import find_landmarks, landmark_words

from .written import GROOVE, chart, song


def _marks(given_chart: Chart, grid: Grid) -> list[tuple[int, str]]:
    return [(mark.bar, mark.what) for mark in find_landmarks(given_chart, grid)]


def test_stops_breaks_and_entries_are_landmarks() -> None:
    given = song([GROOVE, GROOVE, "", "", GROOVE, "kick 1 2 3 4", GROOVE])
    assert _marks(*given) == [
        (3, "drums stop"),
        (5, "drums come in"),
        (6, "kick alone"),
        (7, "the whole kit comes in"),
    ]


def test_the_silence_that_ends_a_song_is_no_landmark() -> None:
    assert _marks(*song([GROOVE, "", GROOVE, "", ""])) == [(2, "drums stop"), (3, "drums come in")]


def test_a_doubled_tempo_and_a_new_meter_are_landmarks() -> None:
    grid = from_tempi([("4/4", 80.0), ("4/4", 160.0), ("3/4", 160.0)])
    assert _marks(song([GROOVE, GROOVE, "hat every 8th; kick 1"], ["4/4", "4/4", "3/4"])[0], grid) == [
        (2, "the tempo doubles"),
        (3, "the meter changes to 3/4"),
    ]


def test_a_half_time_part_is_a_landmark_where_it_starts_and_ends() -> None:
    given_chart, grid = song([GROOVE] * 4)
    felt = Grid(
        beats=grid.beats, bars=grid.bars, end_s=grid.end_s, feel=(FeelSpan(from_bar=2, to_bar=3, feel="half-time"),)
    )
    assert _marks(given_chart, felt) == [(2, "half-time feel"), (4, "ordinary time again")]


def test_a_song_without_drums_has_none() -> None:
    assert _marks(chart([]), song(["", ""])[1]) == []


def test_landmarks_are_said_with_their_section() -> None:
    sections = [Section(name="B", from_bar=9, to_bar=16)]
    assert landmark_words([Landmark(bar=9, what="drums stop")], sections) == ("bar 9 (section B): the drums stop",)
