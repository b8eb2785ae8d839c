"""Engraved pages -> one picture per level that the page can cut into rows, and where every bar stands in it.

The printed lines become groups `line-0`, `line-1` ... of one SVG; what the page does not need (names, `data-` fields,
repeated glyph outlines) is left out, and ink becomes the page's own. Places come from `engrave.cursor`, in widths of
the printed page.
"""

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, Any, Final

from fourlimb.model import Sheet

from .music import played

if TYPE_CHECKING:
    from fourlimb.engrave import Cursor

Element = ElementTree.Element
Box = dict[str, Any]
SVG: Final = "http://www.w3.org/2000/svg"
XLINK: Final = "http://www.w3.org/1999/xlink"
ALLOWED: Final = frozenset(
    {"svg", "g", "defs", "use", "path", "rect", "ellipse", "polygon", "polyline", "text", "tspan"}
)
"""What may stand in a picture; anything else an engraver might write is left out."""


@dataclass(frozen=True)
class Picture:
    """One level's chart as drawn.

    `svg`: one element holding a group `line-N` for each printed line; `unit`: drawing units in a page width; `lines`:
    top and bottom of each line's staff, in page widths; `boxes`: for each bar of the grid its line, x, width, marks
    [quarters, x], and whether it is a rest; or None where it is not drawn.
    """

    svg: str
    unit: float
    lines: list[list[float]]
    boxes: list[Box | None]


def engraved(sheet: Sheet) -> Picture:
    """The chart as `engrave` sets it, every bar written out, so that a row may begin anywhere."""
    from fourlimb.engrave import Layout, cursor, svg_pages

    pages = svg_pages(sheet, Layout(simile="never", doubts=False))
    return picture(sheet, pages, cursor(pages))


def picture(sheet: Sheet, pages: Sequence[str], places: "Cursor") -> Picture:
    """Engraved pages of a sheet, all of one width, as one picture."""
    roots = [ElementTree.fromstring(page) for page in pages]
    unit = float((roots[0].get("viewBox") or "0 0 1 1").split()[2])
    staves: dict[int, list[float]] = {}
    for bar in places.bars:
        staves.setdefault(bar.line, [bar.y, round(bar.y + bar.height, 5)])
    return Picture(
        svg=merged(roots), unit=unit, lines=[staves[line] for line in sorted(staves)], boxes=_boxes(sheet, places)
    )


def _boxes(sheet: Sheet, places: "Cursor") -> list[Box | None]:
    """Where each bar of the grid stands; marks are the centres of all that is struck or counted, left to right.

    A long rest has its beats spread over all its width: they are moved to where other bars begin, after the clef.
    """
    marks: dict[int, dict[float, float]] = {}
    for thing in (*places.beats, *places.strokes):
        if sheet.grid.has(thing.bar):
            at = played(sheet.grid, thing.bar, thing.position)
            x = round(thing.x + thing.width / 2, 5)
            known = marks.setdefault(thing.bar, {})
            known[at] = min(x, known.get(at, x))
    opens = _line_openers(places)
    struck = {stroke.bar for stroke in places.strokes}
    heads = {side: _usual_head(places, marks, struck, opens, side) for side in (True, False)}
    found: dict[int, Box] = {}
    for bar in places.bars:
        points = _increasing(sorted(marks.get(bar.bar, {0.0: bar.x}).items()))
        if bar.bar not in struck:
            points = _after(points, bar.x, bar.width, heads[bar.bar in opens])
        rest = bar.bar not in struck
        found[bar.bar] = {"line": bar.line, "x": bar.x, "width": bar.width, "marks": points, "rest": rest}
    return [found.get(bar.bar) for bar in sheet.grid.bars]


def _line_openers(places: "Cursor") -> set[int]:
    """The first bar of every line."""
    first: dict[int, int] = {}
    for bar in places.bars:
        first[bar.line] = min(bar.bar, first.get(bar.line, bar.bar))
    return set(first.values())


def _usual_head(
    places: "Cursor", marks: dict[int, dict[float, float]], struck: set[int], opens: set[int], side: bool
) -> float:
    """How far after their left edge bars begin to be played: those that open a line (`side`), or the others."""
    alike = [bar for bar in places.bars if bar.bar in struck and (bar.bar in opens) == side]
    heads = [marks[bar.bar][0.0] - bar.x for bar in alike if 0.0 in marks[bar.bar]]
    return median(heads) if heads else 0.0


def _after(points: list[list[float]], left: float, width: float, head: float) -> list[list[float]]:
    """Points pushed together so that the first stands no less than `head` after a bar's left edge."""
    short = min(head, width / 2) - (points[0][1] - left)
    if short <= 0:
        return points
    room = left + width - points[0][1]
    return [[at, round(x + short * (left + width - x) / room, 5)] for at, x in points]


def _increasing(points: Iterable[tuple[float, float]]) -> list[list[float]]:
    """Points whose x never steps back, so that the needle never does."""
    kept: list[list[float]] = []
    for at, x in points:
        if not kept or x >= kept[-1][1]:
            kept.append([at, x])
    return kept


def merged(roots: Sequence[Element]) -> str:
    """All lines of all pages in one SVG, each in a group of its own, with every glyph outline once."""
    ink = {name: _ink(name, roots[0].get(name, "none")) for name in ("fill", "stroke")}
    whole = Element(f"{{{SVG}}}svg", {"width": "0", "height": "0", "aria-hidden": "true"})
    glyphs = ElementTree.SubElement(whole, f"{{{SVG}}}defs")
    outlines: dict[str, Element] = {}
    for root in roots:
        for outline in root.iterfind(f"{{{SVG}}}defs/*[@id]"):
            outlines.setdefault(outline.get("id") or "", outline)
    glyphs.extend(_plain(outlines[name], keep_id=True) for name in sorted(outlines))
    lines = [line for root in roots for line in root.iterfind(f"{{{SVG}}}g[@class='line']")]
    for number, line in enumerate(lines):
        group = ElementTree.SubElement(whole, f"{{{SVG}}}g", {"id": f"line-{number}", **ink})
        group.append(_plain(line))
    ElementTree.register_namespace("", SVG)
    ElementTree.register_namespace("xlink", XLINK)
    return ElementTree.tostring(whole, encoding="unicode")


def _plain(element: Element, *, keep_id: bool = False) -> Element:
    """The element without names, data, scripts and empty groups, in the page's own ink."""
    kept = {name: _ink(name, value) for name, value in element.attrib.items() if _wanted(name, value, keep_id)}
    plain = Element(element.tag, kept)
    plain.text = element.text if element.tag == f"{{{SVG}}}text" or element.tag == f"{{{SVG}}}tspan" else None
    for child in element:
        if child.tag.removeprefix(f"{{{SVG}}}") in ALLOWED:
            below = _plain(child)
            if len(below) or below.tag != f"{{{SVG}}}g":
                plain.append(below)
    return plain


def _wanted(name: str, value: str, keep_id: bool) -> bool:
    if name == f"{{{XLINK}}}href":
        return value.startswith("#")
    return not (
        name.startswith(("data-", "on")) or name in ("class", "font-family") or (name == "id" and not keep_id)
    )


def _ink(name: str, value: str) -> str:
    return "currentColor" if name in ("fill", "stroke") and value == "black" else value
