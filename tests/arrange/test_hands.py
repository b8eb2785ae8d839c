"""Hands of running sixteenths: time is kept by one hand or by both in turn, and that does not change for one stroke."""

from fractions import Fraction as F

import pytest

from fourlimb.arrange import arrange
from fourlimb.model import Hit, Kit, Level, Listening, Song, Sound
from fourlimb.model.grid import regular

ALL = [F(n, 16) for n in range(16)]
BACKBEAT = [F(1, 4), F(3, 4)]


def hands(bpm: float, *rows: tuple[Sound, list[F]], meter: str = "4/4", kit: Kit | None = None) -> list[str]:
    """The letters of the third of four like bars, place by place: "R", "LR" for both, "" for none."""
    grid = regular([meter] * 4, bpm)
    hits = [
        Hit(id=n, time_s=grid.time_at(bar, at), sound=sound, loudness_db=-10.0, confidence=1.0, bar=bar, position=at)
        for n, (bar, at, sound) in enumerate(
            sorted((b, at, s) for b in grid.numbers for s, ats in rows for at in ats)
        )
    ]
    heard = Listening(song=Song(duration_s=9, sample_rate_hz=0, sha256=""), grid=grid, hits=tuple(hits))
    strokes = [s for s in arrange(heard, kit or Kit()).charts["full"].by_bar[3] if s.limb.endswith("hand")]
    places = sorted({at for _, ats in rows for at in ats})
    return ["".join(sorted(s.letter or "" for s in strokes if s.position == at)) for at in places]


@pytest.mark.parametrize("bpm", [100, 115, 130, 150])
def test_running_sixteenths_on_the_hat_take_turns(bpm: float) -> None:
    assert hands(bpm, ("hat_closed", ALL)) == ["R", "L"] * 8


@pytest.mark.parametrize("bpm", [120, 126, 130, 140])
@pytest.mark.parametrize("more", [(), (("crash", [F(0)]),)], ids=["plain", "crash on 1"])
def test_the_leading_hand_comes_over_to_the_snare(bpm: float, more: tuple[tuple[Sound, list[F]], ...]) -> None:
    crash = [at for _, ats in more for at in ats]
    hats = [at for at in ALL if at not in [*BACKBEAT, *crash]]
    assert hands(bpm, ("hat_closed", hats), ("snare", BACKBEAT), *more) == ["R", "L"] * 8


@pytest.mark.parametrize("bpm", [80, 84, 88])
def test_slow_sixteenths_stay_in_one_hand_over_a_backbeat_of_the_other(bpm: float) -> None:
    found = hands(bpm, ("hat_closed", [at for at in ALL if at not in BACKBEAT]), ("snare", BACKBEAT))
    assert found == ["L" if at in BACKBEAT else "R" for at in ALL]


@pytest.mark.parametrize("bpm", range(80, 161, 5))
@pytest.mark.parametrize(
    "snares", [[F(1, 2)], [F(1, 4), F(11, 16)], BACKBEAT, [F(3, 16), F(3, 4)]], ids=["3", "2 3a", "2 4", "1a 4"]
)
def test_who_keeps_time_between_the_eighths_keeps_it_all_through_the_bar(bpm: float, snares: list[F]) -> None:
    hats = [at for at in ALL if at not in snares]
    found = dict(zip(ALL, hands(bpm, ("hat_closed", hats), ("snare", snares)), strict=True))
    assert len({found[at] for at in hats if at % F(1, 8) != 0}) == 1
    assert {found[at] for at in hats if at % F(1, 8) == 0} == {"R"}


def test_a_left_handed_player_takes_turns_the_other_way_round() -> None:
    assert hands(130, ("hat_closed", ALL), kit=Kit(handed="left")) == ["L", "R"] * 8


def test_a_gallop_of_one_hand_is_one_hand_in_every_beat() -> None:
    gallop = [F(beat, 4) + at for beat in range(4) for at in (F(0), F(1, 8), F(3, 16))]
    assert set(hands(100, ("hat_closed", gallop))) == {"R"}


def test_sixteenths_of_six_eight_and_sextuplets_take_turns_from_every_beat() -> None:
    assert hands(120, ("hat_closed", [F(n, 16) for n in range(12)]), meter="6/8") == ["R", "L"] * 6
    assert hands(76, ("hat_closed", [F(n, 24) for n in range(24)])) == ["R", "L"] * 12


def test_a_slow_triplet_ride_stays_in_one_hand() -> None:
    assert set(hands(90, ("ride", [F(beat, 4) + at for beat in range(4) for at in (F(0), F(1, 6))]))) == {"R"}


def kicks(level: Level, bpm: float, places: list[F], bars: int = 8) -> list[list[F]]:
    """Where each bar of a level kicks when all kick at these places, over hats on every eighth."""
    grid = regular(["4/4"] * bars, bpm)
    rows: list[tuple[Sound, list[F]]] = [("kick", places), ("hat_closed", [F(n, 8) for n in range(8)])]
    struck = [(bar, at, sound) for bar in grid.numbers for sound, ats in rows for at in ats]
    hits = [
        Hit(id=n, time_s=grid.time_at(bar, at), sound=sound, loudness_db=-10.0, confidence=1.0, bar=bar, position=at)
        for n, (bar, at, sound) in enumerate(struck)
    ]
    heard = Listening(song=Song(duration_s=9, sample_rate_hz=0, sha256=""), grid=grid, hits=tuple(hits))
    chart = arrange(heard, Kit()).charts[level]
    return [[s.position for s in chart.by_bar.get(bar, ()) if s.piece == "kick"] for bar in grid.numbers]


BEATS = [F(n, 4) for n in range(4)]


@pytest.mark.parametrize("bpm", [130, 150, 160, 170])
def test_a_foot_that_cannot_keep_up_leaves_out_the_same_weak_beats_in_every_bar(bpm: float) -> None:
    found = kicks("bones", bpm, BEATS)
    assert found == [found[0]] * len(found)
    assert {F(0), F(1, 2)} <= set(found[0])


def test_a_foot_that_can_keep_up_leaves_out_nothing() -> None:
    assert kicks("bones", 100, BEATS) == [BEATS] * 8
    assert kicks("steady", 160, BEATS) == [BEATS] * 8


def test_kicks_in_sixteenths_are_thinned_alike_in_every_bar() -> None:
    found = kicks("full", 180, ALL)
    assert found == [found[0]] * len(found)
    assert {F(0), F(1, 2)} <= set(found[0]) < set(ALL)
