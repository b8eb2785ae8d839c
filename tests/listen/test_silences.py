"""What left no trace: asked for by two bars, found in the bars like them, and nowhere that a bar says otherwise."""

from fractions import Fraction as F

import msgspec
import numpy as np
import pytest
from listen_material import performance

from fourlimb.listen import Spoken, learn
from fourlimb.listen.surroundings import beside, louder, neighbours
from fourlimb.model import SOUNDS, Hit, Sound
from fourlimb.model.grid import regular

BARS = 16
GRID = regular(["4/4"] * BARS, 120.0)
HITS = tuple(msgspec.structs.replace(h, confidence=0.97) for h in performance(BARS, 120.0))
HERE = F(13, 16)


def stretch(bar: int) -> Spoken:
    return Spoken(GRID.at(bar).start_s - 0.03, GRID.end(bar) - 0.03, frozenset(SOUNDS))


def wrote(bar: int, sound: Sound = "kick") -> Hit:
    return Hit(
        id=900 + bar, time_s=GRID.time_at(bar, HERE), sound=sound, loudness_db=-9.0, confidence=1.0, bar=bar,
        position=HERE, by="teacher",
    )  # fmt: skip


def bars_with(hits: tuple[Hit, ...], sound: Sound = "kick") -> set[int]:
    return {h.bar for h in hits if h.position == HERE and h.sound == sound and h.bar is not None}


def taught(right: tuple[int, ...], written: tuple[int, ...]) -> tuple[Hit, ...]:
    hits = (*HITS, *(wrote(bar) for bar in written))
    return learn(GRID, HITS, hits, (), [stretch(bar) for bar in right]).hits


def test_what_two_bars_have_and_nobody_heard_is_written_in_the_bars_like_them() -> None:
    assert bars_with(HITS) == set(), "the example has no such stroke"
    learnt = taught((3, 9), (3, 9))
    assert bars_with(learnt) == set(range(1, BARS + 1))
    added = [h for h in learnt if h.position == HERE and h.sound == "kick" and h.bar not in (3, 9)]
    usual = float(np.median([h.loudness_db for h in HITS if h.sound == "kick"]))
    assert all(h.loudness_db == pytest.approx(usual - 6, abs=0.1) and 0.5 < h.confidence < 1 for h in added)


def test_one_bar_is_not_enough_and_bars_without_it_outweigh_it() -> None:
    assert bars_with(taught((3,), (3,))) == {3}
    assert bars_with(taught((3, 5, 7, 9, 11), (3, 9))) == {3, 9}


def test_nothing_is_written_beside_what_was_heard() -> None:
    near = tuple(
        Hit(id=500 + b, time_s=GRID.time_at(b, HERE) + 0.04, sound="kick", loudness_db=-9, confidence=0.97, bar=b, position=HERE)
        for b in range(10, 15)
    )  # fmt: skip
    first = tuple(sorted((*HITS, *near), key=lambda h: (h.time_s, h.id)))
    learnt = learn(GRID, first, (*first, wrote(3), wrote(9)), (), [stretch(3), stretch(9)])
    assert {h.bar for h in learnt.added} == set(range(1, BARS + 1)) - {3, 9} - set(range(10, 15))


def test_bars_of_another_meter_have_no_such_place() -> None:
    grid = regular(["4/4"] * 8 + ["3/4"] * 8, 120.0)
    hits = tuple(h for h in HITS if h.time_s < grid.at(9).start_s)
    said = [Spoken(grid.at(bar).start_s - 0.03, grid.end(bar) - 0.03, frozenset(SOUNDS)) for bar in (3, 6)]
    learnt = learn(grid, hits, (*hits, wrote(3), wrote(6)), (), said)
    assert {h.bar for h in learnt.added} == {1, 2, 4, 5, 7, 8}


def test_what_stands_round_a_stroke() -> None:
    group = np.array([0, 1, 1, 0, 1])
    time_s = np.array([0.0, 0.02, 0.08, 0.5, 0.53])
    share = np.array([0.9, 0.4, 0.7, 0.8, 0.3])
    assert beside(2, group, time_s, share).tolist() == [[0, 0.4], [0.9, 0], [0, 0], [0, 0.3], [0.8, 0]]
    assert neighbours(2, group, time_s, share)[[1, 2]].tolist() == [[0, 0.7, 0, 0.7], [0.4, 0, 0.4, 0]]
    loud = louder(2, group, np.array([-3.0, -9.0, -15.0, -5.0, -12.0]), np.array([True, True, False, True, False]))
    assert loud.tolist() == [1.0, 0.0, -6.0, -1.0, -3.0]
