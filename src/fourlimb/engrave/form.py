"""Bars -> blocks -> lines: what is written out, what is a repeat sign or a long rest, and what stands on one line.

Rules (notation.md, mostly common practice): every section starts a line; four bars a line so that phrases line up,
two when they are dense, eight for a run of repeat signs; no line with one orphan bar; a bar that begins a line is
written out, so that the eye never has to look back; long rests break at sections, meters, tempi and cues.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final, Literal

from fourlimb.model import Sheet, Stroke

from .layout import Layout

BlockKind = Literal["written", "repeat", "rest"]

BAR_MM: Final = 31.0
"""Least width of a bar at scale 1 (a groove of eighths stays legible; ours, by looking)."""

COLUMN_MM: Final = 2.35
"""Least width of one written column at scale 1 (ours, by looking)."""

CLEF_MM: Final = 9.0
"""What the clef takes at the head of a line at scale 1."""


@dataclass(frozen=True)
class Block:
    """One measure on paper: a written bar, a one-bar repeat sign, or `count` bars' rest.

    `run` is a sign's number in its run, printed when `counted`; `units` its share of a line of four.
    """

    kind: BlockKind
    bar: int
    count: int = 1
    run: int = 0
    units: float = 1.0
    counted: bool = False

    @property
    def bars(self) -> range:
        """The song's bars it stands for."""
        return range(self.bar, self.bar + self.count)


def block_units(block: Block) -> float:
    """Share of a line of four that a block takes."""
    if block.kind == "rest":
        return 2.0 if block.count < 8 else 4.0
    return block.units


@dataclass(frozen=True)
class Line:
    """One system. `units` of `full` are taken: 4 of 4 fills the width, 2 of 4 half of it."""

    blocks: tuple[Block, ...]
    units: float
    full: float

    @property
    def first(self) -> int:
        """Number of the first bar."""
        return self.blocks[0].bar

    @property
    def last(self) -> int:
        """Number of the last bar."""
        return self.blocks[-1].bars[-1]


def lines(sheet: Sheet, layout: Layout) -> tuple[Line, ...]:
    """All systems of a chart, in order."""
    out: list[Line] = []
    for group in section_groups(sheet):
        out.extend(_section_lines(sheet, layout, group))
    return tuple(out)


def section_groups(sheet: Sheet) -> list[list[int]]:
    """Bar numbers of each section in order; a pickup goes with what follows; bars in no section stand together."""
    starts = {section.from_bar for section in sheet.sections}
    groups: list[list[int]] = []
    for number in sheet.grid.numbers:
        lone_pickup = groups and groups[-1] == [0]
        if not groups or (number in starts and not lone_pickup):
            groups.append([])
        groups[-1].append(number)
    return groups


def same(first: Sequence[Stroke], second: Sequence[Stroke]) -> bool:
    """True when two bars look alike on paper (how they were heard does not matter)."""
    return [_look(s) for s in first] == [_look(s) for s in second]


def _look(stroke: Stroke) -> tuple[object, ...]:
    return (
        stroke.position,
        stroke.piece,
        stroke.letter,
        stroke.accent,
        stroke.ghost,
        stroke.grace,
        stroke.struck,
    )


def breaks_run(sheet: Sheet, number: int) -> bool:
    """True when a bar starts something new that must be seen: meter, tempo, feel, or a cue."""
    if not sheet.grid.has(number - 1):
        return True
    grid = sheet.grid
    return (
        grid.meter(number) != grid.meter(number - 1)
        or tempo_changes(sheet, number)
        or _feel(sheet, number) != _feel(sheet, number - 1)
        or any(mark.bar == number for mark in sheet.landmarks)
    )


def shown_meter(sheet: Sheet, number: int) -> str:
    """The time signature a bar stands under: a pickup, whatever its own length, under that of the bar after it."""
    grid = sheet.grid
    return grid.meter(1) if number == 0 and grid.has(1) else grid.meter(number)


TEMPO_STEP: Final = 0.06
"""Share by which the tempo must move for a new mark to be printed; players' own drift stays below it (ours)."""


def tempo_changes(sheet: Sheet, number: int) -> bool:
    """True when a new tempo mark stands at this bar: the first, or a lasting step against the last mark."""
    return number in tempo_marks(sheet)


def tempo_marks(sheet: Sheet) -> dict[int, float]:
    """Bars that carry a tempo mark and the beats a minute it says: where the tempo steps and stays there."""
    return dict(_tempo_marks(tuple((bar.bar, bar.tempo_bpm) for bar in sheet.grid.bars)))


@lru_cache(maxsize=64)
def _tempo_marks(bars: tuple[tuple[int, float], ...]) -> tuple[tuple[int, float], ...]:
    marks: list[tuple[int, float]] = []
    said = 0.0
    for index, (number, bpm) in enumerate(bars):
        ahead = sorted(tempo for _, tempo in bars[index : index + LASTING_BARS])
        lasting = ahead[len(ahead) // 2]
        steps = said == 0.0 or (abs(bpm / said - 1) > TEMPO_STEP and abs(lasting / said - 1) > TEMPO_STEP)
        if steps:
            said = lasting
            marks.append((number, lasting))
    return tuple(marks)


LASTING_BARS: Final = 4
"""Bars over which a new tempo must last to be marked (ours)."""


def _feel(sheet: Sheet, number: int) -> tuple[object, ...]:
    feel = sheet.grid.feel_of(number)
    return feel.feel, round(feel.swing, 2), feel.swing_unit


def bar_mm(sheet: Sheet, layout: Layout, number: int) -> float:
    """Least width that a written bar needs."""
    strokes = sheet.chart.by_bar.get(number, ())
    places = {s.position for s in strokes}
    graces = sum(1 for s in strokes if s.grace)
    ghosts = sum(1 for s in strokes if s.ghost)
    columns = len(places) + graces + 0.4 * ghosts
    finest = max((p.denominator for p in places), default=4)
    if finest % 3 == 0 or finest > 16:
        columns *= 1.1
    if layout.show_count:
        said = sheet.plan.counts.get(number, "").split()
        columns = max(columns, sum(1.0 + 0.6 * word.startswith("(") for word in said))
    wide = COLUMN_MM * (1.25 if layout.show_count or layout.show_sticking else 1.0)
    least = BAR_MM * float(sheet.grid.length(number)) ** 0.5
    return float(max(least, columns * wide + 4.0) * layout.scale)


def _section_lines(sheet: Sheet, layout: Layout, group: list[int]) -> list[Line]:
    rests = _rest_runs(sheet, group)
    out: list[Line] = []
    playing: list[int] = []
    for number in group:
        if number in rests:
            out.extend(_phrases(sheet, layout, playing))
            playing = []
            block = Block("rest", number, rests[number])
            out.append(Line((block,), block_units(block), 4.0))
        elif not any(start < number < start + count for start, count in rests.items()):
            playing.append(number)
    out.extend(_phrases(sheet, layout, playing))
    return _merge_short(out)


def _rest_runs(sheet: Sheet, group: list[int]) -> dict[int, int]:
    """First bar and length of each run of two or more silent bars."""
    runs: dict[int, int] = {}
    start: int | None = None
    for number in group:
        silent = number > 0 and not sheet.chart.by_bar.get(number)
        if silent and start is not None and not breaks_run(sheet, number):
            runs[start] += 1
        elif silent:
            start = number
            runs[start] = 1
        else:
            start = None
    return {first: count for first, count in runs.items() if count > 1}


def _merge_short(found: list[Line]) -> list[Line]:
    """A short rest line and a short line after it share one system when both fit."""
    out: list[Line] = []
    for line in found:
        last = out[-1] if out else None
        if last is not None and last.full == line.full and last.units + line.units <= line.full:
            out[-1] = Line(last.blocks + line.blocks, last.units + line.units, line.full)
        else:
            out.append(line)
    return out


def _phrases(sheet: Sheet, layout: Layout, bars: list[int]) -> list[Line]:
    out: list[Line] = []
    rest = list(bars)
    while rest:
        pickup = 1 if rest[0] == 0 else 0
        take = _take(sheet, layout, rest[pickup:]) + pickup
        line = _line(sheet, layout, rest[:take])
        rest = rest[take:]
        out.append(replace(line, full=line.units) if rest else line)  # only a section's last line may be short
    return out


def _take(sheet: Sheet, layout: Layout, rest: list[int]) -> int:
    """How many of the bars ahead go on this line."""
    if not rest:  # a pickup alone
        return 0
    if layout.bars_per_line:
        return min(layout.bars_per_line, len(rest))
    room = layout.text_mm[0] - CLEF_MM * layout.scale
    if _repeat_run(sheet, layout, rest) and BAR_MM * 4 * layout.scale <= room:
        return 8
    for size in (6, 4, 3, 2) if layout.landscape else (4, 3, 2):
        chunk = rest[: min(size, len(rest))]
        if max(bar_mm(sheet, layout, n) for n in chunk) * len(chunk) > room * 1.12 and len(chunk) > 1:
            continue
        if sum(bar_mm(sheet, layout, n) for n in chunk) > room and len(chunk) > 1:
            continue
        if size == 3 and len(rest) >= 4:  # phrases run in twos and fours
            continue
        if len(rest) - len(chunk) == 1 and len(chunk) > 2:  # never one bar alone on the next line
            return len(chunk) - 1
        return len(chunk)
    return 1


def _repeat_run(sheet: Sheet, layout: Layout, rest: list[int]) -> bool:
    """Eight bars ahead that are one bar and seven repeats of it."""
    if layout.simile == "never" or layout.large or len(rest) < 8:
        return False
    first = sheet.chart.by_bar.get(rest[0], ())
    ahead = rest[1:8]
    return all(same(first, sheet.chart.by_bar.get(n, ())) and not breaks_run(sheet, n) for n in ahead)


def _line(sheet: Sheet, layout: Layout, bars: list[int]) -> Line:
    blocks: list[Block] = []
    by_bar = sheet.chart.by_bar
    run = 1
    for index, number in enumerate(bars):
        strokes = by_bar.get(number, ())
        repeats = (
            layout.simile == "auto"
            and index > 0
            and bool(strokes)
            and number > 1
            and same(strokes, by_bar.get(number - 1, ()))
            and not breaks_run(sheet, number)
        )
        run = run + 1 if repeats else 1
        blocks.append(Block("repeat", number, run=run) if repeats else Block("written", number))
    for index, block in enumerate(blocks):  # a lone sign needs no count
        neighbours = blocks[max(0, index - 1) : index] + blocks[index + 1 : index + 2]
        if block.kind == "repeat" and any(n.kind == "repeat" for n in neighbours):
            blocks[index] = replace(block, counted=True)
    count = len([b for b in bars if b > 0])
    if count == 8 and all(b.kind == "repeat" for b in blocks[1:]):
        small = [replace(b, units=3 / 7) for b in blocks[1:]]
        return Line((blocks[0], *small), 4.0, 4.0)
    full = 4.0 if count <= 4 else float(count)
    if count in (1, 2, 3) and sum(bar_mm(sheet, layout, n) for n in bars) * 4 / count > layout.text_mm[0]:
        full = float(count) if count < 3 else 3.0
    if layout.bars_per_line:
        full = float(layout.bars_per_line)
    return Line(tuple(blocks), float(min(count, full)) or 1.0, full)


def can_widen(line: Line) -> bool:
    """True when a line's bars could be given more room."""
    return len(line.blocks) > 1 or line.units < line.full


def widened(line: Line) -> tuple[Line, ...]:
    """The same bars with more room: a short line over the whole width, a full one as two lines."""
    if line.units < line.full:
        return (replace(line, full=line.units),)
    return _halves(line)


def _halves(line: Line) -> tuple[Line, Line]:
    """A line of two or more measures as two that fill the width; what begins the second is written out."""
    middle = -(-len(line.blocks) // 2)
    first, second = line.blocks[:middle], line.blocks[middle:]
    if second[0].kind == "repeat":
        second = (Block("written", second[0].bar), *second[1:])
    parts = []
    for blocks in (first, second):
        run, counted = 1, []
        for block in blocks:
            run = run + 1 if block.kind == "repeat" else 1
            counted.append(replace(block, run=run if block.kind == "repeat" else 0, units=1.0))
        units = sum(block_units(block) for block in counted)
        parts.append(Line(tuple(counted), units, units))
    return parts[0], parts[1]
