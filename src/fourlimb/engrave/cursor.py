"""Where everything stands on the pages: what a moving cursor, a film and the desk follow.

Read from the page SVG alone (names and `data-` fields, see `page`), so it is right for the SVG, the PDF and pictures
alike. All numbers are in page widths: x from the left edge of the music, y from its top.
"""

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Sequence
from fractions import Fraction

import msgspec

from fourlimb.model.places import beat_starts

from .columns import HEAD_WIDTH, x_at
from .ids import read_stroke_id

Element = ElementTree.Element


class CursorBox(msgspec.Struct, frozen=True, kw_only=True):
    """One thing's place: page from 0, top left corner and size in page widths."""

    page: int
    line: int
    bar: int
    position: Fraction
    x: float
    y: float
    width: float
    height: float
    piece: str = ""


class Cursor(msgspec.Struct, frozen=True, kw_only=True):
    """Places of bars (whole staff), beats (the column, staff high) and strokes (the head)."""

    bars: tuple[CursorBox, ...]
    beats: tuple[CursorBox, ...]
    strokes: tuple[CursorBox, ...]


def cursor(pages: Sequence[str]) -> Cursor:
    """The cursor map of pages made by `svg_pages`. Bars inside a long rest share its width evenly.

    Where a passage is written once and played again, every bar of the song has its own boxes, in the same place.
    """
    bars: list[CursorBox] = []
    beats: list[CursorBox] = []
    strokes: list[CursorBox] = []
    line_number = 0
    for number, text in enumerate(pages):
        root = ElementTree.fromstring(text.replace('xmlns="http://www.w3.org/2000/svg"', ""))
        wide = float((root.get("viewBox") or "0 0 1 1").split()[2])
        for line in (g for g in root.iter("g") if g.get("class") == "line"):
            down = _shift(line.get("transform", ""))[1]
            for measure in (g for g in line.iter("g") if g.get("data-bars")):
                frame = _Frame(number, line_number, wide, down, measure)
                bars.extend(frame.bars())
                beats.extend(frame.beats())
                strokes.extend(frame.strokes())
            line_number += 1
    return Cursor(bars=_in_order(bars), beats=_in_order(beats), strokes=tuple(strokes))


def _in_order(boxes: Sequence[CursorBox]) -> tuple[CursorBox, ...]:
    """As they are played; the page's own order is that already, but for passages that return."""
    return tuple(sorted(boxes, key=lambda box: (box.bar, box.position)))


class _Frame:
    """One measure on a page."""

    def __init__(self, page: int, line: int, wide: float, down: float, measure: Element) -> None:
        self._page, self._line, self._wide, self._down, self._measure = page, line, wide, down, measure
        self._passes = [
            range(int(first), int(last) + 1)
            for first, last in (
                pair.split("-") for pair in (measure.get("data-passes") or measure.get("data-bars") or "1-1").split()
            )
        ]
        self._count = len(self._passes[0])
        self._meter = measure.get("data-meter") or "4/4"
        pairs = (pair.split(":") for pair in (measure.get("data-columns") or "").split())
        self._columns = [(Fraction(position), float(x)) for position, x in pairs]
        staff = [p for p in measure.iter("path") if p.get("class") == "staff-line"]
        ends = [[float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", p.get("d") or "")] for p in staff]
        self._left, self._right = min(e[0] for e in ends), max(e[2] for e in ends)
        self._top, self._bottom = min(e[1] for e in ends), max(e[1] for e in ends)

    def bars(self) -> Iterator[CursorBox]:
        """Each bar's share of the measure, on every pass."""
        for numbers in self._passes:
            for index, number in enumerate(numbers):
                left, right = self._share(index)
                yield self._box(number, Fraction(0), left, self._top, right - left, self._bottom - self._top)

    def beats(self) -> Iterator[CursorBox]:
        """Each beat's column, on every pass."""
        length = self._columns[-1][0]
        for numbers in self._passes:
            for index, number in enumerate(numbers):
                left, right = self._share(index)
                for at in beat_starts(self._meter):
                    x = x_at(self._columns, at)
                    if self._count > 1:
                        x = left + (right - left) * float(at / length)
                    height = self._bottom - self._top
                    yield self._box(number, at, x - HEAD_WIDTH / 2, self._top, HEAD_WIDTH, height)

    def strokes(self) -> Iterator[CursorBox]:
        """Each head that is drawn, on every pass."""
        for group in self._measure.iter("g"):
            found = read_stroke_id(group.get("id") or "")
            use = next((u for u in group.iter("use") if u.get("data-head")), None)
            if found is None or use is None or not use.get("href"):
                continue
            x, y = _shift(use.get("transform", ""))
            bar, position, piece = found
            for numbers in self._passes:
                played = numbers[0] + bar - self._passes[0][0]
                high = HEAD_WIDTH * 0.84
                yield self._box(played, position, x, y - high / 2, HEAD_WIDTH, high, piece)

    def _share(self, index: int) -> tuple[float, float]:
        step = (self._right - self._left) / self._count
        return self._left + step * index, self._left + step * (index + 1)

    def _box(
        self, bar: int, position: Fraction, x: float, y: float, width: float, height: float, piece: str = ""
    ) -> CursorBox:
        x, y, width, height = (round(v / self._wide, 5) for v in (x, y + self._down, width, height))
        return CursorBox(
            page=self._page, line=self._line, bar=bar, position=position, x=x, y=y, width=width, height=height,
            piece=piece,
        )  # fmt: skip


def _shift(transform: str) -> tuple[float, float]:
    found = re.search(r"translate\((-?[\d.]+),\s*(-?[\d.]+)\)", transform)
    return (float(found[1]), float(found[2])) if found else (0.0, 0.0)
