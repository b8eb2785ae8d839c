"""One figure is played one way: its bars agree on ghosts, accents, force and what each stroke is worth.

What most bars say is taken, not their mean, so that one bar more or less hardly ever changes the others; bars that
surely hear a stroke vouch for those that doubt it. Velocities are the mean, kept apart from the notes: they are only
written, nothing is decided by them.
"""

from collections import defaultdict
from collections.abc import Mapping
from statistics import fmean

import msgspec

from .memory import Memory
from .note import Bars, Note

Force = Mapping[int, int]
"""Velocity of a bar's strokes by the first hit that each comes from."""


def even_out(bars: Bars, memory: Memory) -> tuple[Bars, dict[int, Force]]:
    """The same bars, each figure's strokes made one; and the velocities of bars that share theirs."""
    made: Bars = dict(bars)
    force: dict[int, Force] = {}
    groups: dict[tuple[str, int], list[int]] = defaultdict(list)
    for bar, notes in bars.items():
        if notes:
            groups[memory.clock.grid.meter(bar), memory.recall(("shape", bar), _shape, notes, memory)].append(bar)
    for key, numbers in groups.items():
        if len(numbers) > 1:
            rows, forces = memory.recall(("even", key), _evened, [bars[bar] for bar in numbers])
            made.update(zip(numbers, rows, strict=True))
            force.update(zip(numbers, forces, strict=True))
    return made, force


def _shape(notes: tuple[Note, ...], memory: Memory) -> int:
    shape = tuple((n.position, n.piece, n.grace, n.pinned, n.struck, n.second) for n in notes)
    return memory.number(("shape", shape))


def _evened(rows: list[tuple[Note, ...]]) -> tuple[list[tuple[Note, ...]], list[Force]]:
    columns = list(zip(*rows, strict=True))
    shared = [_most(column) for column in columns]
    velocity = [round(fmean(n.velocity for n in column)) for column in columns]
    evened = [
        tuple(
            msgspec.structs.replace(note, ghost=ghost, accent=accent, weight=weight)
            for note, (ghost, accent, weight) in zip(row, shared, strict=True)
        )
        for row in rows
    ]
    forces: list[Force] = [
        {note.hits[0]: v for note, v in zip(row, velocity, strict=True) if note.hits} for row in rows
    ]
    return evened, forces


def _most(column: tuple[Note, ...]) -> tuple[bool, bool, float]:
    """Ghost and accent as most bars say; the weight that a third of them vouch for (ours)."""
    half = len(column) / 2
    weight = sorted((n.weight for n in column), reverse=True)[len(column) // 3]
    return sum(n.ghost for n in column) > half, sum(n.accent for n in column) > half, weight
