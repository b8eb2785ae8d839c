"""Doubt settled by what goes on: only doubtful strokes change, and each change has its reason."""

from fractions import Fraction as F
from typing import Any

import msgspec
from bench.written import KIT, song

from fourlimb.arrange import arrange, stickings
from fourlimb.model import Hit, Listening, Sound

GROOVE = "kick 1 3; snare 2 4; ride every 8th"


def with_hit(heard: Listening, bar: int, position: F, sound: Sound, sure: float, **more: Any) -> Listening:
    """The song with a hit in place of what stood on that place's time-keeper, or beside it."""
    new = Hit(id=900, time_s=0.0, sound=sound, loudness_db=-10, confidence=sure, bar=bar, position=position, **more)
    kept = tuple(h for h in heard.hits if (h.bar, h.position, h.sound) != (bar, position, "ride"))
    return msgspec.structs.replace(heard, hits=(*kept, new))


def written(heard: Listening, bar: int) -> set[tuple[F, str]]:
    return {(s.position, s.piece) for s in arrange(heard, KIT).charts["full"].by_bar[bar]}


def test_a_single_doubtful_hat_inside_a_running_ride_is_the_ride_with_a_reason() -> None:
    heard = with_hit(song([GROOVE] * 4), 2, F(3, 8), "hat_open", 0.6)
    made = arrange(heard, KIT)
    assert (F(3, 8), "ride") in {(s.position, s.piece) for s in made.charts["full"].by_bar[2]}
    (reason,) = [r for r in made.reasons if 900 in r.hits and r.rule == "doubt"]
    assert (reason.what, reason.to) == ("moved", "ride")


def test_a_sure_hat_inside_a_running_ride_stays() -> None:
    assert (F(3, 8), "hat_open") in written(with_hit(song([GROOVE] * 4), 2, F(3, 8), "hat_open", 0.95), 2)


def test_what_the_teacher_wrote_stays_however_lonely() -> None:
    heard = with_hit(song([GROOVE] * 4), 2, F(3, 8), "hat_open", 0.3, by="teacher")
    assert (F(3, 8), "hat_open") in written(heard, 2)


def test_a_pattern_that_changes_for_good_is_followed() -> None:
    heard = song([GROOVE] * 3 + ["kick 1 3; snare 2 4; hat every 8th"] * 3)
    doubted = tuple(msgspec.structs.replace(h, confidence=0.6) for h in heard.hits)
    heard = msgspec.structs.replace(heard, hits=doubted)
    assert (F(0), "hat_closed") in written(heard, 5)
    assert (F(0), "ride") in written(heard, 2)


def test_a_doubtful_hat_with_a_crash_on_1_is_left_out() -> None:
    heard = song(["crash 1; kick 1 3; snare 2 4; hat every 8th"] * 2)
    doubted = tuple(msgspec.structs.replace(h, confidence=0.6) for h in heard.hits)
    assert (F(0), "hat_closed") not in written(msgspec.structs.replace(heard, hits=doubted), 1)
    assert (F(0), "hat_closed") in written(heard, 1)


def test_a_faint_triplet_stroke_in_a_beat_of_sixteenths_goes() -> None:
    heard = song(["kick 1 3; snare 2 2a 4; hat every 8th"] * 3)
    heard = with_hit(heard, 2, F(1, 4) + F(1, 12), "snare", 0.6)
    assert (F(1, 3), "snare") not in written(heard, 2)


def test_bars_alike_but_for_a_doubtful_stroke_become_one_figure() -> None:
    heard = with_hit(song([GROOVE] * 6), 4, F(7, 16), "ride", 0.5)
    charts = arrange(heard, KIT).charts
    assert [(s.position, s.piece) for s in charts["full"].by_bar[4]] == [
        (s.position, s.piece) for s in charts["full"].by_bar[3]
    ]


def test_a_stroke_that_the_ears_missed_is_added_only_where_like_bars_have_it_and_the_ears_are_unsure() -> None:
    heard = song([GROOVE] * 6)
    gap = tuple(h for h in heard.hits if (h.bar, h.position, h.sound) != (3, F(5, 8), "ride"))
    sure = msgspec.structs.replace(heard, hits=gap)
    unsure = msgspec.structs.replace(
        heard, hits=tuple(msgspec.structs.replace(h, confidence=0.7) if h.sound == "ride" else h for h in gap)
    )
    assert (F(5, 8), "ride") not in written(sure, 3)
    assert (F(5, 8), "ride") in written(unsure, 3)
    (reason,) = [r for r in arrange(unsure, KIT).reasons if r.what == "added" and r.rule == "one figure"]
    assert reason.bar == 3


def test_a_hand_that_rides_a_crash_keeps_time_with_it_and_the_other_has_the_snare() -> None:
    heard = song(["kick 1 1& 3 3&; snare 2 4; crash 1 1& 2 2& 3 3& 4 4&"] * 2, bpm=140)
    chart = arrange(heard, KIT).charts["full"]
    assert {s.letter for s in chart.strokes if s.piece == "crash"} == {"R"}
    assert {s.letter for s in chart.strokes if s.piece == "snare"} == {"L"}
    assert stickings(chart, heard.grid) == ()


def test_a_snare_between_ghost_and_stroke_follows_its_place_in_the_other_bars() -> None:
    heard = song(["kick 1 3; snare 2 4; soft snare 2a; hat every 8th"] * 5)
    hits = tuple(
        msgspec.structs.replace(h, loudness_db=-20.5) if (h.bar, h.position) == (3, F(7, 16)) else h
        for h in heard.hits
    )
    made = arrange(msgspec.structs.replace(heard, hits=hits), KIT).charts["full"]
    assert all(s.ghost for s in made.strokes if s.position == F(7, 16))
