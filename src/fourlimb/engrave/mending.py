"""Small shifts after the engraver: signs and tuplet numbers that touch something move outwards until they are clear.

Only what may stand anywhere over or under its note is moved (articulations, tuplet numbers with their brackets), and
only up or down. `crowded` tells when notes themselves stand too close, which only a wider bar can mend.
"""

import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from .boxes import Box

Element = ElementTree.Element

CLEAR: Final = 28.0
"""White left round a sign that was moved, in drawing units (a sixth of a staff space; ours)."""

SOLID: Final = frozenset({"notehead", "stem", "beam", "flag", "rest", "dots", "slur"})
TOUCH: Final = 12.0
"""Overlap that ink does not show."""

HEAD_GAP: Final = 24.0
"""Least white between heads of neighbouring columns (ours, by looking)."""


BAR_GAP: Final = 60.0
"""Least white between what is struck last and the bar line: a third of a staff space (ours, by looking)."""


@dataclass
class Part:
    """A drawn thing: its box, the group that moves it, and the tuplet it belongs to."""

    box: Box
    group: Element | None
    unit: int = 0


def mend(parts: Sequence[Part], staff_middle: float) -> list[Box]:
    """Move signs clear, nearest to the staff first, then tuplet numbers; the boxes after that, in the same order."""
    solid = [part.box for part in parts if part.box.kind in SOLID]
    signs = [part for part in parts if part.box.kind == "artic"]
    for part in sorted(signs, key=lambda p: (abs(_middle(p.box) - staff_middle), p.box.left)):
        _shift([part], solid, staff_middle)
        solid.append(part.box)
    units: dict[int, list[Part]] = {}
    for part in parts:
        if part.box.kind in ("tupletNum", "tupletBracket"):
            units.setdefault(part.unit, []).append(part)
    for unit in units.values():
        _shift(unit, solid, staff_middle)
        solid.extend(part.box for part in unit)
    return [part.box for part in parts]


def _middle(box: Box) -> float:
    return (box.top + box.bottom) / 2


def _shift(unit: Sequence[Part], solid: Sequence[Box], staff_middle: float) -> None:
    """Move things that belong together outwards by as much as the worst of them needs."""
    up = _middle(unit[0].box) < staff_middle
    near = [box for box in solid if any(box.left < p.box.right and p.box.left < box.right for p in unit)]
    total = 0.0
    for _ in range(40):
        hits = [(p, box) for p in unit for box in near if p.box.moved(total).meets(box, -TOUCH)]
        if not hits:
            break
        if up:
            total = min(box.top - CLEAR - p.box.bottom for p, box in hits)
        else:
            total = max(box.bottom + CLEAR - p.box.top for p, box in hits)
    if total:
        for part in unit:
            part.box = part.box.moved(total)
            if part.group is not None:
                part.group.set("transform", f"translate(0, {total:.0f})")


def crowded(boxes: Sequence[Box]) -> bool:
    """True when heads, graces or rests of different places overlap or nearly do: the line holds too much."""
    kinds = ("notehead", "rest", "dots", "barLine", "flag")
    things = sorted((box for box in boxes if box.kind in kinds), key=lambda box: box.left)
    for index, first in enumerate(things):
        for second in things[index + 1 :]:
            if second.left >= first.right + BAR_GAP:
                break
            if _event(first) == _event(second) or {first.kind, second.kind} <= {"barLine", "flag", "dots"}:
                continue
            tight = -TOUCH if {"flag", "dots"} & {first.kind, second.kind} else HEAD_GAP
            if (first.kind, second.kind) == ("notehead", "barLine"):
                tight = BAR_GAP
            if first.meets(second, tight) and _voice(first) == _voice(second):
                return True
    return False


def _event(box: Box) -> str:
    return ".".join(box.id.split(".")[:2])


def _voice(box: Box) -> str:
    """The voice's letter; what stands in no voice (bar lines) meets every voice."""
    parts = box.id.split(".")
    return parts[1][:1] if len(parts) > 1 and parts[1] != "r" else "h"
