"""Bars -> blocks -> lines: what is written out, what is a repeat sign or a long rest, and what stands on one line.

Rules (notation.md, mostly common practice): every section starts a line; four bars a line so that phrases line up,
two when they are dense, eight where repeat signs make up most of a phrase; no line with one orphan bar; a bar that
begins a line is written out, so that the eye never has to look back; long rests break at sections, meters, tempi and
cues.
"""

from dataclasses import replace
from typing import Final

from fourlimb.model import Sheet

from .blocks import Block, Line, block_units
from .layout import Layout
from .marks import breaks_run
from .passes import starts_line
from .simile import fold

BAR_MM: Final = 31.0
"""Least width of a bar at scale 1 (a groove of eighths stays legible; ours, by looking)."""

COLUMN_MM: Final = 2.35
"""Least width of one written column at scale 1 (ours, by looking)."""

SIGN_MM: Final = 12.5
"""Least width of a bar that holds a repeat sign, at scale 1 (ours, by looking)."""

EIGHT: Final = 8
FOUR: Final = 4.0
"""Bars of a line of repeat signs, and of an ordinary line."""

MOST_WRITTEN: Final = 2
"""Bars written out on a line of eight: the groove, and a fill (ours)."""

CLEF_MM: Final = 9.0
"""What the clef takes at the head of a line at scale 1."""


def lines(sheet: Sheet, layout: Layout) -> tuple[Line, ...]:
    """All systems of a chart, in order."""
    out: list[Line] = []
    for group in section_groups(sheet):
        out.extend(_section_lines(sheet, layout, group))
    return tuple(out)


def section_groups(sheet: Sheet) -> list[list[int]]:
    """Bar numbers of each section in order; a pickup goes with what follows; bars in no section stand together."""
    starts = {section.from_bar for section in sheet.sections}
    starts |= {number for number in sheet.grid.numbers if starts_line(sheet, number)}
    groups: list[list[int]] = []
    for number in sheet.grid.numbers:
        lone_pickup = groups and groups[-1] == [0]
        if not groups or (number in starts and not lone_pickup):
            groups.append([])
        groups[-1].append(number)
    return groups


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
        if rest:  # only a section's last line may be short
            line = replace(line, full=line.units)
        elif out:  # and its bars are as wide as those over it
            line = replace(line, full=max(line.units, min(FOUR, out[-1].units)))
            if layout.large and len(line.blocks) == 1 and line.full == 2 * line.units:  # half a page would stay white
                line = replace(line, full=line.units)
        out.append(line)
    return out


def _take(sheet: Sheet, layout: Layout, rest: list[int]) -> int:
    """How many of the bars ahead go on this line."""
    if not rest:  # a pickup alone
        return 0
    if layout.bars_per_line:
        return min(layout.bars_per_line, len(rest))
    room = layout.text_mm[0] - CLEF_MM * layout.scale
    if _repeat_run(sheet, layout, rest):
        return EIGHT
    for size in (4, 3, 2):
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
    """Eight bars ahead that are mostly signs: a bar and its repeats, or these and one bar more, a fill at the end."""
    if layout.large or len(rest) < EIGHT or any(breaks_run(sheet, n) for n in rest[1:EIGHT]):
        return False
    blocks = fold(sheet, layout, rest[:EIGHT])
    if not _mostly_signs(blocks):
        return False
    need = [
        SIGN_MM * layout.scale if block.kind == "repeat" else bar_mm(sheet, layout, block.bar) for block in blocks
    ]
    return sum(need) <= layout.text_mm[0] - CLEF_MM * layout.scale


def _mostly_signs(blocks: list[Block]) -> bool:
    """True for eight bars of which at most two are written out, the others being signs for one bar."""
    written = sum(block.kind == "written" for block in blocks)
    return len(blocks) == EIGHT and written <= MOST_WRITTEN and all(b.kind in ("written", "repeat") for b in blocks)


def _line(sheet: Sheet, layout: Layout, bars: list[int]) -> Line:
    blocks = fold(sheet, layout, bars)
    count = len([b for b in bars if b > 0])
    if count == EIGHT and _mostly_signs(blocks[-EIGHT:]):
        signs = sum(block.kind == "repeat" for block in blocks)
        share = (FOUR - (EIGHT - signs)) / signs
        return Line(tuple(replace(b, units=share) if b.kind == "repeat" else b for b in blocks), FOUR, FOUR)
    full = 4.0 if count <= 4 else float(count)
    if count in (1, 2, 3) and sum(bar_mm(sheet, layout, n) for n in bars) * 4 / count > layout.text_mm[0]:
        full = float(count) if count < 3 else 3.0
    if layout.bars_per_line:
        full = float(layout.bars_per_line)
    return Line(tuple(blocks), float(min(count, full)) or 1.0, full)
