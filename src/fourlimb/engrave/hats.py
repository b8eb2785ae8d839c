"""Where an open hat closes: the stroke that carries the closed sign."""

from collections.abc import Sequence
from fractions import Fraction

from fourlimb.model import Stroke
from fourlimb.model.sounds import HATS


def closing_strokes(strokes: Sequence[Stroke], before: Sequence[Stroke]) -> frozenset[Fraction]:
    """Positions of the closed-hat strokes that directly follow an open one (common practice).

    `before` are the strokes of the bar before. A foot that closes the hat needs no sign: its own note shows it.
    """
    earlier = [s for s in before if s.piece in HATS]
    is_open = bool(earlier) and earlier[-1].piece == "hat_open"
    found: set[Fraction] = set()
    for stroke in strokes:
        if stroke.piece not in HATS:
            continue
        if stroke.piece == "hat_closed" and is_open:
            found.add(stroke.position)
        is_open = stroke.piece == "hat_open"
    return frozenset(found)
