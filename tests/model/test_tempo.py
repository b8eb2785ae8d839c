"""One number for a tempo, wherever it is named."""

import random

import pytest

from fourlimb.model import Grid
from fourlimb.model.grid import from_tempi
from fourlimb.model.tempo import tempo_marks, tempo_said


def test_drift_is_one_tempo_its_middle_one() -> None:
    drawn = random.Random(1)
    grid = from_tempi([("4/4", 100.0 * drawn.uniform(0.97, 1.03)) for _ in range(21)])
    middle = sorted(bar.tempo_bpm for bar in grid.bars)[10]
    assert tempo_marks(grid) == {1: middle}
    assert {tempo_said(grid, bar) for bar in grid.numbers} == {middle}


def test_one_odd_bar_is_no_new_tempo() -> None:
    grid = from_tempi([("4/4", tempo) for tempo in [100.0] * 6 + [115.0] + [100.0] * 6])
    assert tempo_said(grid, 7) == 100.0


def test_a_tempo_that_stays_is_said_from_its_first_bar() -> None:
    grid = from_tempi([("4/4", tempo) for tempo in [100.0] * 4 + [120.0] * 4], first_bar=0)
    assert [round(tempo_said(grid, bar)) for bar in (0, 3, 4, 7)] == [100, 100, 120, 120]


def test_no_bars_have_no_tempo() -> None:
    empty = Grid(beats=(), bars=())
    assert (tempo_marks(empty), tempo_said(empty, 1)) == ({}, pytest.approx(0.0))
