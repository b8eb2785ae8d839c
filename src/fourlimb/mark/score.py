"""Scores: one number a bar, 0 to 1, and one for the take.

Within 20 ms of steady time nothing is held against a stroke: one drum moved by less is not heard in a groove
(measured just noticeable differences of 19-24 ms in multi-instrument grooves), and feedback on small errors teaches
worse than feedback on large ones (bandwidth feedback: Cruz and others, Motricidade 14 (2018)). Beyond, a stroke loses
up to half of its worth; a missed one all of it, one on another piece half; an extra one costs half a stroke. What is
unsure costs by as much as it is sure. Weights are ours.
"""

from collections.abc import Iterable, Sequence
from typing import Final

from fourlimb.model import MarkedBar, MarkedStroke

UNHEARD_MS: Final = 20.0
HALF_LOST_MS: Final = 80.0
"""Lateness that nobody hears, and lateness that loses half of a stroke's worth, milliseconds."""

OTHER_PIECE: Final = 0.5
EXTRA_COST: Final = 0.5


def mark_bars(strokes: Sequence[MarkedStroke], bars: Iterable[int]) -> tuple[MarkedBar, ...]:
    """A mark for each bar; a bar that is silent as written scores 1."""
    inside: dict[int, list[MarkedStroke]] = {}
    for stroke in strokes:
        inside.setdefault(stroke.bar, []).append(stroke)
    return tuple(MarkedBar(bar=bar, score=bar_score(inside.get(bar, ())), say="") for bar in bars)


def bar_score(strokes: Sequence[MarkedStroke]) -> float:
    """Worth of what was played over what is written, less what is not written, 0 to 1."""
    written = [stroke for stroke in strokes if stroke.verdict != "extra"]
    extra = sum(stroke.confidence for stroke in strokes if stroke.verdict == "extra")
    worth = sum(stroke_worth(stroke) for stroke in written) - EXTRA_COST * extra
    if not written:
        return round(max(1.0 + worth, 0.0), 3)
    return round(min(max(worth / len(written), 0.0), 1.0), 3)


def stroke_worth(stroke: MarkedStroke) -> float:
    """1 for a stroke where it belongs, less when it is late, early, on another piece, or missed."""
    if stroke.verdict == "missed" or stroke.late_ms is None:
        return 1.0 - stroke.confidence
    over = max(abs(stroke.late_ms) - UNHEARD_MS, 0.0) / (HALF_LOST_MS - UNHEARD_MS)
    timing = 1.0 - 0.5 * min(over, 1.0)
    return timing * (1.0 - (1.0 - OTHER_PIECE) * stroke.confidence if stroke.verdict == "other_piece" else 1.0)


def total(bars: Sequence[MarkedBar], strokes: Sequence[MarkedStroke]) -> float:
    """Mean of the bars, each weighing as many strokes as are written in it."""
    written: dict[int, int] = {}
    for stroke in strokes:
        if stroke.verdict != "extra":
            written[stroke.bar] = written.get(stroke.bar, 0) + 1
    weight = sum(written.values())
    if not weight:
        return 0.0
    return round(sum(bar.score * written.get(bar.bar, 0) for bar in bars) / weight, 3)
