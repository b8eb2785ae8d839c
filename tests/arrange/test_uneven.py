"""Levels in meters whose beats are not alike, and what must not be lost where a fill meets the next bar."""

from fractions import Fraction as F

import pytest
from bench.written import song
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.arrange import arrange
from fourlimb.model import Hit, Kit, Level, Listening, Section, Song, Sound, Stroke
from fourlimb.model.grid import regular
from fourlimb.model.places import bar_length, beat_starts

SEVEN = "kick 1 3; snare 2 3&; ride every 8th"


def struck(strokes: tuple[Stroke, ...], *pieces: Sound) -> list[F]:
    return sorted(s.position for s in strokes if s.piece in pieces)


@pytest.mark.parametrize("meter", ["7/8", "3+2+2/8", "2+3/8"])
def test_even_time_in_uneven_beats_is_every_eighth(meter: str) -> None:
    heard = song(["kick 1; snare 2; ride every 8th"] * 4, bpm=120, meter=meter)
    steady = arrange(heard, Kit()).charts["steady"]
    eighths = [F(n, 8) for n in range(int(heard.grid.length(2) * 8))]
    assert struck(steady.by_bar[2], "ride") == eighths


def test_the_backbeat_of_the_long_beat_stays_at_bones() -> None:
    bones = arrange(song([SEVEN] * 4, bpm=110, meter="7/8"), Kit()).charts["bones"]
    assert struck(bones.by_bar[2], "snare") == [F(1, 4), F(5, 8)]
    assert struck(bones.by_bar[2], "ride") == [F(0), F(1, 4), F(1, 2)]


def test_sixteenths_of_the_long_beat_go_at_bones() -> None:
    heard = song(["kick 1 3 3+1/2; snare 2 3+5/6; ride every 8th"] * 4, bpm=90, meter="7/8")
    bones = arrange(heard, Kit()).charts["bones"].by_bar[2]
    assert struck(bones, "kick", "snare") == [F(0), F(1, 4), F(1, 2)]


@pytest.mark.parametrize("level", ["full", "steady"])
def test_a_fill_gives_way_to_the_crash_it_lands_on(level: Level) -> None:
    groove, fill = "kick 1 3; snare 2 4; hat every 8th", "kick 1; snare 3 3& 4 4e 4& 4a; hat 1 1& 2 2&"
    landing = "crash 1; kick 1 3; snare 2 4; hat 1& 2 2& 3 3& 4 4&"
    sections = (Section(name="A", from_bar=1, to_bar=4), Section(name="B", from_bar=5, to_bar=8))
    heard = song([*[groove] * 3, fill, landing, *[groove] * 3], bpm=150, sections=sections)
    chart = arrange(heard, Kit()).charts[level]
    assert struck(chart.by_bar[5], "crash") == [F(0)]
    assert {F(1, 2), F(5, 8), F(3, 4)} <= set(struck(chart.by_bar[4], "snare"))


def test_where_a_hand_has_time_for_one_of_two_the_one_stays() -> None:
    """From an open hat on 4& to the ride on 1 the hand needs more than the eighth it has."""
    before = "kick 1 3; snare 2 4; hat 1 1& 2 2& 3 3& 4; open hat 4&"
    heard = song([before, "kick 1 3; snare 2 4; ride every 8th"] * 3, bpm=150)
    steady = arrange(heard, Kit()).charts["steady"]
    assert all(F(0) in struck(steady.by_bar[bar], "ride") for bar in (2, 4, 6))


def test_a_bar_of_bones_that_began_with_the_other_hand_is_no_bar_of_steady() -> None:
    """A crash on 1 before a ride in quarters: with the hand that plays it above, the bar is as easy as it should be."""
    ride = "kick 1 2& 4; snare 3 5; ride every 8th"
    crash = "crash 1; kick 1 2& 4; snare 3 5; ride 1& 2 2& 3 3& 4 4& 5 5&"
    heard = song([ride, ride, crash, *[ride] * 5], bpm=118, meter="5/4")
    bones = arrange(heard, Kit()).charts["bones"]
    assert struck(bones.by_bar[3], "ride") == [F(n, 4) for n in range(1, 5)]


METERS = ("4/4", "3/4", "2/4", "5/4", "7/8", "6/8", "12/8")


def kicked(meter: str, bpm: float, bars: list[set[int]]) -> Listening:
    """Bars of eighths on the hat and a backbeat, each with its own kicks (by sixteenth, counted round)."""
    grid, beats = regular([meter] * len(bars), bpm), beat_starts(meter)
    hits: list[Hit] = []
    for bar, kicks in enumerate(bars, 1):
        places = [F(n, 16) for n in range(int(bar_length(meter) * 16))]
        rows: list[tuple[Sound, list[F]]] = [
            ("kick", sorted({places[n % len(places)] for n in kicks})),
            ("snare", list(beats[1::2])),
            ("hat_closed", places[::2]),
        ]
        hits += [
            Hit(id=len(hits) + n, time_s=grid.time_at(bar, at), sound=sound, loudness_db=-10.0, confidence=1.0,
                bar=bar, position=at)
            for n, (sound, at) in enumerate((sound, at) for sound, ats in rows for at in ats)
        ]  # fmt: skip
    return Listening(song=Song(duration_s=grid.end_s, sample_rate_hz=0, sha256=""), grid=grid, hits=tuple(hits))


@pytest.mark.parametrize("meter", METERS)
@given(
    bpm=st.integers(70, 170),
    bars=st.lists(st.sets(st.sampled_from(range(0, 20, 2)), min_size=2, max_size=5), min_size=2, max_size=4),
)
@settings(max_examples=40, deadline=None)
def test_bones_keep_time_alike_in_every_bar_whatever_the_kick_does(
    meter: str, bpm: int, bars: list[set[int]]
) -> None:
    bones = arrange(kicked(meter, bpm, bars), Kit()).charts["bones"]
    for bar in range(1, len(bars) + 1):
        assert struck(bones.by_bar.get(bar, ()), "hat_closed") == list(beat_starts(meter))
        assert set(beat_starts(meter)[1::2]) <= set(struck(bones.by_bar[bar], "snare"))


def test_a_kick_that_goes_so_that_bones_stay_plain_says_why() -> None:
    heard = kicked("5/4", 118, [{0, 8}, {0, 6, 10, 14}, {0, 8}])
    made = arrange(heard, Kit())
    told = [r for r in made.reasons if r.rule == "no harder than above"]
    assert {(r.what, r.bar, r.sound, r.levels) for r in told} == {("dropped", 2, "kick", ("bones",))}
    gone = {h for r in told for h in r.hits}
    assert not gone & {h for s in made.charts["bones"].strokes for h in s.hits}
    assert gone <= {h for s in made.charts["steady"].strokes for h in s.hits}
