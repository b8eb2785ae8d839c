"""What a line of music is made of: measures on paper, each standing for one bar of the song or several."""

from dataclasses import dataclass, replace
from typing import Final, Literal

BlockKind = Literal["written", "repeat", "pair", "rest"]


@dataclass(frozen=True)
class Block:
    """One measure on paper: a written bar, a one-bar or two-bar repeat sign, or `count` bars' rest.

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


def can_widen(line: Line) -> bool:
    """True when a line's bars could be given more room."""
    return len(line.blocks) > 1 or line.units < line.full


def widened(line: Line, *, ends: bool = False) -> tuple[Line, ...]:
    """The same bars with more room: a short line over the whole width, a full one as two lines.

    `ends`: the line ends a section, so what is left over on the second line need not fill it.
    """
    if line.units < line.full:
        return (replace(line, full=line.units),)
    first, second = _halves(line)
    return first, replace(second, full=max(second.units, first.units)) if ends else second


def _halves(line: Line) -> tuple[Line, Line]:
    """A line of two or more measures as two that fill the width; what begins the second is written out.

    A pickup that leads two bars stands over them on a short line of its own: better than one bar alone.
    """
    alone = line.blocks[0].bar == 0 and len(line.blocks) == PICKUP_AND_TWO
    middle = 1 if alone else -(-len(line.blocks) // 2)
    first, second = line.blocks[:middle], line.blocks[middle:]
    if second[0].kind in ("repeat", "pair"):
        opened = tuple(Block("written", bar) for bar in second[0].bars)
        second = (*opened, *second[1:])
    parts = []
    for blocks in (first, second):
        run, counted = 1, []
        for block in blocks:
            run = run + 1 if block.kind == "repeat" else 1
            counted.append(
                replace(
                    block,
                    run=run if block.kind == "repeat" else 0,
                    units=float(block.count) if block.kind == "pair" else 1.0,
                )
            )
        units = sum(block_units(block) for block in counted)
        parts.append(Line(tuple(counted), units, units))
    first_line = replace(parts[0], full=2.0 * parts[0].units) if alone else parts[0]
    return first_line, parts[1]


PICKUP_AND_TWO: Final = 3
"""Measures of a line that holds a pickup and two bars."""
