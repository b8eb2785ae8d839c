"""What a drum teacher would not hand out: one test for the general cause of each thing found in songs read as parts."""

from fractions import Fraction as F
from typing import Final

import pytest
from bench.reading import PIECES, Piece
from bench.written import song
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.arrange import aim, arrange, check
from fourlimb.model import LEVELS, Chart, Kit, Sound, Stroke
from fourlimb.model.places import beat_starts

GROOVE: Final = "kick 1 3; snare 2 4; hat every 8th"
TOMS: Final = ("tom_high", "tom_mid", "tom_floor")


def hands(chart: Chart, bar: int) -> str:
    """The letters of a bar's hands in order, one a place."""
    return "".join(s.letter or "" for s in chart.by_bar[bar] if s.limb.endswith("hand"))


def places(strokes: tuple[Stroke, ...], *pieces: Sound) -> list[F]:
    return sorted(s.position for s in strokes if s.piece in pieces)


@given(bpm=st.integers(110, 200), drums=st.lists(st.sampled_from(["snare", *TOMS]), min_size=4, max_size=4))
@settings(max_examples=50, deadline=None)
def test_a_run_of_sixteenths_is_singles_or_doubles_all_through(bpm: int, drums: list[str]) -> None:
    names = {"snare": "snare", "tom_high": "high tom", "tom_mid": "mid tom", "tom_floor": "floor tom"}
    fill = "; ".join(f"{names[drum]} {beat} {beat}e {beat}& {beat}a" for beat, drum in enumerate(drums, 1))
    found = hands(arrange(song([GROOVE, fill, GROOVE, GROOVE], bpm=bpm), Kit()).charts["full"], 2)
    beats = {found[n : n + 4] for n in range(0, len(found), 4)}
    assert beats in ({"RLRL"}, {"RRLL"})


def test_a_fill_in_the_sixteenths_of_six_eight_starts_with_the_leading_hand_and_takes_turns() -> None:
    fill = "kick 1; hat 1 1& 1a; snare 2 2+1/6 2+2/6; high tom 2+3/6 2+4/6; floor tom 2+5/6"
    plain = "kick 1; snare 2; hat every 8th"
    full = arrange(song([plain, plain, fill, plain], bpm=90, meter="6/8"), Kit()).charts["full"]
    assert hands(full, 3) == "RRR" + "RLRLRL"


FILLS: Final = (
    "snare every 16th",
    "snare 1 1e 1& 1a; high tom 2 2e 2& 2a; mid tom 3 3e 3& 3a; floor tom 4 4e 4& 4a",
    "snare 1 1& 2 2& 3 3e 3& 3a 4 4e 4& 4a",
    "snare 1 1e 1& 1a 2 2e 2& 2a; floor tom 3 3e 3& 3a 4 4e 4& 4a",
)


@pytest.mark.parametrize("fill", FILLS)
@pytest.mark.parametrize("bpm", [160, 180, 200, 220])
def test_a_fill_too_fast_for_this_player_is_in_eighths_without_gaps(bpm: float, fill: str) -> None:
    landing = "crash 1; kick 1 3; snare 2 4; hat 1& 2 2& 3 3& 4 4&"
    heard = song([GROOVE, GROOVE, fill, landing, GROOVE, fill, GROOVE], bpm=bpm)
    made = arrange(heard, Kit())
    for bar in (3, 6):
        struck = places(made.charts["steady"].by_bar[bar], "snare", *TOMS)
        assert struck == [F(n, 8) for n in range(8)]
    told = {h for r in made.reasons if "steady" in r.levels for h in r.hits}
    told |= {h for s in made.charts["steady"].strokes for h in s.hits}
    assert told == {h.id for h in heard.hits}


def test_a_fill_this_player_can_play_stays_as_it_is() -> None:
    steady = arrange(song([GROOVE, FILLS[1], GROOVE], bpm=100), Kit()).charts["steady"]
    assert places(steady.by_bar[2], "snare", *TOMS) == [F(n, 16) for n in range(16)]


@given(bpm=st.integers(140, 200), fills=st.lists(st.booleans(), min_size=4, max_size=8))
@settings(max_examples=30, deadline=None)
def test_what_a_foot_cannot_keep_up_goes_alike_in_bars_that_differ_and_never_the_one(
    bpm: int, fills: list[bool]
) -> None:
    bars = [f"kick every 4th; {'snare every 8th' if fill else 'snare 2 4; ride every 4th'}" for fill in fills]
    bones = arrange(song(bars, bpm=bpm), Kit()).charts["bones"]
    kicks = [places(bones.by_bar[bar], "kick") for bar in range(1, len(bars) + 1)]
    assert all(found == kicks[0] for found in kicks)
    assert {F(0), F(1, 2)} <= set(kicks[0])


CONGAS: Final = "kick 1 3; rim 2 4; hat every 8th; high tom 2& 3&; floor tom 4&"


def test_toms_that_come_in_every_bar_are_no_fill_time_is_even_and_bones_leave_them() -> None:
    charts = arrange(song([CONGAS] * 8, bpm=100), Kit()).charts
    for bar in range(1, 9):
        assert places(charts["steady"].by_bar[bar], "hat_closed") == [F(n, 8) for n in range(8)]
        assert places(charts["bones"].by_bar[bar], "hat_closed") == [F(n, 4) for n in range(4)]
        assert places(charts["full"].by_bar[bar], *TOMS) == places(charts["steady"].by_bar[bar], *TOMS)
        assert not places(charts["bones"].by_bar[bar], *TOMS)


def test_a_teacher_may_ask_for_a_groove_without_its_toms() -> None:
    heard = song([CONGAS] * 8, bpm=100)
    full = arrange(heard, Kit()).charts["full"]
    chart, _, reasons = aim("no groove toms", full, heard.grid, Kit())
    assert not [s for s in chart.strokes if s.piece in TOMS]
    assert len(chart.strokes) == len(full.strokes) - 8 * 3
    assert len([r for r in reasons if r.rule == "toms of a groove left out"]) == 8 * 3


def test_a_fill_every_fourth_bar_is_a_fill() -> None:
    fill = "kick 1 3; snare 2; hat 1 1& 2 2&; high tom 3 3&; floor tom 4 4&"
    bones = arrange(song([GROOVE, GROOVE, GROOVE, fill] * 4, bpm=100), Kit()).charts["bones"]
    assert all(places(bones.by_bar[bar], *TOMS) == [F(n, 8) for n in (4, 5, 6, 7)] for bar in (4, 8, 12, 16))


@pytest.mark.parametrize("bpm", [120, 160, 200])
def test_time_kept_on_the_crash_stays_on_the_crash_in_every_bar(bpm: float) -> None:
    bars = ["kick 1 3; snare 2 4; crash every 4th", "kick 1 1& 2& 3 3& 4&; snare 2 4; crash every 4th"] * 2
    charts = arrange(song(bars, bpm=bpm), Kit()).charts
    for level in ("steady", "bones"):
        assert all(places(charts[level].by_bar[bar], "crash") == [F(n, 4) for n in range(4)] for bar in range(1, 5))
        assert not [s for s in charts[level].strokes if s.piece == "hat_closed"]


def test_time_kept_on_the_floor_tom_is_on_the_beats_at_bones_and_no_fill() -> None:
    bars = ["kick 1 3; snare 2 4; floor tom every 8th"] * 4
    bones = arrange(song(bars, bpm=110), Kit()).charts["bones"]
    assert all(places(bones.by_bar[bar], "tom_floor") == [F(n, 4) for n in range(4)] for bar in range(1, 5))


@pytest.mark.parametrize(("meter", "last"), [("4/4", 4), ("5/4", 5), ("3/4", 3)])
def test_one_tom_on_the_last_off_beat_leaves_the_time_of_bones_on_the_beats(meter: str, last: int) -> None:
    plain = "kick 1; snare 2; ride every 8th"
    bones = arrange(song([plain, plain, f"{plain}; high tom {last}&"] * 2, bpm=110, meter=meter), Kit()).charts[
        "bones"
    ]
    beats = [F(n, 4) for n in range(last)]
    assert all(places(bones.by_bar[bar], "ride") == beats for bar in range(1, 7))


@pytest.mark.parametrize(("meter", "fill", "beats"), [
    ("4/4", "kick 1; snare 2 2& 3 3&; floor tom 4 4&; hat 1 1&", 1),
    ("5/4", "kick 1; snare 3 3&; floor tom 4 4& 5 5&; hat 1 1& 2 2&", 2),
    ("3/4", "kick 1; snare 2 2&; floor tom 3 3&; hat 1 1&", 1),
    ("7/8", "kick 1; snare 2 2&; floor tom 3 3& ; hat 1 1&", 1),
])  # fmt: skip
def test_before_a_fill_the_hand_of_steady_goes_on_as_in_the_other_bars(meter: str, fill: str, beats: int) -> None:
    plain = "kick 1; snare 2; hat every 8th"
    steady = arrange(song([plain, plain, plain, fill] * 2, bpm=110, meter=meter), Kit()).charts["steady"]
    for bar in (4, 8):
        assert places(steady.by_bar[bar], "hat_closed") == [F(n, 8) for n in range(2 * beats)]


def test_a_high_tom_now_and_then_leaves_time_on_the_floor_tom_to_one_hand() -> None:
    jungle = "kick 1 3; floor tom every 8th; snare 2 4"
    made = arrange(song([jungle, f"{jungle}; high tom 4& 4a", jungle, jungle], bpm=112), Kit())
    strokes = made.charts["full"].by_bar[2]
    assert {s.letter for s in strokes if s.piece == "tom_floor"} == {"R"}
    assert places(made.charts["bones"].by_bar[2], "tom_floor") == [F(n, 4) for n in range(4)]


@pytest.mark.parametrize("second", ["cowbell every 4th", "ride every 4th"])
def test_of_two_lines_at_once_one_hand_keeps_the_fuller_and_says_so(second: str) -> None:
    heard = song([f"kick 1 3; snare 2 4; hat every 8th; {second}"] * 4, bpm=110)
    made = arrange(heard, Kit())
    strokes = made.charts["full"].by_bar[2]
    assert {s.letter for s in strokes if s.piece == "hat_closed"} == {"R"}
    assert places(strokes, "hat_closed") == [F(n, 8) for n in range(8)]
    assert not places(strokes, "ride", "ride_bell", "cowbell")
    told = [r for r in made.reasons if r.rule == "one line"]
    assert len(told) == 16
    assert {r.levels for r in told} == {("full", "steady", "bones")}


def test_two_lines_in_two_free_hands_stay() -> None:
    full = arrange(song(["kick 1 3; hat 1& 2& 3& 4&; ride every 4th"] * 4, bpm=100), Kit()).charts["full"]
    assert len(places(full.by_bar[2], "ride")) == 4
    assert len(places(full.by_bar[2], "hat_closed")) == 4


@pytest.mark.parametrize("bpm", [90, 110, 130])
def test_a_train_beat_is_singles_with_the_accents_in_one_hand(bpm: float) -> None:
    loud = "loud snare 1& 2& 3& 4&; soft snare 1 1e 1a 2 2e 2a 3 3e 3a 4 4e 4a; kick every 4th"
    full = arrange(song([loud] * 4, bpm=bpm), Kit()).charts["full"]
    assert all(hands(full, bar) == "RLRL" * 4 for bar in range(1, 5))


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
def test_songs_of_many_styles_are_playable_and_nothing_goes_without_a_word(piece: Piece) -> None:
    heard = piece.listening()
    made = arrange(heard, Kit())
    for level in LEVELS:
        chart = made.charts[level]
        assert not check(chart, heard.grid, Kit())
        told = {h for s in chart.strokes for h in s.hits}
        told |= {h for r in made.reasons if level in r.levels for h in r.hits}
        assert told >= {h.id for h in heard.hits}


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
def test_bones_of_songs_of_many_styles_keep_time_on_the_beats_alone(piece: Piece) -> None:
    heard = piece.listening()
    bones = arrange(heard, Kit()).charts["bones"]
    for bar in heard.grid.numbers:
        time = places(bones.by_bar.get(bar, ()), "hat_closed", "hat_open", "ride", "ride_bell", "cowbell")
        assert set(time) <= set(beat_starts(heard.grid.meter(bar)))
