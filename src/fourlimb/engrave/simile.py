"""Repeat signs: bars that look like the one before, or like the two before.

A sign helps only where the eye need not look back: never at the head of a line, never over a new meter, tempo, feel
or cue, never for silence. More than two bars are written out (Music Encoding Initiative, Guidelines v5: modern
practice).
"""

from collections.abc import Sequence
from dataclasses import replace

from fourlimb.model import Sheet, Stroke

from .blocks import Block
from .layout import Layout
from .marks import breaks_run


def fold(sheet: Sheet, layout: Layout, bars: Sequence[int]) -> list[Block]:
    """The bars of one line as blocks, with repeat signs where they help; signs in a row are counted."""
    if layout.simile == "never":
        return [Block("written", number) for number in bars]
    blocks: list[Block] = []
    at, run = 0, 1
    while at < len(bars):
        number = bars[at]
        if at > 0 and repeats(sheet, number, 1):
            run += 1
            blocks.append(Block("repeat", number, run=run))
            at += 1
        elif _pair(sheet, bars, at, blocks):
            blocks.append(Block("pair", number, count=2, units=2.0))
            at, run = at + 2, 1
        else:
            blocks.append(Block("written", number))
            at, run = at + 1, 1
    return _counted(blocks)


def repeats(sheet: Sheet, number: int, back: int) -> bool:
    """True when a bar plays what the bar `back` before it plays, and nothing new starts in it."""
    strokes = sheet.chart.by_bar.get(number, ())
    earlier = sheet.chart.by_bar.get(number - back, ())
    return bool(strokes) and number - back > 0 and same(strokes, earlier) and not breaks_run(sheet, number)


def _pair(sheet: Sheet, bars: Sequence[int], at: int, blocks: Sequence[Block]) -> bool:
    """True when this bar and the next are the two before them, which stand written out on this line."""
    written = len(blocks) >= 2 and all(block.kind == "written" for block in blocks[-2:])
    if not written or at + 1 >= len(bars):
        return False
    if repeats(sheet, bars[at + 1], 1):  # two equal bars take the one-bar sign
        return False
    return all(repeats(sheet, number, 2) for number in bars[at : at + 2])


def _counted(blocks: list[Block]) -> list[Block]:
    """A lone sign needs no count; in a run each says which bar of the run it is."""
    out = []
    for index, block in enumerate(blocks):
        neighbours = blocks[max(0, index - 1) : index] + blocks[index + 1 : index + 2]
        in_run = block.kind == "repeat" and any(n.kind == "repeat" for n in neighbours)
        out.append(replace(block, counted=in_run))
    return out


def same(first: Sequence[Stroke], second: Sequence[Stroke]) -> bool:
    """True when two bars look alike on paper (how they were heard does not matter)."""
    return look(first) == look(second)


def look(strokes: Sequence[Stroke]) -> tuple[tuple[object, ...], ...]:
    """All that is seen of a bar's strokes."""
    return tuple(_look(stroke) for stroke in strokes)


def _look(stroke: Stroke) -> tuple[object, ...]:
    return stroke.position, stroke.piece, stroke.letter, *stroke.way, stroke.word
