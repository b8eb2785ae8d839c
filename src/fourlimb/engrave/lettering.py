"""The words of a line: which, how large, in which row, and how they are set clear of the notes.

Rows over the line, nearest first: marks of one bar (number, run of repeats, "check", difficulty); then section,
tempo, feel and cues. Rows under it: count, then hands, then words said to the rhythm. All words of a row share a
height, as high as its fullest place needs.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Final

from fourlimb.model import Sheet
from fourlimb.model.tempo import tempo_marks

from . import heads
from .blocks import Block, Line
from .boxes import Box
from .columns import Anchor, front, measure_edges, signature, x_at
from .counting import count_words
from .drawn import DrawnLine
from .layout import Layout
from .marks import beat_unit, modulations, shown_meter
from .passes import mark_at, neighbours, passes_of
from .typeface import drawn_text, width
from .words import end_words, feel_words, foot_letters, grace_letters, printable, rhythm_words, start_signs

SPACE: Final = 180.0
"""One staff space in drawing units."""

POINT_MM: Final = 0.3528
"""A typographic point."""

ROW_GAP: Final = 0.45 * SPACE
"""Least white between a row of words and what is under it (ours, by looking)."""


@dataclass(frozen=True)
class Word:
    """Text (or signs and text) on a line. `y` is the baseline; rows above count from 0 up, rows below from -1 down.

    `signs` are glyphs with their advance in units of the type size, set before the text. `bracket`: width of the line
    of an ending over the text, with a hook at its left end and, when `closed`, at its right.
    """

    text: str
    x: float
    size: float
    kind: str
    row: int
    bold: bool = False
    italic: bool = False
    boxed: bool = False
    centred: bool = False
    signs: tuple[tuple[str, float], ...] = ()
    bracket: float = 0.0
    closed: bool = False
    y: float = 0.0

    @property
    def sign_width(self) -> float:
        """Width of the signs before the text."""
        return sum(advance for _, advance in self.signs) * self.size

    @property
    def pad(self) -> float:
        """White inside the frame."""
        return 0.3 * self.size if self.boxed else 0.0

    @property
    def width(self) -> float:
        """Width with signs and frame."""
        own = width(self.text, self.size, bold=self.bold) + self.sign_width + 2 * self.pad
        return max(own, self.bracket)

    @property
    def left(self) -> float:
        """Left edge."""
        return self.x - (self.width / 2 if self.centred else 0.0)

    def box(self) -> Box:
        """What it covers."""
        high = 1.25 if self.signs else 1.05 if self.bracket else 0.70
        return Box(
            self.kind,
            self.left,
            self.y - high * self.size - self.pad,
            self.left + self.width,
            self.y + 0.22 * self.size + self.pad,
        )


def letter(
    sheet: Sheet,
    layout: Layout,
    line: Line,
    drawn: DrawnLine,
    columns: Sequence[Sequence[Anchor]],
    *,
    headings: bool = True,
) -> list[Word]:
    """All words of a line, placed; without `headings` only what stands under it."""
    above = [fit(word, drawn.width) for word in _above(sheet, layout, line, drawn)] if headings else []
    above += _chokes(sheet, layout, line, columns)
    below = list(_below(sheet, layout, line, columns))
    return [*_place_above(drawn, above), *_place_below(drawn, below)]


def fit(word: Word, room: float) -> Word:
    """A word that stays on the line: smaller when it is long, cut with a visible mark when that is not enough."""
    if word.centred or word.x + word.width <= room:
        return word
    size = max(SMALLEST * word.size, word.size * (room - word.x) / word.width)
    word = replace(word, size=size)
    while word.x + word.width > room and len(word.text) > 2:
        word = replace(word, text=word.text[: -2 if word.text.endswith("…") else -1].rstrip() + "…")
    return word


SMALLEST: Final = 0.6
"""Least share of its size to which a word is shrunk before it is cut (ours)."""


def type_size(layout: Layout, points: float) -> float:
    """Points to drawing units; type grows with the staff."""
    return points * layout.scale * POINT_MM * layout.units_per_mm


def _above(sheet: Sheet, layout: Layout, line: Line, drawn: DrawnLine) -> Iterable[Word]:
    edges = measure_edges(drawn)
    small = type_size(layout, 8)
    if line.first > 1:
        numbers = ", ".join(str(bar) for bar in passes_of(sheet, line.first))
        yield Word(numbers, 0.0, small, "number", 0, italic=True)
    for index, block in enumerate(line.blocks):
        at = edges[index][0] + (0.2 * SPACE if index else 0.0)
        if index == 0:
            at = signature(drawn) if line.first == 0 else front(drawn, 0) + 0.3 * SPACE
        yield from _in_a_row(_headings(sheet, layout, block), at)
        yield from _repeat_marks(sheet, layout, block, edges[index])
        yield from _bar_marks(sheet, layout, block, edges[index])


def _chokes(sheet: Sheet, layout: Layout, line: Line, columns: Sequence[Sequence[Anchor]]) -> Iterable[Word]:
    """The word over a choked cymbal: its dot alone is easily missed."""
    for index, block in enumerate(line.blocks):
        choked = [s for s in sheet.chart.by_bar.get(block.bar, ()) if s.struck == "choke"]
        if block.kind != "written" or not choked:
            continue
        points = columns[index]
        for position in sorted({s.position for s in choked}):
            size = type_size(layout, 7.5)
            yield Word("choke", x_at(points, position), size, "choke", 0, italic=True, centred=True)


def _headings(sheet: Sheet, layout: Layout, block: Block) -> Iterable[Word]:
    """Section, tempo, feel and cues of a bar, in the order they are read."""
    bar, normal = block.bar, type_size(layout, 10)
    tempi = tempo_marks(sheet.grid)
    for code in start_signs(mark_at(sheet, bar)):
        advance = 0.9 if code == heads.SEGNO else 1.25
        yield Word("", 0.0, type_size(layout, 12), "sign", 2, signs=((code, advance),))
    for section in sheet.sections:
        if section.from_bar == bar:
            text = drawn_text(printable(section.name)) or "?"
            yield Word(text, 0.0, type_size(layout, 11), "section", 2, bold=True, boxed=True)
    if bar in (equal := modulations(sheet)):
        old, new = equal[bar]
        yield Word("\u2009=", 0.0, normal, "equal", 2, bold=True, signs=value_signs(*old))
        end, kind = ("\u2002(", "equal") if bar in tempi else ("\u2009", "tempo")
        yield Word(end, 0.0, normal, kind, 2, bold=True, signs=value_signs(*new))
    if bar in tempi:
        signs = value_signs(*beat_unit(shown_meter(sheet, bar)))
        said = f"\u2009= {round(tempi[bar])}{')' if bar in equal else ''}"
        yield Word(said, 0.0, normal, "tempo", 2, bold=True, signs=signs)
    if said := feel_words(sheet, bar):
        yield Word(said, 0.0, normal, "feel", 2, italic=True)
    if any(s.tacet and s.from_bar == bar and "tacet" not in s.name.lower() for s in sheet.sections):
        yield Word("tacet", 0.0, normal, "tacet", 2, italic=True)
    for landmark in sheet.landmarks:
        if layout.show_cues and landmark.bar in block.bars:
            yield Word(drawn_text(printable(landmark.what)), 0.0, normal, "cue", 2, italic=True)


def _repeat_marks(sheet: Sheet, layout: Layout, block: Block, edge: tuple[float, float]) -> Iterable[Word]:
    """Endings over their bars, and at a measure's end the times it is played and where to go from there."""
    normal, mark = type_size(layout, 10), mark_at(sheet, block.bar)
    before, after = (mark_at(sheet, n).ending if n is not None else () for n in neighbours(sheet, block))
    if mark.ending:
        said = ", ".join(f"{turn}." for turn in mark.ending) if before != mark.ending else ""
        wide, closed = (
            edge[1] - edge[0] - 0.6 * SPACE,
            after != mark.ending and bool(mark_at(sheet, block.bars[-1]).end),
        )
        yield Word(said, edge[0] + 0.15 * SPACE, type_size(layout, 9), "ending", 1, bracket=wide, closed=closed)
    at = edge[1]
    for said in reversed(end_words(mark_at(sheet, block.bars[-1]))):
        signs = ((heads.CODA, 1.45),) if said == "To Coda" else ()
        word = Word(said, 0.0, normal, "direction", 2, bold=True, signs=signs)
        at -= word.width
        yield replace(word, x=at)
        at -= 0.7 * SPACE


JOINED: Final = 0.12 * SPACE
"""White between the parts of a note equality."""


def _in_a_row(words: Iterable[Word], at: float) -> Iterable[Word]:
    for word in words:
        yield replace(word, x=at)
        at += word.width + (JOINED if word.kind == "equal" else 0.7 * SPACE)


def value_signs(value: int, dotted: bool) -> tuple[tuple[str, float], ...]:
    """A note value as glyphs with advances."""
    code = {1: heads.MET_HALF, 2: heads.MET_HALF, 4: heads.MET_QUARTER, 16: heads.MET_16TH}.get(
        value, heads.MET_EIGHTH
    )
    note = (code, 0.62 if code in (heads.MET_EIGHTH, heads.MET_16TH) else 0.52)
    return (note, (heads.MET_DOT, 0.22)) if dotted else (note,)


def _bar_marks(sheet: Sheet, layout: Layout, block: Block, edge: tuple[float, float]) -> Iterable[Word]:
    small = type_size(layout, 8)
    middle = sum(edge) / 2
    if block.kind == "repeat" and block.counted:
        yield Word(f"({block.run})", middle, small, "run", 1, centred=True)
    if layout.difficulty and block.kind == "written":
        for said in sheet.chart.bars:
            if said.bar == block.bar:
                yield Word(f"{said.difficulty:.1f}", middle, 0.9 * small, "difficulty", 1, centred=True)
    if layout.doubts and any(bar in sheet.doubts for bar in block.bars):
        mark = Word("check", 0.0, 0.85 * small, "doubt", 1, italic=True)
        yield replace(mark, x=edge[1] - 0.3 * SPACE - mark.width)


def _pickup_start(sheet: Sheet) -> Fraction:
    """Where a pickup's first stroke stands: nothing before it is counted."""
    strokes = sheet.chart.by_bar.get(0, ())
    return strokes[0].position if strokes else Fraction(0)


def hand_letters(sheet: Sheet, bar: int) -> Iterable[tuple[Fraction, int, str]]:
    """(position, row, letter) of a bar; where both hands strike, the right stands over the left."""
    at: dict[Fraction, dict[str, str]] = {}
    for stroke in sheet.chart.by_bar.get(bar, ()):
        if stroke.letter:
            known = at.setdefault(stroke.position, {})
            said = grace_letters(stroke)
            if len(said) > len(known.get(stroke.letter, "")):
                known[stroke.letter] = said
    for position, letter_ in foot_letters(sheet, bar):
        at.setdefault(position, {}).setdefault(letter_, letter_)
    for position, letters in sorted(at.items()):
        for row, hand in enumerate(sorted(letters, reverse=True)):
            yield position, -2 - row, letters[hand]


def _below(sheet: Sheet, layout: Layout, line: Line, columns: Sequence[Sequence[Anchor]]) -> Iterable[Word]:
    size = type_size(layout, 8.5)
    for index, block in enumerate(line.blocks):
        if block.kind != "written":
            continue
        start = _pickup_start(sheet) if block.bar == 0 else Fraction(0)
        points = columns[index]
        if layout.show_count:
            for position, said in count_words(sheet, block.bar):
                if position < start:
                    continue
                yield Word(said, x_at(points, position), size, "count", -1, centred=True)
        if layout.show_sticking:
            for position, row, text in hand_letters(sheet, block.bar):
                yield Word(text, x_at(points, position), size, "hand", row, bold=True, centred=True)
        for position, said in rhythm_words(sheet, block.bar):
            yield Word(drawn_text(printable(said)), x_at(points, position), size, "word", -4, centred=True)


NEAR: Final = frozenset({"number", "run", "doubt", "choke"})
"""Words that stand as near to the staff as they can, whatever height their row has."""


def _place_above(drawn: DrawnLine, words: list[Word]) -> list[Word]:
    """Rows from the lowest up; a word that would touch its neighbour goes one row higher."""
    obstacles = list(drawn.boxes)
    placed: list[Word] = []
    waiting = words
    row = 0
    while waiting:
        now = [word for word in waiting if word.row <= row]
        waiting = [word for word in waiting if word.row > row]
        now, pushed = _split_row(now)
        waiting += [replace(word, row=row + 1) for word in pushed]
        height = min((_clear(word, obstacles, drawn.staff_top) for word in now), default=0.0)
        for word in now:
            own = (
                _clear(word, obstacles, drawn.staff_top)
                if word.kind in ("number", "run", "doubt", "choke")
                else height
            )
            done = replace(word, y=own)
            placed.append(done)
        obstacles += [word.box() for word in placed if word in placed[-len(now) :]] if now else []
        row += 1
    return placed


def _split_row(words: list[Word]) -> tuple[list[Word], list[Word]]:
    kept: list[Word] = []
    pushed: list[Word] = []
    for word in words:
        near = 0.0 if any(k.kind == "equal" for k in kept) else 0.4 * SPACE
        clash = any(word.left < k.left + k.width + near and k.left < word.left + word.width + near for k in kept)
        (pushed if clash else kept).append(word)
    return kept, pushed


def _clear(word: Word, obstacles: list[Box], staff_top: float) -> float:
    """The lowest baseline at which a word clears everything under it."""
    reach = replace(word, y=0.0).box()
    ceiling = staff_top - 0.8 * SPACE
    for box in obstacles:
        if box.left < reach.right + 0.2 * SPACE and reach.left - 0.2 * SPACE < box.right and box.top < ceiling:
            ceiling = box.top
    return ceiling - ROW_GAP - reach.bottom


def _narrowed(words: list[Word]) -> list[Word]:
    """The words of a row, all in a size in which neighbours do not touch."""
    ordered = sorted(words, key=lambda word: word.x)
    share = 1.0
    for one, after in pairwise(ordered):
        need = (one.width + after.width) / 2 + 0.12 * SPACE
        share = min(share, (after.x - one.x) / need)
    share = max(share, SMALLEST)
    return [replace(word, size=word.size * share) for word in words]


def _place_below(drawn: DrawnLine, words: list[Word]) -> list[Word]:
    floor = max(box.bottom for box in drawn.boxes) + ROW_GAP
    placed: list[Word] = []
    for row in (-1, -2, -3, -4):
        now = _narrowed([word for word in words if word.row == row])
        if now:
            baseline = floor + 0.72 * max(word.size for word in now)
            placed += [replace(word, y=baseline) for word in now]
            floor = baseline + 0.3 * now[0].size
    return placed
