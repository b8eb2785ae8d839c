"""Ways to count are weighed by named signs; bars that say the same are the shorter ones."""

from fractions import Fraction as F

import numpy as np
import pytest
from listen_material import performance

from fourlimb.listen.bars import find_grid, ranked
from fourlimb.listen.evidence import from_hits
from fourlimb.listen.weigh import FEATURES, WEIGHTS, points
from fourlimb.model import Grid, Sound

SLOW: dict[Sound, tuple[str, ...]] = {
    "kick": ("0", "3/4"),
    "snare": ("3/8", "9/8"),
    "hat_closed": tuple(str(F(n, 8)) for n in range(12)),
}
UNLIKE: dict[Sound, tuple[str, ...]] = {**SLOW, "kick": ("0", "5/8"), "snare": ("3/4",)}


def counted(pattern: dict[Sound, tuple[str, ...]]) -> Grid:
    hits = performance(12, 96, pattern, meter="12/8", spread_s=0.005)
    grid = find_grid(from_hits(hits, hits[-1].time_s + 0.5))
    assert grid is not None
    return grid


def test_every_sign_has_a_weight() -> None:
    assert {len(weights) for weights in WEIGHTS.values()} == {len(FEATURES)}


def test_half_bars_alike_in_compound_time_are_bars_of_six_eight() -> None:
    names = [bar.meter for bar in counted(SLOW).bars]
    assert names.count("6/8") > 0.9 * len(names)


def test_half_bars_unlike_are_bars_of_twelve_eight() -> None:
    names = [bar.meter for bar in counted(UNLIKE).bars]
    assert names.count("12/8") > 0.9 * len(names)


def test_the_best_way_is_the_one_with_most_points() -> None:
    hits = performance(8, 104, spread_s=0.005)
    ways = ranked(from_hits(hits, hits[-1].time_s + 0.5))
    assert [way.score for way in ways] == sorted((points(way.row, trained=False) for way in ways), reverse=True)
    assert 60 / ways[0].pulse.period_s == pytest.approx(104, rel=0.02)


def test_silence_before_the_drums_does_not_change_how_they_are_counted() -> None:
    hits = performance(12, 118, spread_s=0.005)
    moved = performance(12, 118, spread_s=0.005, start_s=45.0)
    rows = [ranked(from_hits(h, h[-1].time_s + 0.5))[0] for h in (hits, moved)]
    assert rows[0].pulse.period_s == pytest.approx(rows[1].pulse.period_s, rel=0.01)
    named = dict(zip(FEATURES, np.abs(rows[0].row - rows[1].row), strict=True))
    assert named["crowded"] < 0.3
    assert named["drums"] < 0.1 * abs(rows[0].row[0]) + 2
