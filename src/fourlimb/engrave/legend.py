"""The key, drawn from the kit's table: one note per piece that the chart uses, with its name."""

import xml.etree.ElementTree as ElementTree
from typing import Final

from fourlimb.model import Kit, Sheet, Sound
from fourlimb.model.sounds import ORDER, say_sound

from . import heads
from .drawn import GLYPH_SCALE, SVG_ATTRIBUTES
from .layout import Layout
from .lettering import SPACE, type_size
from .typeface import width
from .xmltext import xml_text

Element = ElementTree.Element

CLEF_WIDTH: Final = 3.2 * SPACE
STEM: Final = 2.3 * SPACE
TOP: Final = 5.4 * SPACE
"""Room over the staff for the highest head with its stem."""

BETWEEN: Final = 2.6 * SPACE
"""White between two names."""

SHARE: Final = 0.72
"""Size of the key against the music."""


Piece = tuple[Sound, bool]
"""A sound, and whether it is the second of its kind."""


def used_pieces(sheet: Sheet) -> tuple[Piece, ...]:
    """Pieces of the chart in the order of their height on the staff, lowest first."""
    pieces = sorted({(ORDER[s.piece], s.second, s.piece) for s in sheet.chart.strokes})
    found = [(piece, second) for _, second, piece in pieces]
    return tuple(sorted(found, key=lambda one: sheet.kit.place(one[0], second=one[1]).line))


def legend_svg(sheet: Sheet, layout: Layout) -> str:
    """The key as one SVG as wide as the text; two rows when the names need them. Empty when nothing is played."""
    pieces = used_pieces(sheet)
    if not pieces:
        return ""
    size = type_size(layout, 8) / SHARE
    wide = layout.text_mm[0] * layout.units_per_mm / SHARE
    cells = [(piece, max(width(_name(piece), size) + BETWEEN, 3.0 * SPACE)) for piece in pieces]
    rows = _rows(cells, wide - CLEF_WIDTH)
    root = Element("svg", SVG_ATTRIBUTES)
    definitions = ElementTree.SubElement(root, "defs")
    high = TOP + 7.4 * SPACE + 1.4 * size
    codes = {"E069"}
    for index, row in enumerate(rows):
        group = ElementTree.SubElement(root, "g", {"transform": f"translate(0, {index * high:.0f})"})
        codes |= _row(group, row, sheet.kit, size)
    for code in sorted(codes):
        define_glyph(definitions, code)
    total = high * len(rows)
    root.set("viewBox", f"0 0 {wide:.0f} {total:.0f}")
    root.set("width", f"{layout.text_mm[0]:.3f}mm")
    root.set("height", f"{total * SHARE / layout.units_per_mm:.3f}mm")
    return xml_text(root)


def define_glyph(into: Element, code: str) -> None:
    """A glyph's outline as a definition that `#g<code>` draws."""
    group = ElementTree.SubElement(into, "g", {"id": f"g{code}"})
    path = {"triangle": heads.TRIANGLE, "half-open": heads.HALF_OPEN}.get(code) or heads.outline(code)
    stroke = {"stroke-width": "26", "stroke-linejoin": "round"} if code in heads.THIN else {"stroke": "none"}
    ElementTree.SubElement(group, "path", {"transform": "scale(1,-1)", "d": path, **stroke})


def _rows(cells: list[tuple[Piece, float]], room: float) -> list[list[tuple[Piece, float]]]:
    """Cells in as few rows as hold them, of like length."""
    total = sum(wide for _, wide in cells)
    for count in range(1, len(cells) + 1):
        rows = _shared(cells, total / count)
        if len(rows) <= count and all(sum(wide for _, wide in row) <= room for row in rows):
            return rows
    return [[cell] for cell in cells]


def _shared(cells: list[tuple[Piece, float]], share: float) -> list[list[tuple[Piece, float]]]:
    """Cells in rows of about `share`: each starts the row that its middle falls in."""
    rows: list[list[tuple[Piece, float]]] = []
    at, last = 0.0, -1
    for cell in cells:
        row = int((at + cell[1] / 2) / share)
        if row != last:
            rows.append([])
        rows[-1].append(cell)
        at, last = at + cell[1], row
    return rows


def _row(group: Element, row: list[tuple[Piece, float]], kit: Kit, size: float) -> set[str]:
    top = TOP
    end = CLEF_WIDTH + sum(wide for _, wide in row)
    for line in range(5):
        y = top + line * SPACE
        ElementTree.SubElement(group, "path", {"d": f"M0 {y:.0f} L{end:.0f} {y:.0f}", "stroke-width": "13"})
    _use(group, "E069", 0.5 * SPACE, top + 2 * SPACE)
    codes = set()
    x = CLEF_WIDTH
    for piece, wide in row:
        centre = x + wide / 2
        codes |= _note(group, piece, kit, centre, top)
        label = {"x": f"{centre:.0f}", "y": f"{top + 7.2 * SPACE + 0.7 * size:.0f}", "font-size": f"{size:.0f}"}
        style = {"font-family": "Libertinus Serif, serif", "text-anchor": "middle", "stroke": "none"}
        ElementTree.SubElement(group, "text", label | style).text = _name(piece)
        x += wide
    return codes


def _name(piece: Piece) -> str:
    return say_sound(piece[0], second=piece[1])


def _note(group: Element, piece: Piece, kit: Kit, centre: float, top: float) -> set[str]:
    place = kit.place(piece[0], second=piece[1])
    y = top + 4 * SPACE - place.line * SPACE / 2
    code = glyph_of(place.head)
    half = heads.boxes().get(code, (0, 0, 296.0, 0))[2] * GLYPH_SCALE / 2
    for ledger in [*range(10, place.line + 1, 2), *range(-2, place.line - 1, -2)]:
        at = top + 4 * SPACE - ledger * SPACE / 2
        d = f"M{centre - half - 60:.0f} {at:.0f} L{centre + half + 60:.0f} {at:.0f}"
        ElementTree.SubElement(group, "path", {"d": d, "stroke-width": "22"})
    up = place.voice == "hands"
    x = centre + half - 9 if up else centre - half + 9
    tip = y - STEM if up else y + STEM
    d = f"M{x:.0f} {y - 25 if up else y + 25:.0f} L{x:.0f} {tip:.0f}"
    ElementTree.SubElement(group, "path", {"d": d, "stroke-width": "18"})
    _use(group, code, centre - half, y)
    if piece[0] == "hat_open":
        _use(group, "E5E7", centre - 75, tip - 120)
        return {code, "E5E7"}
    return {code}


def glyph_of(head: str) -> str:
    """Code point (or own name) of a head."""
    return {
        "normal": "E0A4",
        "x": heads.X_HEAD,
        "circle-x": "E0B3",
        "diamond": "E0DB",
        "triangle": "triangle",
        "plus": "E0AF",
        "slash": "E0CF",
    }[head]


def _use(group: Element, code: str, x: float, y: float) -> None:
    transform = f"translate({x:.0f}, {y:.0f}) scale({GLYPH_SCALE}, {GLYPH_SCALE})"
    ElementTree.SubElement(group, "use", {"href": f"#g{code}", "transform": transform})
