"""Where each position of a bar stands on its line: the columns that words and the cursor follow."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Final

from .drawn import DrawnLine
from .ids import Place

HEAD_WIDTH: Final = 212.0
"""Width of an ordinary note head in drawing units."""

Anchor = tuple[Fraction, float]


def measure_edges(drawn: DrawnLine) -> list[tuple[float, float]]:
    """Left and right end of each measure's staff, in order."""
    found: dict[str, tuple[float, float]] = {}
    for box in drawn.boxes:
        if box.kind == "staff-line":
            found[box.id] = (box.left, box.right)
    return [found[name] for name in sorted(found, key=lambda n: int(n[2:]))]


def front(drawn: DrawnLine, index: int) -> float:
    """Right edge of clef and meter at the front of a measure, or its left edge."""
    left = measure_edges(drawn)[index][0]
    xs = [b.right for b in drawn.boxes if b.kind in ("clef", "meterSig") and b.id.split(".")[0] == f"b_{index}"]
    return max([left, *xs])


def signature(drawn: DrawnLine) -> float:
    """Left edge of the meter at the head of a line, over which a tempo stands; without one, where notes begin."""
    return min((b.left for b in drawn.boxes if b.kind == "meterSig"), default=front(drawn, 0))


def line_columns(
    drawn: DrawnLine, lengths: Sequence[Fraction], places: Mapping[str, Place]
) -> list[tuple[Anchor, ...]]:
    """For each measure, (position, centre x) of everything played in it and of its end, both increasing."""
    found: list[dict[tuple[int, int], float]] = [{} for _ in lengths]
    for box in drawn.boxes:
        place = places.get(box.id) if box.kind == "notehead" else None
        if place is None:
            continue
        here = found[int(box.id.partition(".")[0][2:])]
        key = place.position.numerator, place.position.denominator
        centre = box.left + HEAD_WIDTH / 2
        here[key] = min(here.get(key, centre), centre)
    edges = measure_edges(drawn)
    return [_anchors(drawn, n, length, edges[n][1], found[n]) for n, length in enumerate(lengths)]


def _anchors(
    drawn: DrawnLine, index: int, length: Fraction, right: float, heads: Mapping[tuple[int, int], float]
) -> tuple[Anchor, ...]:
    points = sorted((Fraction(*key), x) for key, x in heads.items())
    if not points or points[0][0] > 0:
        start = front(drawn, index) + HEAD_WIDTH * 1.2
        points.insert(0, (Fraction(0), min(start, (points[0][1] if points else right) - 1.0)))
    return _increasing([*points, (length, right)])


def _increasing(points: Sequence[Anchor]) -> tuple[Anchor, ...]:
    """Drop points that step back (heads set aside in a chord), so that x never decreases."""
    kept: list[Anchor] = []
    for position, x in points:
        if not kept or x > kept[-1][1]:
            kept.append((position, x))
    return tuple(kept)


def x_at(points: Sequence[Anchor], position: Fraction) -> float:
    """The x of a position: its own column, or the place in proportion between two."""
    for (p0, x0), (p1, x1) in pairwise(points):
        if p0 <= position < p1:
            return x0 + (x1 - x0) * float((position - p0) / (p1 - p0))
    return points[-1][1]
