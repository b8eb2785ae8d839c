"""Bars of a marked take as pictures: the engraved bar with a sign at every stroke that there is something to say of.

Signs differ by shape and stand beside the sentence that says the same, so that nothing hangs on colour:

    ring: missing      broken ring: not heard for sure      square: struck elsewhere      cross: added
    triangle: early (points back) or late (points on)
"""

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from fourlimb.model import MarkedStroke, Sheet, Sound
from fourlimb.model.sounds import FOOT, INSTRUMENT

from .pictures import merged

if TYPE_CHECKING:
    from fourlimb.engrave import Cursor, CursorBox

RING: Final = 190.0
"""Radius of a ring round a note head, drawing units (a head is 212 wide)."""

ROOM: Final = 130.0
"""White over and under the music for signs that reach out of it."""

Point = tuple[float, float]


def pictures(
    sheet: Sheet, inside: Mapping[int, Sequence[MarkedStroke]], sure: float, told_ms: float
) -> dict[str, str]:
    """For each bar of `inside` (as text) its picture as SVG text; under "glyphs" the shapes that all of them use.

    `sure`: confidence from which a verdict is told; `told_ms`: lateness from which a stroke has a triangle.
    """
    from fourlimb.engrave import Layout, cursor, excerpts

    if not inside:
        return {"glyphs": ""}
    drawn = excerpts(sheet, sorted(inside), Layout(show_count=True, show_cues=False, doubts=False), bare=True)
    roots = [ElementTree.fromstring(drawn[bar]) for bar in drawn]
    found = {"glyphs": merged(roots)}
    for number, (bar, root) in enumerate(zip(drawn, roots, strict=True)):
        x, y, wide, high = (float(part) for part in (root.get("viewBox") or "0 0 1 1").split())
        signs = "".join(_signs(cursor([drawn[bar]]), wide, inside[bar], sure, told_ms))
        view = f"{x:.0f} {y - ROOM:.0f} {wide:.0f} {high + 2 * ROOM:.0f}"
        found[str(bar)] = (
            f'<svg viewBox="{view}" style="--wide:{root.get("width", "62mm")}" aria-hidden="true">'
            f'<use href="#line-{number}"/><g class="signs">{signs}</g></svg>'
        )
    return found


def _signs(
    places: "Cursor", wide: float, strokes: Sequence[MarkedStroke], sure: float, told_ms: float
) -> Iterator[str]:
    heads = {(box.position, box.piece): _centre(box, wide) for box in places.strokes}
    for stroke in strokes:
        at = heads.get((stroke.position, stroke.piece))
        if stroke.verdict == "extra":
            if stroke.confidence >= sure:
                yield _cross(at or _beside(places, wide, stroke))
        elif at is not None:
            yield from _at_head(at, stroke, sure, told_ms)


def _at_head(at: Point, stroke: MarkedStroke, sure: float, told_ms: float) -> Iterator[str]:
    x, y = at
    broken = "" if stroke.confidence >= sure else ' stroke-dasharray="70 60"'
    if stroke.verdict == "missed":
        yield f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{RING:.0f}"{broken}/>'
    elif stroke.verdict == "other_piece" and not broken:
        yield f'<rect x="{x - RING:.0f}" y="{y - RING:.0f}" width="{2 * RING:.0f}" height="{2 * RING:.0f}"/>'
    if stroke.late_ms is not None and abs(stroke.late_ms) > told_ms:
        way = 1 if stroke.late_ms > 0 else -1
        tip, foot = x + way * 2.0 * RING, x + way * 0.95 * RING
        half = 0.5 * RING
        yield f'<path class="full" d="M{tip:.0f} {y:.0f} L{foot:.0f} {y - half:.0f} V{y + half:.0f} Z"/>'


def _cross(at: Point) -> str:
    x, y = at
    arm = 0.75 * RING
    return f'<path d="M{x - arm:.0f} {y:.0f} H{x + arm:.0f} M{x:.0f} {y - arm:.0f} V{y + arm:.0f}"/>'


def _beside(places: "Cursor", wide: float, stroke: MarkedStroke) -> Point:
    """Where an added stroke would stand: at its place in the bar, as high as its piece stands elsewhere in it."""
    columns = {box.position: _centre(box, wide)[0] for box in (*places.strokes, *places.beats)}
    staff = places.bars[0]
    columns.setdefault(Fraction(0), staff.x * wide)
    end = (staff.x + staff.width) * wide
    return _between(sorted(columns.items()), end, stroke.position), _height(places, wide, stroke.piece)


def _between(columns: Sequence[tuple[Fraction, float]], end: float, position: Fraction) -> float:
    for (before, x), (after, y) in pairwise(columns):
        if before <= position <= after:
            return x + (y - x) * float((position - before) / (after - before))
    last, x = columns[-1]
    step = float(position - last) / max(float(Fraction(1) - last), 0.25)
    return min(x + (end - x) * step, end)


def _height(places: "Cursor", wide: float, piece: Sound) -> float:
    """Feet stand at the foot of the staff, hands as high as the same piece or in the middle."""
    same = [box for box in places.strokes if box.piece == piece]
    alike = [box for box in places.strokes if box.piece and INSTRUMENT[_sound(box.piece)] == INSTRUMENT[piece]]
    for boxes in (same, alike):
        if boxes:
            return _centre(boxes[0], wide)[1]
    staff = places.bars[0]
    share = 0.875 if piece in FOOT else 0.375 if piece == "snare" else 0.0
    return (staff.y + share * staff.height) * wide


def _sound(piece: str) -> Sound:
    return next(sound for sound in INSTRUMENT if sound == piece)


def _centre(box: "CursorBox", wide: float) -> Point:
    return (box.x + box.width / 2) * wide, (box.y + box.height / 2) * wide
