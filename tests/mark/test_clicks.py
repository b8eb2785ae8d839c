"""A click among a player's strokes: found where it is a machine's, and never where a hand struck it."""

import random

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.mark import mark
from fourlimb.mark.clicks import SAY, SURE_NATS, clicks_among, likelier_machine
from fourlimb.model import Hit, Marking, Sound

from .takes import FILL, GROOVE, LANDING, chart_of, play

CHART, GRID = chart_of([GROOVE] * 7 + [FILL, LANDING] + [GROOVE] * 7)
BEATS = 4 * 16


def _train(
    sound: Sound, spread_s: float, seed: int, every_s: float = 0.5, first_s: float = 3.013, heard: float = 0.8
) -> list[Hit]:
    """One stroke on every beat of the take, some of them hidden."""
    dice = random.Random(seed)
    beats = [n for n in range(-4, BEATS) if dice.random() < heard]
    return [
        Hit(
            id=5000 + n,
            time_s=first_s + n * every_s + dice.gauss(0, spread_s),
            sound=sound,
            loudness_db=-12.0,
            confidence=0.9,
        )
        for n in beats
    ]


def _heard(take: list[Hit]) -> Marking:
    return mark(take, CHART, GRID, heights=lambda sound, time_s: 0.01)


def _extra(marking: Marking) -> list[Sound]:
    return [stroke.piece for stroke in marking.strokes if stroke.verdict == "extra"]


@settings(max_examples=40, deadline=None)
@given(
    sound=st.sampled_from(["rim", "snare", "hat_closed", "ride_bell"]),
    every_s=st.floats(0.25, 1.1),
    heard=st.floats(0.5, 1.0),
    seed=st.integers(0, 10**6),
)
def test_a_machine_is_found_at_any_tempo_and_with_half_of_its_clicks(
    sound: Sound, every_s: float, heard: float, seed: int
) -> None:
    clicks = _train(sound, 0.0008, seed, every_s, 5.0, heard)
    assert clicks_among(clicks) == frozenset(range(len(clicks)))


@settings(max_examples=40, deadline=None)
@given(spread_s=st.floats(0.006, 0.02), every_s=st.floats(0.25, 1.1), seed=st.integers(0, 10**6))
def test_a_hand_is_never_a_machine(spread_s: float, every_s: float, seed: int) -> None:
    assert clicks_among(_train("rim", spread_s, seed, every_s, 5.0)) == frozenset()


def test_a_click_is_left_out_and_told_once() -> None:
    for sound in ("rim", "snare", "ride_bell"):
        marking = _heard([*play(CHART, GRID, jitter_ms=8.0), *_train(sound, 0.0008, 3)])
        assert _extra(marking) == [], sound
        assert marking.summary.say.count(SAY) == 1, sound
        assert not any("cross-stick" in bar.say for bar in marking.bars)
        assert marking.summary.score > 0.97, sound


def test_a_cross_stick_on_every_beat_by_hand_stays_in_the_marking() -> None:
    by_hand = _train("rim", 0.009, 3)
    marking = _heard([*play(CHART, GRID, jitter_ms=8.0), *by_hand])
    assert len(_extra(marking)) > 20
    assert SAY not in marking.summary.say


def test_a_stroke_missed_beside_a_click_is_still_missed() -> None:
    take = play(CHART, GRID, jitter_ms=8.0, leave=lambda s: s.bar == 5 and s.piece == "kick")
    marking = _heard([*take, *_train("rim", 0.0008, 3)])
    assert {(s.bar, s.piece) for s in marking.strokes if s.verdict == "missed"} == {(5, "kick")}
    assert "kick" in marking.bars[4].say


def test_a_take_that_a_machine_played_is_all_there() -> None:
    marking = _heard(play(CHART, GRID, jitter_ms=0.0))
    assert {stroke.verdict for stroke in marking.strokes} == {"played"}
    assert SAY not in marking.summary.say


def test_a_performance_that_was_read_and_not_heard_holds_no_click() -> None:
    marking = mark([*play(CHART, GRID, jitter_ms=8.0), *_train("rim", 0.0008, 3)], CHART, GRID)
    assert len(_extra(marking)) > 20
    assert SAY not in marking.summary.say


@pytest.mark.parametrize("sound", ["snare", "rim"])
def test_a_click_does_not_move_a_take_to_where_strokes_are_written_on_every_beat(sound: Sound) -> None:
    on_beats = GROOVE.replace("snare 2 4", "snare 1 2 3 4")
    chart, grid = chart_of([GROOVE] * 8 + ["ride every 8th; snare 2 4; kick 1 3"] * 6 + [GROOVE] * 2 + [on_beats] * 8)
    take = play(chart, grid, to_bar=14, jitter_ms=8.0, leave=lambda s: s.piece == "ride" and s.bar >= 12)
    clicks = [hit for hit in _train(sound, 0.0008, 1, heard=1.0) if hit.time_s < 3.0 + 14 * 2.0]
    marking = mark([*take, *clicks], chart, grid, heights=lambda sound, time_s: 0.01)
    assert (marking.take.from_bar, marking.take.to_bar) == (1, 14)
    assert [bar.bar for bar in marking.bars if bar.say] == []


def test_a_few_clicks_of_a_sound_that_is_nowhere_written_are_left_out() -> None:
    clicks = [hit for hit in _train("rim", 0.0008, 4, heard=1.0) if 8.0 < hit.time_s < 12.4][:7]
    assert len(clicks) == 7
    marking = _heard([*play(CHART, GRID, jitter_ms=8.0), *clicks])
    assert _extra(marking) == []
    assert SAY in marking.summary.say


def test_a_click_well_beside_a_stroke_that_is_missing_is_not_that_stroke() -> None:
    """The snare of bar 5 is not played; the click, 40 ms behind the player all along, is."""
    take = play(CHART, GRID, jitter_ms=6.0, leave=lambda s: s.bar == 5 and s.piece == "snare")
    marking = _heard([*take, *_train("snare", 0.0008, 3, first_s=3.04, heard=1.0)])
    assert [s.verdict for s in marking.strokes if s.bar == 5 and s.piece == "snare"] == ["missed", "missed"]
    assert "late" not in marking.bars[4].say


def test_clicks_on_every_beat_of_which_every_other_is_mostly_hidden_are_all_left_out() -> None:
    strong = _train("rim", 0.0008, 1, every_s=1.0, heard=1.0)
    weak = _train("rim", 0.0008, 4, every_s=1.0, first_s=3.513, heard=0.25)
    clicks = sorted((hit for hit in [*strong, *weak] if hit.time_s < 35.0), key=lambda hit: hit.time_s)
    assert len(clicks_among(clicks)) == len(clicks)


@settings(max_examples=60, deadline=None)
@given(count=st.integers(20, 60), others=st.integers(0, 20), seed=st.integers(0, 10**6))
def test_a_machine_is_told_from_a_hand_also_among_strokes_of_a_player(count: int, others: int, seed: int) -> None:
    dice = np.random.default_rng(seed)
    beside = dice.uniform(-0.02, 0.02, min(others, count // 2))
    assert likelier_machine(np.concatenate([dice.normal(0, 0.001, count), beside])) >= SURE_NATS
    assert likelier_machine(np.concatenate([dice.normal(0, 0.006, count), beside])) < SURE_NATS


@pytest.mark.parametrize(("slower", "seed"), [(1.01, 3), (1.0, 2)])
def test_a_click_that_ears_call_a_snare_is_found_under_a_player(slower: float, seed: int) -> None:
    """One who falls behind it by 1 % has one peak of the periodogram with it; one who stays 13 ms early one line."""
    snares = [hit for hit in play(CHART, GRID, ratio=1 / slower, jitter_ms=8.0, seed=seed) if hit.sound == "snare"]
    clicks = [hit for hit in _train("snare", 0.0012, seed) if 12.0 < hit.time_s < 35.0]
    hits = sorted([*snares, *clicks], key=lambda hit: hit.time_s)
    found = {hits[j].id for j in clicks_among(hits)}
    assert {hit.id for hit in clicks} <= found
    assert len(found) - len(clicks) <= len(snares) / 4


def test_a_click_that_goes_on_after_the_player_is_left_out_under_another_name_too() -> None:
    take = play(CHART, GRID, to_bar=12, jitter_ms=8.0)
    clicks = [
        msgspec.structs.replace(hit, sound="rim" if hit.time_s < 27.5 else "snare")
        for hit in _train("rim", 0.0008, 3, heard=1.0)
        if hit.time_s < 29.6
    ]
    found = clicks_among(
        sorted([*take, *clicks], key=lambda hit: hit.time_s), written={"kick", "snare", "hat_closed"}
    )
    assert len(found) >= len(clicks)


def test_a_count_in_on_sticks_is_no_click_where_the_song_has_a_cross_stick_elsewhere() -> None:
    chart, grid = chart_of([GROOVE] * 7 + [FILL, LANDING] + [GROOVE] * 3 + [GROOVE.replace("snare", "rim")] * 4)
    sticks = [hit for hit in _train("rim", 0.002, 10, first_s=5.0, heard=1.0) if hit.time_s < 8.9][-8:]
    take = [*sticks, *play(chart, grid, start_s=9.0, to_bar=10, jitter_ms=8.0)]
    marking = mark(take, chart, grid, heights=lambda sound, time_s: 0.01)
    assert (marking.take.from_bar, marking.take.to_bar) == (1, 10)
    assert SAY not in marking.summary.say
