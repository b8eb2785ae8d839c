"""Finds things on a line that stand on one another: what a proof-reader would mark.

Boxes are those of the engraved line and of its words. What belongs together (a head and its own stem, a stem and its
beam, a head on its staff line) is allowed to touch; everything else must keep clear.
"""

from collections.abc import Iterator

from fourlimb.engrave.boxes import Box
from fourlimb.engrave.composing import SetLine

ATTACHED = {
    frozenset(pair)
    for pair in (
        ("stem", "beam"), ("stem", "flag"), ("beam", "flag"), ("stem", "dots"), ("stem", "graceGrp"),
        ("note", "stem"), ("stem", "stemMod"), ("notehead", "stemMod"), ("chord", "stem"), ("tuplet", "tupletNum"),
        ("tupletBracket", "tupletNum"), ("tupletBracket", "tupletBracket"), ("barLine", "barLine"),
    )
}  # fmt: skip
GROUND = {"staff-line", "staff", "barLineAttr", "system", "measure", "layer", "ledgerLines"}
WORDS = {
    "choke", "number", "section", "tempo", "feel", "cue", "tacet", "run", "doubt", "difficulty", "count", "hand",
    "word", "ending", "direction", "sign", "equal",
}  # fmt: skip
SLACK = 12.0
"""Overlap that ink does not show (a fifteenth of a staff space)."""


def collisions(line: SetLine) -> list[tuple[Box, Box]]:
    """Pairs of boxes of a line that overlap and should not."""
    return [pair for pair in _pairs(line.boxes) if pair[0].meets(pair[1], -SLACK) and not _allowed(*pair)]


def _pairs(boxes: tuple[Box, ...]) -> Iterator[tuple[Box, Box]]:
    kept = sorted((b for b in boxes), key=lambda b: b.left)
    for index, first in enumerate(kept):
        for second in kept[index + 1 :]:
            if second.left > first.right:
                break
            yield first, second


def _allowed(first: Box, second: Box) -> bool:
    kinds = {first.kind, second.kind}
    if kinds & WORDS:
        return False
    if kinds & GROUND or kinds in ({"multiRest"}, {"mRpt"}, {"multiRpt"}, {"stem"}, {"beam"}, {"dots"}):
        return True
    if kinds in ({"notehead"}, {"notehead", "flag"}, {"notehead", "dots"}, {"notehead", "stem"}):
        return _event(first) == _event(second)
    return frozenset(kinds) in ATTACHED


def _event(box: Box) -> str:
    return ".".join(box.id.split(".")[:2])
