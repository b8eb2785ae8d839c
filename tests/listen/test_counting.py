"""Ways to count are weighed by named signs; bars that say the same are the shorter ones."""

from fractions import Fraction as F

import msgspec
import numpy as np
import pytest
from listen_material import performance

from fourlimb.listen.bars import find_grid, ranked
from fourlimb.listen.beats import Pulse
from fourlimb.listen.evidence import from_hits
from fourlimb.listen.signs import NAMES, Folded, struck_in
from fourlimb.listen.weigh import learned, weighed
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
    scores = weighed(np.array([way.row for way in ways]), learned("struck"))
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


def signs(pattern: dict[Sound, tuple[str, ...]], meter: str, louder_db: float = 0.0) -> dict[str, float]:
    """Signs of 4/4 at 120 counted in a meter; strokes on beats so much louder than others."""
    hits = performance(12, 120, pattern, spread_s=0.003)
    onbeat = [abs(hit.time_s * 2 - round(hit.time_s * 2)) < 0.1 for hit in hits]
    level = [-10 + louder_db if on else -10.0 for on in onbeat]
    hits = tuple(msgspec.structs.replace(hit, loudness_db=db) for hit, db in zip(hits, level, strict=True))
    evidence = from_hits(hits, hits[-1].time_s + 0.5)
    folded = Folded(Pulse(np.arange(49) * 0.5, np.ones(49)), evidence, struck_in(evidence))
    return dict(zip(NAMES, folded.row(meter, 0, 0.0, 0.0), strict=True))


EIGHTHS = tuple(str(F(n, 8)) for n in range(8))
ALIKE: dict[Sound, tuple[str, ...]] = {"kick": ("0", "1/2"), "snare": ("1/4", "3/4"), "hat_closed": EIGHTHS}
APART: dict[Sound, tuple[str, ...]] = {"kick": ("0", "5/8"), "snare": ("1/4", "3/4"), "hat_closed": EIGHTHS}


def test_halves_of_a_bar_are_apart_when_their_kicks_differ() -> None:
    alike, apart = signs(ALIKE, "4/4"), signs(APART, "4/4")
    for name in ("halves apart", "halves apart for certain", "halves apart again"):
        assert apart[name] > alike[name] + 0.1
    assert apart["halves apart again"] > 0.9


def test_bars_of_two_beats_are_apart_when_every_other_one_has_another_kick() -> None:
    counted_in_two, counted_in_four = signs(APART, "2/4"), signs(APART, "4/4")
    assert counted_in_two["bars apart"] == pytest.approx(counted_in_four["halves apart"], abs=0.02)
    assert counted_in_four["bars apart for certain"] < 0.5 < counted_in_two["bars apart for certain"]


def test_a_bar_of_seven_half_beats_has_no_halves() -> None:
    assert signs(ALIKE, "7/8")["halves apart for certain"] == 0.0


def test_accents_on_beats_are_seen() -> None:
    even, accented = signs(ALIKE, "4/4"), signs(ALIKE, "4/4", louder_db=6)
    assert even["hat loud on beats"] == pytest.approx(0.0, abs=1e-6)
    assert accented["hat loud on beats"] == pytest.approx(0.6, abs=1e-6)
    assert accented["loud on beats"] > 0.5
