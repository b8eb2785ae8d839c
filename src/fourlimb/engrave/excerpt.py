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
from .lettering import SPACE, letter
from .meidoc import line_mei, write_bars

FRONT_MM: Final = 15.0
"""What clef and meter take at the front of an excerpt at scale 1."""

CLEF: Final = 3.4 * SPACE
"""What a clef takes at the front of a line, up to the white before the first note."""

LEAST_MM: Final = 62.0
"""Least width of an excerpt at scale 1 (ours, by looking)."""


def excerpts(
    sheet: Sheet,
    bars: Sequence[int],
    layout: Layout = ORDINARY,
    *,
    width_mm: float | None = None,
    least_mm: float = 0.0,
    bare: bool = False,
) -> dict[int, str]:
    """Each of `bars` as one SVG, written out, with count and hands if the layout shows them, and no other words.

    `width_mm`: one width for all; else each is as wide as its content needs, at least `least_mm` (0: what a plain bar
    takes). `bare`: without clef and meter, which a picture in a list need not repeat.
    """
    written = write_bars(sheet, layout, alone=True)
    quiet = msgspec.structs.replace(sheet, sections=(), landmarks=(), doubts=())
    lines, documents, widths = [], [], []
    for bar in dict.fromkeys(bars):
        line = Line((Block("written", bar),), 1.0, 1.0)
        need = bar_mm(sheet, layout, bar) + FRONT_MM * layout.scale
        mm = width_mm or max(least_mm or LEAST_MM * layout.scale, need)
        wide = round(mm * layout.units_per_mm + (CLEF if bare else 0.0))
        lines.append(line)
        widths.append(mm)
        documents.append((line_mei(quiet, line, written, show_meter=not bare, final=False, wide=wide), wide))
    engraved = engrave_lines(quiet, layout, lines, written, documents)
    out = {}
    for line, drawn, mm in zip(lines, engraved, widths, strict=True):
        places = line_places(line, written)
        columns = line_columns(drawn, [quiet.grid.length(line.first)], places)
        words = letter(quiet, layout, line, drawn, columns, headings=False)
        one = SetLine(line, drawn, tuple(words), places, columns)
        out[line.first] = compose(quiet, layout, [one], width_mm=mm, from_x=CLEF if bare else 0.0)
    return out
