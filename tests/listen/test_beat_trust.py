"""How far beats and bar lines can be trusted."""

import numpy as np
import pytest

from fourlimb.listen.beat_trust import (
    BEAT_SIGNS,
    LINE_SIGNS,
    agreeing,
    at_all,
    beat_signs,
    learned_curve,
    line_signs,
    probable,
)

BEATS, LINES = learned_curve("beats"), learned_curve("lines")


def test_a_way_to_count_that_others_contradict_has_a_small_share() -> None:
    assert agreeing([5.0, 1.0, 0.0], [True, True, True]) == pytest.approx(1.0)
    assert agreeing([5.0, 5.0], [True, False]) == pytest.approx(0.5)
    assert agreeing([900.0, 890.0], [True, False]) > 0.999  # log-odds of any size


def test_beats_are_trusted_more_when_they_stand_out_and_when_the_ways_agree() -> None:
    stands_out = np.array([0.3, 0.6, 0.9])
    agreed = probable(beat_signs(stands_out, 0.99), BEATS)
    torn = probable(beat_signs(stands_out, 0.5), BEATS)
    assert np.all(np.diff(agreed) > 0)
    assert np.all(agreed > torn)
    assert agreed[-1] > 0.95


def test_where_no_beat_stands_out_none_is_trusted() -> None:
    assert at_all(np.array([0.0, 0.2, 0.4, 0.9])).tolist() == [0.0, 0.5, 1.0, 1.0]


def test_bar_lines_heard_on_the_one_are_trusted_more_than_those_heard_elsewhere() -> None:
    heard = np.tile([2.0, -2.0, -1.5, -2.0], 8)
    here = probable(line_signs(0.9, heard, list(range(0, 32, 4))), LINES)
    there = probable(line_signs(0.9, heard, list(range(2, 32, 4))), LINES)
    assert here > 0.9
    assert there < 0.3
    assert here - there > 0.6


def test_bar_lines_are_trusted_more_where_chords_change_on_them_and_less_where_they_change_elsewhere() -> None:
    heard, ones = np.tile([0.5, -1.0, 0.0, -1.0], 8), list(range(0, 32, 4))
    on_ones = np.tile([1.5, -0.5, -0.5, -0.5], 8)
    alone = probable(line_signs(0.8, heard, ones), LINES)
    confirmed = probable(line_signs(0.8, heard, ones, on_ones, 0.9), LINES)
    elsewhere = probable(line_signs(0.8, heard, ones, np.roll(on_ones, 2), 0.9), LINES)
    assert confirmed > alone > elsewhere
    assert confirmed > 0.95


def test_what_seems_harmony_in_drums_alone_changes_nothing() -> None:
    heard, ones = np.tile([0.5, -1.0, 0.0, -1.0], 8), list(range(0, 32, 4))
    noise = np.random.default_rng(0).normal(size=32)
    assert line_signs(0.8, heard, ones, noise, 0.0).tolist() == line_signs(0.8, heard, ones).tolist()


@pytest.mark.parametrize("ones", [[], [0], [40]])
def test_a_song_of_hardly_a_bar_still_has_a_probability(ones: list[int]) -> None:
    assert 0 <= float(probable(line_signs(0.5, np.zeros(3), ones), LINES)) <= 1


def test_every_sign_of_trust_has_its_number() -> None:
    assert BEATS.shape == (len(BEAT_SIGNS),)
    assert LINES.shape == (len(LINE_SIGNS),)
    assert beat_signs(np.array([0.5, 0.9]), 0.9).shape == (2, len(BEAT_SIGNS))
    assert line_signs(0.9, np.zeros(8), [0, 4]).shape == (len(LINE_SIGNS),)
