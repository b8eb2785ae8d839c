"""Lines of music -> pages: lines down the page, one SVG document a page.

Lines come engraved and lettered, are halved where they turn out crowded, and are dealt out to pages that turn where a
hand is free. `composing` writes the SVG.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from fourlimb.model import Sheet

from .blocks import Line, can_widen, widened
from .columns import line_columns
from .composing import PITCH, SetLine, compose, pitch_between
from .deadly import engrave_lines
from .drawn import DrawnLine
from .folded import written_form
from .form import lines
from .ids import line_places
from .layout import ORDINARY, Layout
from .lettering import SPACE, letter
from .marks import shown_meter
from .meidoc import line_mei, write_bars
from .mending import crowded
from .notate import WrittenBar

MOST_SPLITS: Final = 4
"""How often crowded lines are halved: eight bars end as one."""

HALF: Final = 2.0
"""Units of the line over whose half a bar alone is drawn, where lines fill the width."""

CLEF: Final = 5.0 * SPACE
"""What a clef takes at the head of a line, for the width of short lines."""


def svg_pages(sheet: Sheet, layout: Layout = ORDINARY, *, first_mm: float | None = None) -> tuple[str, ...]:
    """The music of a chart, one SVG document a page, in order. The same sheet and layout give the same text.

    `first_mm`: height that page one leaves for music, when a heading stands there (None: all of it).
    """
    sheet = written_form(sheet, layout)
    found = set_lines(sheet, layout)
    pages = paginate(layout, found, first_mm)
    high = layout.text_mm[1]
    rooms = [high if first_mm is None else first_mm] + [high] * len(pages)
    return tuple(compose(sheet, layout, page, high_mm=room) for page, room in zip(pages, rooms, strict=False))


def svg_lines(sheet: Sheet, layout: Layout = ORDINARY, *, headings: bool = True) -> tuple[str, ...]:
    """The same music, every line an SVG document of its own, for pictures that show a line at a time.

    Every line is as wide as the text, also a section's last one; only a bar alone takes half of it. `headings`: with
    the words that stand over lines.
    """
    sheet = written_form(sheet, layout)
    found = set_lines(sheet, layout, fill=True, headings=headings)
    return tuple(compose(sheet, layout, [line]) for line in found)


def set_lines(sheet: Sheet, layout: Layout, *, fill: bool = False, headings: bool = True) -> list[SetLine]:
    """Every line of a chart, engraved and lettered. A line that turns out crowded becomes two.

    `fill`: short lines fill the width. `headings`: with the words that stand over them.
    """
    sheet = written_form(sheet, layout)
    written = write_bars(sheet, layout)
    todo = [replace(line, full=max(line.units, HALF)) if fill else line for line in lines(sheet, layout)]
    starts = {section.from_bar for section in sheet.sections}
    drawn = _engrave_lines(sheet, layout, todo, written)
    for _ in range(MOST_SPLITS):
        tight = [n for n, one in enumerate(drawn) if can_widen(todo[n]) and crowded(one.boxes)]
        if not tight:
            break
        ends = {n for n, line in enumerate(todo) if line is todo[-1] or todo[n + 1].first in starts}
        ends = set() if layout.large else ends
        todo = [
            part for n, line in enumerate(todo) for part in (widened(line, ends=n in ends) if n in tight else (line,))
        ]
        drawn = _engrave_lines(sheet, layout, todo, written)
    out = []
    for line, one in zip(todo, drawn, strict=True):
        places = line_places(line, written)
        columns = line_columns(one, [sheet.grid.length(block.bar) for block in line.blocks], places)
        words = letter(sheet, layout, line, one, columns, headings=headings)
        out.append(SetLine(line, one, tuple(words), places, columns))
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
    return engrave_lines(sheet, layout, found, written, documents)


def paginate(layout: Layout, found: Sequence[SetLine], first_mm: float | None = None) -> list[list[SetLine]]:
    """Lines of each page: as few pages as hold them, evenly filled, turned where a hand is free.

    Two pages lie side by side on a stand, so only every second break is a turn: it costs nothing in a rest, a little
    in a run of repeats or at a section's end, more elsewhere. White costs by its square (shortest path over the
    lines).
    """
    high = layout.text_mm[1] * layout.units_per_mm
    first = high if first_mm is None else first_mm * layout.units_per_mm
    least = [pitch_between(one, after) for one, after in pairwise(found)]
    best: dict[int, tuple[int, float, tuple[int, ...]]] = {0: (0, 0.0, ())}
    for end in range(1, len(found) + 1):
        tight = wanted = found[end - 1].under
        for start in range(end - 1, -1, -1):
            if start < end - 1:
                tight += least[start]
                wanted += max(least[start], PITCH)
            room = max(first if start == 0 else high, 1.0)
            if tight + found[start].over > room and start < end - 1:  # a line higher than a page stands alone
                if tight > max(high, first):
                    break
                continue
            pages, cost, cuts = best[start]
            empty = max(0.0, 1.0 - (wanted + found[start].over) / room)
            cost += EMPTY_COST * empty * empty
            if end < len(found):
                cost += turn_cost(found[end - 1], found[end]) * (SIDE_BY_SIDE if pages % 2 == 0 else 1.0)
            here = (pages + 1, cost, (*cuts, end))
            if end not in best or here[:2] < best[end][:2]:
                best[end] = here
    ends = best[len(found)][2] if found else ()
    return [list(found[start:end]) for start, end in zip((0, *ends), ends, strict=False)]


EMPTY_COST: Final = 12.0
"""Cost of an empty page beside that of a bad turn, 3: half a page left white is as bad as a bad turn (ours)."""

SIDE_BY_SIDE: Final = 0.3
"""Share of a turn's cost where the next page lies beside this one: a section should still start a page (ours)."""


def turn_cost(before: SetLine, after: SetLine) -> int:
    """How hard it is to turn the page between two lines: 0 with a free hand, to 3."""
    if before.line.blocks[-1].kind == "rest" or after.line.blocks[0].kind == "rest":
        return 0
    if before.line.blocks[-1].kind in ("repeat", "pair"):
        return 1
    return 2 if any(word.kind == "section" for word in after.words) else 3
