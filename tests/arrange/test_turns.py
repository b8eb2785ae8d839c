"""Sixteenths with a hat heard under the backbeat: one hand keeps them all, or both take turns and the hat gives way."""

from fractions import Fraction as F
from itertools import pairwise
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.arrange import Arrangement, arrange, check
from fourlimb.arrange.limits import Player
from fourlimb.model import LEVELS, Hit, Kit, Listening, Song, Sound, Stroke
from fourlimb.model.grid import regular
from fourlimb.model.places import bar_length

Rows = dict[Sound, list[F]]
ALL: Final = [F(n, 16) for n in range(16)]
BACKBEAT: Final = [F(1, 4), F(3, 4)]
BARS: Final = 4
RULE: Final = "hands in turn"


def heard_as(bpm: float, rows: Rows, meter: str = "4/4", by_teacher: tuple[Sound, ...] = ()) -> Listening:
    grid = regular([meter] * BARS, bpm)
    struck = sorted((bar, at, sound) for bar in grid.numbers for sound, ats in rows.items() for at in ats)
    hits = tuple(
        Hit(id=n, time_s=grid.time_at(bar, at), sound=sound, loudness_db=-10.0, confidence=1.0, bar=bar, position=at,
            by="teacher" if sound in by_teacher else "ears")
        for n, (bar, at, sound) in enumerate(struck)
    )  # fmt: skip
    return Listening(song=Song(duration_s=grid.end_s, sample_rate_hz=0, sha256=""), grid=grid, hits=hits)


def arranged(bpm: float, rows: Rows, meter: str = "4/4", player: Player = "intermediate") -> Arrangement:
    return arrange(heard_as(bpm, rows, meter), Kit(), player=player)


def hands(made: Arrangement, bar: int = 2) -> dict[F, list[Stroke]]:
    found: dict[F, list[Stroke]] = {}
    for stroke in made.charts["full"].by_bar[bar]:
        if stroke.limb.endswith("hand"):
            found.setdefault(stroke.position, []).append(stroke)
    return found


def letters(made: Arrangement) -> str:
    return " ".join("".join(sorted(s.letter or "" for s in at)) for _, at in sorted(hands(made).items()))


@pytest.mark.parametrize("bpm", [96, 115, 130, 150, 170])
def test_hands_in_turn_leave_the_hat_out_where_one_lands_on_the_snare(bpm: float) -> None:
    made = arranged(bpm, {"kick": [F(0)], "hat_closed": ALL, "snare": BACKBEAT})
    assert letters(made) == " ".join(["R L"] * 8)
    assert {at: [s.piece for s in hands(made)[at]] for at in BACKBEAT} == {at: ["snare"] for at in BACKBEAT}


@pytest.mark.parametrize("bpm", [60, 80, 88])
def test_one_hand_that_is_fast_enough_keeps_them_all(bpm: float) -> None:
    made = arranged(bpm, {"hat_closed": ALL, "snare": BACKBEAT})
    assert letters(made) == " ".join("LR" if at in BACKBEAT else "R" for at in ALL)
    assert not [r for r in made.reasons if r.rule == RULE]


@given(
    bpm=st.integers(40, 180),
    player=st.sampled_from(["beginner", "intermediate", "advanced"]),
    meter=st.sampled_from(["4/4", "3/4", "2/4", "5/4", "7/8", "6/8", "12/8"]),
    snares=st.sets(st.integers(0, 23), min_size=1, max_size=4),
)
@settings(max_examples=60, deadline=None)
def test_a_run_is_all_in_one_hand_or_all_in_turns(bpm: int, player: Player, meter: str, snares: set[int]) -> None:
    places = [F(n, 16) for n in range(int(bar_length(meter) * 16))]
    rows: Rows = {"hat_closed": places, "snare": sorted(places[n] for n in snares if n < len(places)) or places[4:5]}
    heard = heard_as(bpm, rows, meter)
    made = arrange(heard, Kit(), player=player)
    assert not check(made.charts["full"], heard.grid, Kit())
    strokes = hands(made)
    both = [at for at, struck in strokes.items() if len(struck) == 2]
    time = {s.letter for at in strokes for s in strokes[at] if s.piece == "hat_closed"}
    if both:  # one hand keeps it: nothing is left out
        assert time == {"R"}
        assert both == rows["snare"]
    elif not time <= {"R"}:  # in turn: every place one stroke, no hand twice in a row
        assert sorted(strokes) == places
        sides = [strokes[at][0].letter for at in places]
        assert all(a != b for a, b in pairwise(sides))
    assert {s.position for at in strokes.values() for s in at if s.piece == "snare"} == set(rows["snare"])


@given(bpm=st.integers(40, 180), player=st.sampled_from(["beginner", "intermediate", "advanced"]))
@settings(max_examples=40, deadline=None)
def test_who_has_both_hands_at_a_tempo_has_both_at_every_faster_one(bpm: int, player: Player) -> None:
    rows: Rows = {"hat_closed": ALL, "snare": BACKBEAT}
    slow, fast = arranged(bpm, rows, player=player), arranged(bpm * 1.1, rows, player=player)
    assert "LR" in letters(slow) or "LR" not in letters(fast)


@pytest.mark.parametrize("bpm", [70, 85, 95, 110, 130])
def test_a_backbeat_without_a_hat_in_the_recording_is_played_with_the_same_hands(bpm: float) -> None:
    without: Rows = {"hat_closed": [at for at in ALL if at not in BACKBEAT], "snare": BACKBEAT}
    bare, full = arranged(bpm, without), arranged(bpm, {"hat_closed": ALL, "snare": BACKBEAT})
    between = [at for at in ALL if at not in BACKBEAT]
    assert [hands(bare)[at][0].letter for at in between] == [hands(full)[at][0].letter for at in between]


@pytest.mark.parametrize("bpm", [130, 150])
def test_every_hat_that_goes_has_a_reason_in_plain_words_at_full_and_comes_back_at_steady(bpm: float) -> None:
    heard = heard_as(bpm, {"kick": [F(0), F(1, 2)], "hat_closed": ALL, "snare": BACKBEAT})
    made = arrange(heard, Kit())
    told = [r for r in made.reasons if r.rule == RULE]
    assert {(r.bar, r.position) for r in told} == {(bar, at) for bar in range(1, BARS + 1) for at in BACKBEAT}
    assert {r.why for r in told} == {"both hands take turns on the hat, and the one due here plays the snare"}
    assert {r.levels for r in told} == {("full",)}
    lost = {h for r in told for h in r.hits}
    assert lost <= {h for s in made.charts["steady"].strokes for h in s.hits}


@given(
    bpm=st.integers(60, 200),
    hats=st.sets(st.integers(0, 15), min_size=6),
    snares=st.sets(st.integers(0, 15), max_size=5),
)
@settings(max_examples=60, deadline=None)
def test_nothing_heard_goes_without_a_word(bpm: int, hats: set[int], snares: set[int]) -> None:
    rows: Rows = {"hat_closed": [F(n, 16) for n in sorted(hats)], "snare": [F(n, 16) for n in sorted(snares)]}
    heard = heard_as(bpm, rows)
    made = arrange(heard, Kit())
    for level in LEVELS:
        told = {h for s in made.charts[level].strokes for h in s.hits}
        told |= {h for r in made.reasons if level in r.levels for h in r.hits}
        assert told >= {h.id for h in heard.hits}
        assert not check(made.charts[level], heard.grid, Kit())


def test_eighths_with_soft_strokes_between_stay_in_one_hand_over_the_backbeat() -> None:
    eighths, soft = [F(n, 8) for n in range(8)], [F(3, 16), F(5, 16), F(7, 16)]
    made = arranged(130, {"hat_closed": eighths, "snare": [*BACKBEAT, *soft]})
    assert {s.letter for at in hands(made).values() for s in at if s.piece == "hat_closed"} == {"R"}
    assert all(len(hands(made)[at]) == 2 for at in BACKBEAT)


def test_a_jazz_ride_is_never_shared() -> None:
    ride = [F(0), F(1, 4), F(1, 4) + F(1, 6), F(1, 2), F(3, 4), F(3, 4) + F(1, 6)]
    made = arranged(230, {"ride": ride, "snare": BACKBEAT})
    assert {s.letter for at in hands(made).values() for s in at if s.piece == "ride"} == {"R"}
    assert len(hands(made)[F(1, 4)]) == 2


def test_a_hat_of_the_teacher_stays_under_the_backbeat() -> None:
    heard = heard_as(130, {"hat_closed": ALL, "snare": BACKBEAT}, by_teacher=("hat_closed",))
    strokes = hands(arrange(heard, Kit()))
    assert all({s.piece for s in strokes[at]} == {"hat_closed", "snare"} for at in BACKBEAT)


def test_an_open_handed_player_takes_turns_the_other_way_round() -> None:
    heard = heard_as(130, {"hat_closed": ALL, "snare": BACKBEAT})
    made = arrange(heard, Kit(open_handed=True))
    assert letters(made) == " ".join(["L R"] * 8)


def test_someone_with_one_hand_is_asked_nothing_of_this() -> None:
    heard = heard_as(70, {"hat_closed": ALL, "snare": BACKBEAT})
    made = arrange(heard, Kit(limbs=("right hand", "right foot")))
    assert not [r for r in made.reasons if r.rule == RULE]
