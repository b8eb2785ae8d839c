"""How the time is felt: straight or swung, half-time, double-time.

Input: a `Grid` and hits in seconds (places are not needed). Output: feel spans, one for each stretch of bars.

Method: swing is read from where strokes fall between beats. In a swung stretch the second eighths gather late
(past .55 of the beat) and nothing stands at the middle; the ratio's centre is the median of the gathered ones.
Sixteenths alike inside each half beat. Half-time is a snare on 3 and none on 2 and 4; double-time a snare on the
off-beats (trade words, common practice).

What it cannot do: tell a shuffle written in 12/8 from swung eighths in 4/4 (it writes the second, the shorter
notation).
"""

from collections.abc import Sequence
from typing import Final, Literal

import numpy as np

from fourlimb.model import FeelName, FeelSpan, Grid, Hit
from fourlimb.model.places import beat_lengths, is_compound

from .evidence import FloatArray

LEAST_STROKES: Final = 8
"""Fewer strokes between beats say nothing about swing (ours)."""
SWUNG_FROM: Final = 0.54
"""Below this share of the pair the ear calls it straight (lightest swing in use is about 54 %; common practice)."""
TRIPLET_REACH: Final = (0.55, 0.76)
SPAN_BARS: Final = 8
"""Feel is judged over stretches of this length, a phrase (common practice)."""


def find_feel(grid: Grid, hits: Sequence[Hit]) -> tuple[FeelSpan, ...]:
    """Feel of the whole song as spans that cover every bar."""
    if not grid.bars:
        return ()
    swing, unit = _swing(grid, hits)
    struck = backbeats(grid, hits)
    names = [_backbeat_feel(grid, struck, group) for group in _groups(grid)]
    spans: list[FeelSpan] = []
    for group, name in zip(_groups(grid), names, strict=True):
        if spans and spans[-1].feel == name:
            last = spans.pop()
            spans.append(_span(last.from_bar, group[-1], name, swing, unit))
        else:
            spans.append(_span(group[0], group[-1], name, swing, unit))
    return tuple(spans)


def _span(first: int, last: int, name: FeelName, swing: float, unit: Literal["8th", "16th"]) -> FeelSpan:
    return FeelSpan(from_bar=first, to_bar=last, feel=name, swing=round(float(swing), 3), swing_unit=unit)


def _groups(grid: Grid) -> list[list[int]]:
    numbers = list(grid.numbers)
    groups = [numbers[i : i + SPAN_BARS] for i in range(0, len(numbers), SPAN_BARS)]
    if len(groups) > 1 and len(groups[-1]) < SPAN_BARS // 2:
        groups[-2:] = [groups[-2] + groups[-1]]
    return groups


def _swing(grid: Grid, hits: Sequence[Hit]) -> tuple[float, Literal["8th", "16th"]]:
    """Share of the first of a pair, and which pair; (0.5, "8th") when straight."""
    shares = _shares(grid, hits)
    eighths = _late_half(shares)
    if eighths > SWUNG_FROM:
        return eighths, "8th"
    halves = np.concatenate([shares[shares < 0.5] * 2, shares[shares >= 0.5] * 2 - 1])
    sixteenths = _late_half(halves)
    return (sixteenths, "16th") if sixteenths > SWUNG_FROM + 0.02 else (0.5, "8th")


def _shares(grid: Grid, hits: Sequence[Hit]) -> FloatArray:
    """Where strokes fall inside their beats, 0 to 1; compound beats do not swing and are left out."""
    shares = []
    for hit in hits:
        bar, at = grid.phase_at(hit.time_s)
        meter = grid.meter(bar)
        if is_compound(meter):
            continue
        shares.append((at / float(beat_lengths(meter)[0])) % 1.0)
    return np.array(shares)


def _late_half(shares: FloatArray) -> float:
    """Median place of strokes that stand for the second half of a pair; 0.5 unless they gather late."""
    late = shares[(shares > TRIPLET_REACH[0]) & (shares < TRIPLET_REACH[1])]
    middle = shares[(shares > 0.42) & (shares <= TRIPLET_REACH[0])]
    early = shares[(shares > 0.2) & (shares < 0.42)]
    if len(late) < LEAST_STROKES or len(late) < 2.0 * len(middle) or len(late) < 1.5 * len(early):
        return 0.5
    return float(np.median(late))


def backbeats(grid: Grid, hits: Sequence[Hit]) -> dict[int, FloatArray]:
    """For each bar how many loud snares fall on each of its eighths; shape (8,) in 4/4."""
    counts = {bar: np.zeros(max(int(grid.length(bar) * 8), 1)) for bar in grid.numbers}
    for hit in hits:
        if hit.sound not in ("snare", "rim", "clap") or hit.confidence < 0.3 or hit.loudness_db < -18:
            continue
        bar, at = grid.phase_at(hit.time_s)
        counts[bar][round(at * 8) % len(counts[bar])] += 1
    return counts


def _backbeat_feel(grid: Grid, struck: dict[int, FloatArray], bars: list[int]) -> FeelName:
    """Half-time, double-time or straight, from where the snare falls in 4/4."""
    four = [bar for bar in bars if grid.meter(bar) == "4/4"]
    counts = np.sum([struck[bar] for bar in four], axis=0) if four else np.zeros(8)
    total = float(counts.sum())
    if total < 3 or len(four) < 2:
        return "straight"
    if counts[4] > 0.6 * len(four) and counts[[2, 6]].sum() < 0.25 * counts[4]:
        return "half-time"
    if counts[[1, 3, 5, 7]].sum() > 0.7 * total and counts[[1, 3, 5, 7]].min() > 0.5 * len(four):
        return "double-time"
    return "straight"
