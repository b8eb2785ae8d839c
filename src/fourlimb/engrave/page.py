"""Lines of music -> pages: lines down the page, one SVG document a page.

Units are drawing units (see `drawn`): the staff is 720 high whatever its size on paper. A page is as wide as the text
and as high as what stands on it, so the same SVG serves paper, screen and film. Every stroke, chord, rest and measure
keeps its name (see `ids`), and measures tell which bars they stand for and in which meter (`data-bars`,
`data-meter`).
"""

import copy
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fourlimb.model import Sheet

from .boxes import Box
from .columns import anchors, x_at
from .drawn import SVG_ATTRIBUTES, DrawnLine, engrave
from .form import Line, can_widen, lines, shown_meter, widened
from .ids import Place, line_places
from .layout import ORDINARY, Layout
from .legend import define_glyph
from .lettering import SPACE, Word, letter
from .meidoc import line_mei, write_bars
from .mending import crowded
from .notate import WrittenBar

Element = ElementTree.Element

GAP: Final = 2.6 * SPACE
"""Least white between two lines (ours, by looking)."""

MOST_SPREAD: Final = 1.9
"""How far the white between lines may grow to fill a page (ours, by looking)."""

MOST_SPLITS: Final = 4
"""How often crowded lines are halved: eight bars end as one."""

CLEF: Final = 5.0 * SPACE
"""What a clef takes at the head of a line, for the width of short lines."""


@dataclass(frozen=True)
class SetLine:
    """An engraved line with its words and the meaning of each thing on it."""

    line: Line
    drawn: DrawnLine
    words: tuple[Word, ...]
    places: Mapping[str, Place]

    @property
    def boxes(self) -> tuple[Box, ...]:
        """All that is drawn or written."""
        return (*self.drawn.boxes, *(word.box() for word in self.words))

    @property
    def top(self) -> float:
        """Highest point."""
        return min(box.top for box in self.boxes)

    @property
    def height(self) -> float:
        """From the highest to the lowest point."""
        return max(box.bottom for box in self.boxes) - self.top


def svg_pages(sheet: Sheet, layout: Layout = ORDINARY, *, first_mm: float | None = None) -> tuple[str, ...]:
    """The music of a chart, one SVG document a page, in order. The same sheet and layout give the same text.

    `first_mm`: height that page one leaves for music, when a heading stands there (None: all of it).
    """
    found = set_lines(sheet, layout)
    pages = paginate(layout, found, first_mm)
    high = layout.text_mm[1]
    rooms = [high if first_mm is None else first_mm] + [high] * len(pages)
    return tuple(compose(sheet, layout, page, high_mm=room) for page, room in zip(pages, rooms, strict=False))


def set_lines(sheet: Sheet, layout: Layout) -> list[SetLine]:
    """Every line of a chart, engraved and lettered. A line that turns out crowded becomes two."""
    written = write_bars(sheet, layout)
    todo = list(lines(sheet, layout))
    drawn = _engrave_lines(sheet, layout, todo, written)
    for _ in range(MOST_SPLITS):
        tight = [n for n, one in enumerate(drawn) if can_widen(todo[n]) and crowded(one.boxes)]
        if not tight:
            break
        todo = [part for n, line in enumerate(todo) for part in (widened(line) if n in tight else (line,))]
        drawn = _engrave_lines(sheet, layout, todo, written)
    out = []
    for line, one in zip(todo, drawn, strict=True):
        places = line_places(line, written)
        out.append(SetLine(line, one, tuple(letter(sheet, layout, line, one, places)), places))
    return out


def _engrave_lines(
    sheet: Sheet, layout: Layout, found: Sequence[Line], written: Mapping[int, WrittenBar]
) -> list[DrawnLine]:
    full = layout.text_mm[0] * layout.units_per_mm
    documents = []
    meter = ""
    for index, line in enumerate(found):
        show = shown_meter(sheet, line.first) != meter
        wide = round(CLEF + (full - CLEF) * min(1.0, line.units / line.full))
        last = index == len(found) - 1
        documents.append((line_mei(sheet, line, written, show_meter=show, final=last, wide=wide), wide))
        meter = shown_meter(sheet, line.last)
    return engrave(documents, large=layout.large)


def paginate(layout: Layout, found: Sequence[SetLine], first_mm: float | None = None) -> list[list[SetLine]]:
    """Lines of each page: as few pages as hold them, turned where a hand is free.

    A turn costs nothing in a rest or a run of repeats, a little at a section's end, more elsewhere; among equals the
    fuller first page wins.
    """
    high = layout.text_mm[1] * layout.units_per_mm
    first = high if first_mm is None else first_mm * layout.units_per_mm
    best: dict[int, tuple[int, int, float, tuple[int, ...]]] = {0: (0, 0, 0.0, ())}
    for end in range(1, len(found) + 1):
        used = -GAP
        for start in range(end - 1, -1, -1):
            used += GAP + found[start].height
            room = first if start == 0 else high
            if used > room and start < end - 1:
                if start == 0 or used > high:
                    break
                continue
            if start not in best:
                continue
            pages, turns, slack, cuts = best[start]
            turn = 0 if end == len(found) else turn_cost(found[end - 1], found[end])
            here = (pages + 1, turns + turn, slack + start, (*cuts, end))
            if end not in best or here[:3] < best[end][:3]:
                best[end] = here
    ends = best[len(found)][3] if found else ()
    return [list(found[start:end]) for start, end in zip((0, *ends), ends, strict=False)]


def turn_cost(before: SetLine, after: SetLine) -> int:
    """How hard it is to turn the page between two lines: 0 with a free hand, to 3."""
    if before.line.blocks[-1].kind == "rest" or after.line.blocks[0].kind == "rest":
        return 0
    if before.line.blocks[-1].kind == "repeat":
        return 1
    return 2 if any(word.kind == "section" for word in after.words) else 3


def compose(
    sheet: Sheet,
    layout: Layout,
    page: Sequence[SetLine],
    *,
    width_mm: float | None = None,
    high_mm: float | None = None,
) -> str:
    """One page as SVG text, as wide as the layout's text or as `width_mm`.

    `high_mm`: room that the page has; when it is nearly full, the lines are spread over all of it.
    """
    wide = (width_mm or layout.text_mm[0]) * layout.units_per_mm
    root = Element("svg", SVG_ATTRIBUTES)
    glyphs = ElementTree.SubElement(root, "defs")
    codes = sorted({code for one in page for code in one.drawn.glyphs})
    signs = sorted({code for one in page for word in one.words for code, _ in word.signs})
    for code in sorted({*codes, *signs}):
        define_glyph(glyphs, code)
    at = 0.0
    gap = _gap(page, high_mm * layout.units_per_mm if high_mm else 0.0)
    for one in page:
        at += gap if at else 0.0
        root.append(_line(sheet, one, at - one.top))
        at += one.height
    units = layout.units_per_mm
    root.set("viewBox", f"0 0 {round(wide)} {round(at)}")
    root.set("width", f"{wide / units:.3f}mm")
    root.set("height", f"{at / units:.3f}mm")
    return ElementTree.tostring(root, encoding="unicode")


def _gap(page: Sequence[SetLine], room: float) -> float:
    """White between lines: the least, or more where that fills a page that is nearly full anyway."""
    if len(page) < 2:
        return GAP
    even = (room - sum(one.height for one in page)) / (len(page) - 1)
    return even if GAP < even < MOST_SPREAD * GAP else GAP


def _line(sheet: Sheet, one: SetLine, down: float) -> Element:
    group = copy.deepcopy(one.drawn.group)
    group.attrib.clear()
    group.set("class", "line")
    group.set("transform", f"translate(0, {down:.1f})")
    for child in list(group):
        if "placeholder" in (child.get("class") or ""):
            group.remove(child)
    for element in group.iter("g"):
        _rename(sheet, one, element)
    for use in group.iter("use"):
        use.set("href", "#g" + (use.get("href") or "").removeprefix("#"))
    words = ElementTree.SubElement(group, "g", {"class": "words", "stroke": "none"})
    for word in one.words:
        _write(words, word)
    return group


def _rename(sheet: Sheet, one: SetLine, element: Element) -> None:
    """Names of the page instead of the line's own; the engraver's random ones go."""
    name = element.attrib.pop("id", "")
    place = one.places.get(name)
    if place is not None:
        element.set("id", place.name)
        return
    found = re.match(r"^b_(\d+)$", name)
    if not found:
        return
    index = int(found[1])
    block = one.line.blocks[index]
    length = sheet.grid.length(block.bar)
    points = anchors(one.drawn, index, length, one.places)
    element.set("id", f"bar{block.bar}")
    element.set("data-bars", f"{block.bars[0]}-{block.bars[-1]}")
    element.set("data-meter", sheet.grid.meter(block.bar))
    element.set("data-columns", " ".join(f"{position}:{x:.0f}" for position, x in points))
    element.set("data-end", f"{x_at(points, length):.0f}")


def _write(into: Element, word: Word) -> None:
    box = word.box()
    group = ElementTree.SubElement(into, "g", {"class": word.kind})
    if word.boxed:
        frame = {"x": box.left, "y": box.top, "width": word.width, "height": box.bottom - box.top}
        style = {"fill": "none", "stroke": "black", "stroke-width": "18", "rx": "30"}
        ElementTree.SubElement(group, "rect", {**{k: f"{v:.1f}" for k, v in frame.items()}, **style})
    x = word.left + word.pad
    for code, advance in word.signs:
        scale = word.size * 1.25 / 1000
        ElementTree.SubElement(
            group,
            "use",
            {"href": f"#g{code}", "transform": f"translate({x:.1f}, {word.y:.1f}) scale({scale:.4f}, {scale:.4f})"},
        )
        x += advance * word.size
    attributes = {"x": f"{x:.1f}", "y": f"{word.y:.1f}", "font-size": f"{word.size:.1f}"}
    attributes["font-family"] = "Libertinus Serif, serif"
    if word.bold:
        attributes["font-weight"] = "bold"
    if word.italic:
        attributes["font-style"] = "italic"
    ElementTree.SubElement(group, "text", attributes).text = word.text
