"""One line of music, engraved: MEI in, vector elements and their boxes out.

Verovio spaces, beams and stacks the notes; everything else (words, numbers, where lines stand on the page) is ours,
so nothing here holds text. Coordinates are drawing units: the staff is 720 high, its top line at the y that
`DrawnLine.staff_top` tells. Identical lines are engraved once, and the last lines are remembered: drawing a page
again after one bar has changed engraves one line.

Verovio 6.4 traps met here (each seen): a glyph that its font lacks ends the process (see `heads.ASKED`;
`engraver` runs it in a process of its own); malformed input loses music silently, so every id that was written must
come back.
"""

import re
import xml.etree.ElementTree as ElementTree
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Final, NamedTuple

from fourlimb.model import FourlimbError

from . import heads
from .boxes import Box
from .engraver import EngraverDiedError, svgs
from .mending import Part, mend

Element = ElementTree.Element
SVG_ATTRIBUTES: Final = {"xmlns": "http://www.w3.org/2000/svg", "version": "1.1", "fill": "black", "stroke": "black"}
"""Of every page we write. Inside, names carry no namespace."""

GLYPH_SCALE: Final = 0.72
"""Font units to drawing units at full size (1000 per em, 4 staff spaces of 180 to the em)."""

OPTIONS: Final[dict[str, object]] = {
    "font": "Bravura",
    "header": "none",
    "footer": "none",
    "breaks": "encoded",
    "beamMaxSlope": 0,
    "mnumInterval": 0,
    "multiRestStyle": "block",
    "smuflTextFont": "none",
    "svgViewBox": True,
    "adjustPageHeight": True,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageMarginTop": 0,
    "pageMarginBottom": 0,
    "leftMarginRightBarLine": 2.0,
    "minLastJustification": 0,
    "xmlIdChecksum": True,
    "svgFormatRaw": True,
}

LARGE_OPTIONS: Final[dict[str, object]] = {
    "staffLineWidth": 0.20,
    "stemWidth": 0.28,
    "barLineWidth": 0.40,
    "graceFactor": 0.85,
}
"""Heavier lines and larger small notes for large print (UKAAF G009: thicken lines, enlarge small marks most)."""


@dataclass(frozen=True)
class DrawnLine:
    """An engraved line: its `<g>`, the boxes of all it holds, its width, and where the staff stands."""

    group: Element
    boxes: tuple[Box, ...]
    width: float
    staff_top: float
    glyphs: frozenset[str]


def engrave(documents: Sequence[tuple[bytes, int]], *, large: bool = False) -> list[DrawnLine]:
    """Each (MEI document, width in drawing units) as a drawn line.

    Raises FourlimbError when music was lost, EngraverDiedError (with the document's index) when it ends the engraver.
    """
    wanted = list(dict.fromkeys((document, width, large) for document, width in documents))
    known = {key: line for key in wanted if (line := _remembered.get(key)) is not None}
    new = [key for key in wanted if key not in known]
    asked = [(document.decode(), {"pageWidth": round(width / 10)}) for document, width, _ in new]
    try:
        for key, svg in zip(new, svgs(asked, OPTIONS | (LARGE_OPTIONS if large else {})), strict=True):
            known[key] = _read_svg(svg, *key[:2])
    except EngraverDiedError as died:
        raise EngraverDiedError(documents.index(new[died.index][:2])) from None
    for key, line in known.items():
        _remembered.put(key, line)
    return [known[document, width, large] for document, width in documents]


Key = tuple[bytes, int, bool]

MOST_REMEMBERED: Final = 64
"""Lines kept in memory: three pages (a line takes about 0.2 MB)."""


class _Remembered:
    """The last lines engraved. Nothing changes a `DrawnLine` once it is made, so pages may share one."""

    def __init__(self) -> None:
        self._lines: OrderedDict[Key, DrawnLine] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Key) -> DrawnLine | None:
        """A line drawn before, or None."""
        with self._lock:
            return self._lines.get(key)

    def clear(self) -> None:
        """Forget all."""
        with self._lock:
            self._lines.clear()

    def put(self, key: Key, line: DrawnLine) -> None:
        """Keep a line; the one used longest ago goes."""
        with self._lock:
            self._lines[key] = line
            self._lines.move_to_end(key)
            while len(self._lines) > MOST_REMEMBERED:
                self._lines.popitem(last=False)


_remembered: Final = _Remembered()


def forget() -> None:
    """Forget the lines drawn before: what is drawn next is engraved anew."""
    _remembered.clear()


def _read_svg(svg: str, document: bytes, width: int) -> DrawnLine:
    plain = svg.replace('xmlns="http://www.w3.org/2000/svg"', "").replace("xlink:href", "href")
    root = ElementTree.fromstring(plain)
    system = next((g for g in root.iter("g") if _kind(g) == "system"), None)
    if system is None:
        raise FourlimbError("the engraver drew nothing for a line: please report the chart")
    lost = _written_ids(document) - {g.get("id", "") for g in system.iter("g")}
    if lost:
        raise FourlimbError(f"the engraver lost {', '.join(sorted(lost)[:3])}: please report the chart")
    return read_line(system, float(width))


def _written_ids(document: bytes) -> set[str]:
    """Ids of all that must be seen again: measures, notes, chords, rests and repeats (spaces draw nothing)."""
    found = re.findall(rb'<(?:measure|note|chord|rest|mRest|mRpt|multiRpt|multiRest) xml:id="([^"]+)"', document)
    return {identifier.decode() for identifier in found}


def _kind(group: Element) -> str:
    return (group.get("class") or "").split(" ")[0]


def read_line(system: Element, width: float) -> DrawnLine:
    """A system as the engraver gave it, with its signs moved clear; its own ids and class names stay."""
    parts: list[Part] = []
    glyphs: set[str] = set()
    _exchange_heads(system)
    _walk(system, _Inside(), parts, glyphs)
    top = min((part.box.top for part in parts if part.box.kind == "staff-line"), default=0.0)
    boxes = mend(parts, top + 360.0)
    return DrawnLine(system, tuple(boxes), width, top, frozenset(glyphs))


def _exchange_heads(system: Element) -> None:
    """Plain names for glyphs, and our own outline for heads that the font lacks."""
    for use in system.iter("use"):
        use.set("href", "#" + (use.get("href") or "#").removeprefix("#").split("-")[0])
    for group in system.iter("g"):
        if _kind(group) == "staff":
            for path in group.findall("path"):
                path.set("class", "staff-line")
        if _kind(group) == "notehead":
            for use in list(group.iter("use"))[:1]:
                use.set("data-head", "1")
        if "let-ring" in (group.get("class") or "").split(" "):
            _open_tie(group)
        for side in ("tie-out", "tie-in"):
            if side in (group.get("class") or "").split(" "):
                _open_tie(group, before=side == "tie-in")
        if "half-open" in (group.get("class") or "").split(" "):
            for use in group.iter("use"):
                use.set("href", "#half-open")
        if "triangle" in (group.get("class") or "").split(" "):
            for head in group.iter("g"):
                if _kind(head) == "notehead":
                    for use in head.iter("use"):
                        if use.get("href") == "#E0A4":
                            use.set("href", "#triangle")


def _open_tie(note: Element, *, before: bool = False) -> None:
    """A short open tie after (or before) a note's head, on the side that its stem leaves free."""
    head = next((g for g in note.iter("g") if _kind(g) == "notehead"), None)
    use = next(head.iter("use"), None) if head is not None else None
    if head is None or use is None:
        return
    x, y = _numbers(use.get("transform", "0 0"))[:2]
    left = x - 170.0 if before else x + 232.0
    right, low, deep = left + 178.0, y + 70.0, y + 150.0
    bend = f"C{left + 70:.0f} {deep:.0f} {right - 70:.0f} {deep:.0f} {right:.0f} {low:.0f}"
    back = f"C{right - 70:.0f} {deep - 28:.0f} {left + 70:.0f} {deep - 28:.0f} {left:.0f} {low:.0f}"
    tie = ElementTree.SubElement(note, "g", {"class": "lv"})
    ElementTree.SubElement(tie, "path", {"d": f"M{left:.0f} {low:.0f} {bend} {back} Z", "stroke-width": "8"})


MOVABLE: Final = frozenset({"artic", "tupletNum", "tupletBracket"})
"""Classes of groups that may be moved to clear what they touch."""


class _Inside(NamedTuple):
    """What the walk stands in: the engraver's class, our name, the group that can be moved, the tuplet."""

    kind: str = ""
    name: str = ""
    group: Element | None = None
    unit: int = 0


def _walk(element: Element, inside: _Inside, parts: list[Part], glyphs: set[str]) -> None:
    for number, child in enumerate(element):
        if child.tag == "g":
            kind = _kind(child)
            if kind == "section" or "placeholder" in (child.get("class") or ""):
                continue
            named = child.get("id", "")
            below = _Inside(
                kind or inside.kind,
                named if named.startswith("b_") else inside.name,
                child if kind in MOVABLE else inside.group,
                len(parts) * 1000 + number + 1 if kind == "tuplet" else inside.unit,
            )
            _walk(child, below, parts, glyphs)
        elif child.tag == "use":
            parts.append(Part(_use_box(child, inside.kind, inside.name, glyphs), inside.group, inside.unit))
        else:
            parts.append(Part(_shape_box(child, child.tag, inside.kind, inside.name), inside.group, inside.unit))


def _numbers(text: str) -> list[float]:
    return [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", text)]


def _use_box(use: Element, kind: str, name: str, glyphs: set[str]) -> Box:
    code = (use.get("href") or "#").removeprefix("#")
    glyphs.add(code)
    numbers = [*_numbers(use.get("transform", "")), GLYPH_SCALE, GLYPH_SCALE]
    x, y, sx, sy = numbers[:4]
    left, bottom, wide, high = heads.boxes().get(heads.LIKE.get(code, code), (0.0, 0.0, 0.0, 0.0))
    return Box(kind, x + left * sx, y - (bottom + high) * sy, x + (left + wide) * sx, y - bottom * sy, name)


def _shape_box(shape: Element, tag: str, kind: str, name: str) -> Box:
    if tag == "rect":
        x, y, w, h = (float(shape.get(k, 0)) for k in ("x", "y", "width", "height"))
        return Box(kind, x, y, x + w, y + h, name)
    if tag == "ellipse":
        x, y, rx, ry = (float(shape.get(k, 0)) for k in ("cx", "cy", "rx", "ry"))
        return Box(kind, x - rx, y - ry, x + rx, y + ry, name)
    numbers = _numbers(shape.get("points") or shape.get("d") or "0 0")
    half = float(shape.get("stroke-width", 0)) / 2
    xs, ys = numbers[0::2], numbers[1::2]
    line = kind == "staff" and tag == "path"
    return Box("staff-line" if line else kind, min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half, name)
