"""Single bars cut out of a chart, each a small picture of its own: for the figures sheet, the road map and films."""

from collections.abc import Sequence
from typing import Final

import msgspec

from fourlimb.model import Sheet

from .blocks import Block, Line
from .columns import line_columns
from .composing import SetLine, compose
from .deadly import engrave_lines
from .form import bar_mm
from .ids import line_places
from .layout import ORDINARY, Layout
from .lettering import letter
from .meidoc import line_mei, write_bars

FRONT_MM: Final = 15.0
"""What clef and meter take at the front of an excerpt at scale 1."""

LEAST_MM: Final = 62.0
"""Least width of an excerpt at scale 1 (ours, by looking)."""


def excerpts(
    sheet: Sheet, bars: Sequence[int], layout: Layout = ORDINARY, *, width_mm: float | None = None
) -> dict[int, str]:
    """Each of `bars` as one SVG, written out, with count and hands if the layout shows them, and no other words.

    `width_mm`: one width for all; else each is as wide as its content needs.
    """
    written = write_bars(sheet, layout, alone=True)
    quiet = msgspec.structs.replace(sheet, sections=(), landmarks=(), doubts=())
    lines, documents, widths = [], [], []
    for bar in dict.fromkeys(bars):
        line = Line((Block("written", bar),), 1.0, 1.0)
        mm = width_mm or max(LEAST_MM * layout.scale, bar_mm(sheet, layout, bar) + FRONT_MM * layout.scale)
        wide = round(mm * layout.units_per_mm)
        lines.append(line)
        widths.append(mm)
        documents.append((line_mei(quiet, line, written, show_meter=True, final=False, wide=wide), wide))
    engraved = engrave_lines(quiet, layout, lines, written, documents)
    out = {}
    for line, drawn, mm in zip(lines, engraved, widths, strict=True):
        places = line_places(line, written)
        columns = line_columns(drawn, [quiet.grid.length(line.first)], places)
        words = letter(quiet, layout, line, drawn, columns, headings=False)
        out[line.first] = compose(quiet, layout, [SetLine(line, drawn, tuple(words), places, columns)], width_mm=mm)
    return out
