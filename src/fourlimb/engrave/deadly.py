"""Lines to the engraver, and the bar to blame when one of them ends it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fourlimb.model import InputError, Sheet

from .blocks import Line, block_units
from .drawn import DrawnLine, engrave
from .engraver import EngraverDiedError
from .layout import Layout
from .meidoc import line_mei
from .notate import WrittenBar
from .saying import say_bars


def engrave_lines(
    sheet: Sheet,
    layout: Layout,
    lines: Sequence[Line],
    written: Mapping[int, WrittenBar],
    documents: Sequence[tuple[bytes, int]],
) -> list[DrawnLine]:
    """Each line's document as a drawn line. Raises InputError, naming the bars, when one ends the engraver."""
    try:
        return engrave(documents, large=layout.large)
    except EngraverDiedError as died:
        bars = _guilty(sheet, layout, lines[died.index], written, documents[died.index][1])
        several = "" if len(bars) == 1 else "s"
        raise InputError(
            f"bar{several} {say_bars(bars)} cannot be drawn: the engraver stops there; change what is written in it, "
            "or its row in the key"
        ) from None


def _guilty(sheet: Sheet, layout: Layout, line: Line, written: Mapping[int, WrittenBar], wide: int) -> Sequence[int]:
    """The bars of the first measure that ends the engraver when it is drawn alone; the whole line's, if none does."""
    for block in line.blocks:
        alone = replace(line, blocks=(block,), units=block_units(block))
        document = line_mei(sheet, alone, written, show_meter=False, final=False, wide=wide)
        try:
            engrave([(document, wide)], large=layout.large)
        except EngraverDiedError:
            return block.bars
    return range(line.first, line.last + 1)
