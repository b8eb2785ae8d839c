"""A sheet in which each written bar may be played several times: what stands at it, and which bars it is played as.

A `FoldedSheet` is a sheet whose grid holds only the bars that are written, under their own numbers, so everything
that draws or writes a sheet draws or writes it too. Times in its grid are only good for tempo marks.
"""

from bisect import bisect_left

from fourlimb.model import Sheet

from .blocks import Block
from .repeats import PLAIN, Mark


class FoldedSheet(Sheet, frozen=True, kw_only=True):
    """A sheet with repeats; `bar_marks` and `passes` by the number of the written bar."""

    bar_marks: dict[int, Mark]
    passes: dict[int, tuple[int, ...]]


def mark_at(sheet: Sheet, bar: int) -> Mark:
    """What stands at a written bar; nothing in a sheet that is not folded."""
    return sheet.bar_marks.get(bar, PLAIN) if isinstance(sheet, FoldedSheet) else PLAIN


def passes_of(sheet: Sheet, bar: int) -> tuple[int, ...]:
    """The bars of the song that a written bar is played as."""
    return sheet.passes.get(bar, (bar,)) if isinstance(sheet, FoldedSheet) else (bar,)


def bar_before(sheet: Sheet, number: int) -> int | None:
    """The bar that is written before a bar; None for the first."""
    numbers = sheet.grid.numbers
    index = bisect_left(numbers, number)
    return numbers[index - 1] if index else None


def _mark_before(sheet: Sheet, bar: int) -> Mark:
    last = bar_before(sheet, bar)
    return PLAIN if last is None else mark_at(sheet, last)


def neighbours(sheet: Sheet, block: Block) -> tuple[int | None, int | None]:
    """The bars written before and after a measure."""
    numbers = sheet.grid.numbers
    index = bisect_left(numbers, block.bars[-1]) + 1
    return bar_before(sheet, block.bar), numbers[index] if index < len(numbers) else None


def splits(sheet: Sheet, bar: int) -> bool:
    """True when a sign stands right before a bar: no rest, repeat sign or run goes over it."""
    if not isinstance(sheet, FoldedSheet):
        return False
    mark, before = mark_at(sheet, bar), _mark_before(sheet, bar)
    return mark.begins or before.ends or mark.ending != before.ending


def starts_line(sheet: Sheet, bar: int) -> bool:
    """True when a bar must stand at the head of a line: a sign for the eye, or what follows a repeat or a jump."""
    if not isinstance(sheet, FoldedSheet):
        return False
    mark, before = mark_at(sheet, bar), _mark_before(sheet, bar)
    after = bool(before.end or before.jump) and not mark.ending
    return mark.begins or after or (bool(before.ending) and not mark.ending)
