"""Engraved and lettered lines -> one page as SVG text.

Units are drawing units (see `drawn`): the staff is 720 high whatever its size on paper. A page is as wide as the text
and as high as what stands on it, so the same SVG serves paper, screen and film. Every stroke, chord, rest and measure
keeps its name (see `ids`); measures tell which bars they stand for, in which meter, and where each position stands
(`data-bars`, `data-meter`, `data-columns`). The engraver's other groups are left out: half the size, the same
picture.
"""

import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise
from typing import Final

from fourlimb.model import Sheet

from .blocks import Block, Line
from .boxes import Box
from .columns import Anchor
from .drawn import SVG_ATTRIBUTES, DrawnLine
from .ids import Place
from .layout import Layout
from .legend import define_glyph
from .lettering import SPACE, Word
from .passes import passes_of
from .xmltext import attributes_text, xml_text

Element = ElementTree.Element

GAP: Final = 1.5 * SPACE
"""Least white between what stands under a line and what stands over the next (ours, by looking)."""

PITCH: Final = 12.0 * SPACE
"""Ordinary distance from staff to staff: eight spaces of white between two staves (ours, by looking)."""

MOST_PITCH: Final = 14.4 * SPACE
"""Widest distance from staff to staff where lines are spread over a page: a page of few lines, and one that is turned
early for the sake of a rest, keeps its white at the foot (ours, by looking)."""

STEP: Final = 0.5 * SPACE
"""Width of the strips in which the outlines of two lines are compared."""


@dataclass(frozen=True)
class SetLine:
    """An engraved line with its words and the meaning of each thing on it."""

    line: Line
    drawn: DrawnLine
    words: tuple[Word, ...]
    places: Mapping[str, Place]
    columns: Sequence[Sequence[Anchor]]

    @cached_property
    def boxes(self) -> tuple[Box, ...]:
        """All that is drawn or written."""
        return (*self.drawn.boxes, *(word.box() for word in self.words))

    @cached_property
    def top(self) -> float:
        """Highest point."""
        return min(box.top for box in self.boxes)

    @cached_property
    def bottom(self) -> float:
        """Lowest point."""
        return max(box.bottom for box in self.boxes)

    @cached_property
    def over(self) -> float:
        """From the top staff line up to the highest point."""
        return self.drawn.staff_top - self.top

    @cached_property
    def under(self) -> float:
        """From the top staff line down to the lowest point."""
        return self.bottom - self.drawn.staff_top

    @cached_property
    def height(self) -> float:
        """From the highest to the lowest point."""
        return self.bottom - self.top

    @cached_property
    def outline(self) -> tuple[dict[int, float], dict[int, float]]:
        """How far things reach over and under the top staff line, strip by strip."""
        up: dict[int, float] = {}
        down: dict[int, float] = {}
        for box in self.boxes:
            above, below = self.drawn.staff_top - box.top, box.bottom - self.drawn.staff_top
            for strip in range(int(box.left // STEP), int(box.right // STEP) + 1):
                up[strip] = max(up.get(strip, above), above)
                down[strip] = max(down.get(strip, below), below)
        return up, down


def pitch_between(one: SetLine, after: SetLine) -> float:
    """Least distance from one line's staff to the next one's: what hangs down may stand beside what reaches up."""
    down, up = one.outline[1], after.outline[0]
    reach = max(
        (below + up[near] for strip, below in down.items() for near in (strip - 1, strip, strip + 1) if near in up),
        default=0.0,
    )
    return reach + GAP


def shifts(page: Sequence[SetLine], pitches: Sequence[float]) -> list[float]:
    """How far each line is moved down on its page."""
    staves = accumulate(pitches, initial=page[0].over)
    return [staff - one.drawn.staff_top for one, staff in zip(page, staves, strict=True)]


def page_height(page: Sequence[SetLine], pitches: Sequence[float]) -> float:
    """Height of lines that stand at these distances."""
    return page[0].over + sum(pitches) + page[-1].under


def pitches_of(page: Sequence[SetLine], room: float, most: float = PITCH) -> list[float]:
    """Distances from staff to staff down a page: alike wherever words leave room, as wide as `room` lets them be.

    Never closer than what stands between them allows; never wider than `most` for the sake of the room.
    """
    least = [pitch_between(one, after) for one, after in pairwise(page)]
    if not least:
        return []
    free = room - page[0].over - page[-1].under
    low, high = 0.0, most
    if sum(max(each, high) for each in least) <= free or free <= 0.0:
        return [max(each, high if free > 0.0 else PITCH) for each in least]
    for _ in range(24):  # halving: to a thousandth of a space
        middle = (low + high) / 2
        low, high = (middle, high) if sum(max(each, middle) for each in least) <= free else (low, middle)
    return [max(each, low) for each in least]


def compose(
    sheet: Sheet,
    layout: Layout,
    page: Sequence[SetLine],
    *,
    width_mm: float | None = None,
    high_mm: float = 0.0,
    most: float = PITCH,
    from_x: float = 0.0,
) -> str:
    """One page as SVG text, as wide as the layout's text or as `width_mm`.

    `high_mm`: room that the page has (0: as much as the lines want), over which lines are spread up to `most` apart.
    `from_x`: what is cut off at the left, in drawing units.
    """
    units = layout.units_per_mm
    wide = (width_mm or layout.text_mm[0]) * units
    pitches = pitches_of(page, high_mm * units, most)
    body: list[str] = []
    for one, down in zip(page, shifts(page, pitches), strict=True):
        _line(sheet, one, down, body)
    high = page_height(page, pitches)
    size = {
        "viewBox": f"{round(from_x)} 0 {round(wide)} {round(high)}",
        "width": f"{wide / units:.3f}mm",
        "height": f"{high / units:.3f}mm",
    }
    return f"<svg{attributes_text(SVG_ATTRIBUTES | size)}>{_glyphs(page)}{''.join(body)}</svg>"


def _glyphs(page: Sequence[SetLine]) -> str:
    codes = {code for one in page for code in one.drawn.glyphs}
    codes |= {code for one in page for word in one.words for code, _ in word.signs}
    definitions = Element("defs")
    for code in sorted(codes):
        define_glyph(definitions, code)
    return xml_text(definitions)


def _line(sheet: Sheet, one: SetLine, down: float, out: list[str]) -> None:
    names = {name: {"id": place.name} for name, place in one.places.items()}
    for index in range(len(one.line.blocks)):
        names[f"b_{index}"] = _measure_facts(sheet, one, index)
    out.append(f'<g class="line" transform="translate(0, {down:.1f})">')
    for child in one.drawn.group:
        _copy(child, names, out)
    words = Element("g", {"class": "words", "stroke": "none"})
    for word in one.words:
        _write(words, word)
    out.append(xml_text(words))
    out.append("</g>")


def _measure_facts(sheet: Sheet, one: SetLine, index: int) -> dict[str, str]:
    """What a measure says of itself on the page."""
    block = one.line.blocks[index]
    points = one.columns[index]
    return {
        "id": f"bar{block.bar}",
        "data-bars": f"{block.bars[0]}-{block.bars[-1]}",
        **_passes(sheet, block),
        "data-meter": sheet.grid.meter(block.bar),
        "data-columns": " ".join(f"{position}:{x:.0f}" for position, x in points),
    }


def _passes(sheet: Sheet, block: Block) -> dict[str, str]:
    """The bars of each pass, where a measure is played more than once."""
    firsts, lasts = passes_of(sheet, block.bar), passes_of(sheet, block.bars[-1])
    if len(firsts) < 2:
        return {}
    return {"data-passes": " ".join(f"{first}-{last}" for first, last in zip(firsts, lasts, strict=True))}


def _copy(element: Element, names: Mapping[str, dict[str, str]], out: list[str]) -> None:
    """An engraved element and all below it, without groups that name and move nothing."""
    if element.tag != "g":
        attributes = "".join([f' {name}="{value}"' for name, value in element.items()])  # numbers: nothing to escape
        out.append(f"<{element.tag}{attributes}/>".replace('href="#', 'href="#g'))
        return
    kept = names.get(element.get("id", ""))
    moved = element.get("transform")
    if "placeholder" in element.get("class", ""):
        return
    if kept is not None or moved is not None:
        start = len(out)
        out.append(f"<g{attributes_text((kept or {}) | ({'transform': moved} if moved else {}))}>")
        for child in element:
            _copy(child, names, out)
        if len(out) == start + 1:
            out.pop()
        else:
            out.append("</g>")
        return
    for child in element:
        _copy(child, names, out)


def _write(into: Element, word: Word) -> None:
    box = word.box()
    group = ElementTree.SubElement(into, "g", {"class": word.kind})
    if word.boxed:
        frame = {"x": box.left, "y": box.top, "width": word.width, "height": box.bottom - box.top}
        style = {"fill": "none", "stroke": "black", "stroke-width": "18", "rx": "30"}
        ElementTree.SubElement(group, "rect", {**{k: f"{v:.1f}" for k, v in frame.items()}, **style})
    if word.bracket:
        top, foot, right = box.top, box.bottom, box.left + word.bracket
        hook = f" L{right:.1f} {foot:.1f}" if word.closed else ""
        d = f"M{box.left:.1f} {foot if word.text else top:.1f} L{box.left:.1f} {top:.1f} L{right:.1f} {top:.1f}{hook}"
        ElementTree.SubElement(group, "path", {"d": d, "fill": "none", "stroke": "black", "stroke-width": "18"})
    x = word.left + word.pad + (0.4 * word.size if word.bracket else 0.0)
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
