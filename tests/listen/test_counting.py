"""Ways to count are weighed by named signs; bars that say the same are the shorter ones."""

from fractions import Fraction as F

import numpy as np
import pytest
from listen_material import performance

from fourlimb.listen.bars import find_grid, ranked
from fourlimb.listen.evidence import from_hits
from fourlimb.listen.signs import NAMES
from fourlimb.listen.weigh import learned, points
from fourlimb.model import Grid, Sound

SLOW: dict[Sound, tuple[str, ...]] = {
    "kick": ("0", "3/4"),
    "snare": ("3/8", "9/8"),
    "hat_closed": tuple(str(F(n, 8)) for n in range(12)),
}
UNLIKE: dict[Sound, tuple[str, ...]] = {**SLOW, "kick": ("0", "5/8"), "snare": ("3/4",)}
WALTZ: dict[Sound, tuple[str, ...]] = {
    "kick": ("0",),
    "snare": ("1/4", "1/2"),
    "hat_closed": tuple(str(F(n, 8)) for n in range(6)),
}


def counted(pattern: dict[Sound, tuple[str, ...]], meter: str, bpm: float = 96) -> Grid:
    hits = performance(12, bpm, pattern, meter=meter, spread_s=0.005)
    grid = find_grid(from_hits(hits, hits[-1].time_s + 0.5))
    assert grid is not None
    return grid


@pytest.mark.parametrize("kind", ["heard", "struck"])
def test_every_sign_has_a_weight(kind: str) -> None:
    weights = learned(kind)
    sums, signs, thresholds = weights.inner.shape
    assert signs == len(NAMES) == len(set(NAMES))
    assert weights.mean.shape == weights.spread.shape == (signs,)
    assert weights.straight.shape == (sums, signs)
    assert weights.bias.shape == weights.outer.shape == (sums, thresholds)
    assert (weights.spread > 0).all()


def test_a_pattern_of_three_beats_is_counted_in_three() -> None:
    names = [bar.meter for bar in counted(WALTZ, "3/4", 120).bars]
    assert names.count("3/4") > 0.9 * len(names)


@pytest.mark.parametrize("pattern", [SLOW, UNLIKE])
def test_beats_in_three_are_counted_in_compound_time(pattern: dict[Sound, tuple[str, ...]]) -> None:
    names = [bar.meter for bar in counted(pattern, "12/8").bars]
    assert names.count("6/8") + names.count("12/8") > 0.9 * len(names)


def test_the_best_way_is_the_one_with_most_points() -> None:
    hits = performance(8, 104, spread_s=0.005)
    ways = ranked(from_hits(hits, hits[-1].time_s + 0.5))
    scores = points(np.array([way.row for way in ways]), trained=False)
    assert [way.score for way in ways] == pytest.approx(sorted(scores, reverse=True))
    assert 60 / ways[0].pulse.period_s == pytest.approx(104, rel=0.02)


def test_silence_before_the_drums_does_not_change_how_they_are_counted() -> None:
    hits = performance(12, 118, spread_s=0.005)
    moved = performance(12, 118, spread_s=0.005, start_s=45.0)
    rows = [ranked(from_hits(h, h[-1].time_s + 0.5))[0] for h in (hits, moved)]
    assert rows[0].pulse.period_s == pytest.approx(rows[1].pulse.period_s, rel=0.01)
    assert rows[0].meter == rows[1].meter
    named = dict(zip(NAMES, np.abs(rows[0].row - rows[1].row), strict=True))
    assert named["onsets a beat"] < 0.3
    assert named["drums"] < 0.3
    assert named["kick beat"] < 0.1
