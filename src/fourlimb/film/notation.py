"""Lines of music as pictures, and where on them every place of every bar stands."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import msgspec

from fourlimb.engrave import Layout, cursor, svg_lines
from fourlimb.engrave.cursor import Cursor, CursorBox
from fourlimb.engrave.legend import legend_svg
from fourlimb.model import Sheet

from .picture import Zones
from .tiles import Grey, Tile, set_tiles

FEW: Final = 2
LARGER: Final = 1.4
"""Bars of an excerpt that is drawn larger, and how much: still four bars of 16ths to a line (ours, by looking)."""

Place = tuple[Fraction, float]
"""A position in a bar, and its x in pixels."""


@dataclass(frozen=True, eq=False)
class Line:
    """One line of music. `ink`: the picture. `places`: for each bar its positions and their x in pixels, increasing.

    `right`: where each bar ends. `staff`: top and bottom of the five lines.
    """

    ink: Grey
    places: Mapping[int, tuple[Place, ...]]
    right: Mapping[int, float]
    staff: tuple[float, float]


def lines_of(sheet: Sheet, zones: Zones, layout: Layout) -> list[Line]:
    """Every line of a sheet, within a line's zone; one or two bars are drawn larger and without headings."""
    few = len(sheet.grid.bars) <= FEW
    svgs = svg_lines(sheet, _layout(zones, layout, few), headings=not few)
    places = cursor(svgs)
    sizes = [_size(svg, zones) for svg in svgs]
    names = [f"line{number}.svg" for number in range(len(svgs))]
    tiles = [Tile(wide=w, high=h, picture=name) for (w, h), name in zip(sizes, names, strict=True)]
    inks = set_tiles(tiles, dict(zip(names, svgs, strict=True)))
    return [_line(ink, number, places) for number, ink in enumerate(inks)]


def key_of(sheet: Sheet, zones: Zones, layout: Layout) -> Grey | None:
    """Where each piece stands, as wide as a line; None when nothing is played."""
    svg = legend_svg(sheet, _layout(zones, layout, few=False))
    if not svg:
        return None
    wide, high = _size(svg, zones)
    return set_tiles([Tile(wide=wide, high=high, picture="key.svg")], {"key.svg": svg})[0]


def _layout(zones: Zones, chosen: Layout, few: bool) -> Layout:
    """The teacher's choices for print, as far as they make sense in a picture: stems, beams, hand letters, cues."""
    return msgspec.structs.replace(
        chosen, paper="screen", landscape=True, scale=LARGER * zones.music if few else zones.music, bars_per_line=0,
        simile="never", repeats="written out", show_count=True, show_legend=False, doubts=False, difficulty=False,
    )  # fmt: skip


def _size(svg: str, zones: Zones) -> tuple[int, int]:
    """Pixels of a line: as wide as the picture's lines, smaller where it would be higher than there is room."""
    found = re.search(r' width="([\d.]+)mm" height="([\d.]+)mm"', svg[:2000])
    wide, high = (float(found[1]), float(found[2])) if found else (1.0, 1.0)
    share = min(zones.lines[0].wide / wide, zones.lines[0].high / high)
    return max(2, round(wide * share)), max(2, round(high * share))


def _line(ink: Grey, number: int, places: Cursor) -> Line:
    wide = ink.shape[1]
    bars = [box for box in places.bars if box.page == number]
    known: dict[int, dict[Fraction, float]] = {bar.bar: {} for bar in bars}
    for box in (*places.beats, *places.strokes):
        if box.page == number and box.bar in known:
            middle = (box.x + box.width / 2) * wide
            at = known[box.bar]
            at[box.position] = min(middle, at.get(box.position, middle))
    marks = {bar.bar: _increasing(sorted(known[bar.bar].items()), bar, wide) for bar in bars}
    right = {bar.bar: (bar.x + bar.width) * wide for bar in bars}
    return Line(ink, marks, right, (bars[0].y * wide, (bars[0].y + bars[0].height) * wide))


def _increasing(points: Sequence[Place], bar: CursorBox, wide: int) -> tuple[Place, ...]:
    """Places whose x never steps back."""
    kept: list[Place] = []
    for position, x in points:
        if not kept or x >= kept[-1][1]:
            kept.append((position, x))
    return tuple(kept) or ((Fraction(0), bar.x * wide),)
