"""The tempo as it is written and said: one number for as long as it lasts, whatever players drift.

A bar's own tempo is measured (132.6, 131.8, ...); chart, cue sheet, ladder and summary must name the same number, so
all of them ask here.
"""

from functools import lru_cache
from typing import Final

from .grid import Grid

TEMPO_STEP: Final = 0.06
"""Share by which the tempo must move for a new mark to be printed; players' own drift stays below it (ours)."""

LASTING_BARS: Final = 4
"""Bars over which a new tempo must last to be marked (ours)."""

Measured = tuple[tuple[int, float], ...]
"""Bars with their beats a minute."""


def tempo_marks(grid: Grid) -> dict[int, float]:
    """Bars that carry a tempo mark and the beats a minute it says: where the tempo steps and stays there.

    A song with one tempo says its middle one, not that of its first bars.
    """
    return dict(marks_of(tuple((bar.bar, bar.tempo_bpm) for bar in grid.bars)))


def tempo_said(grid: Grid, bar: int) -> float:
    """Beats a minute that the mark in force at a bar says; 0.0 for a grid without bars."""
    marks = tempo_marks(grid)
    return next((bpm for number, bpm in reversed(marks.items()) if number <= bar), next(iter(marks.values()), 0.0))


@lru_cache(maxsize=64)
def marks_of(bars: Measured) -> Measured:
    """The marks of measured bars, in order; see `tempo_marks`."""
    marks: list[tuple[int, float]] = []
    said = 0.0
    for index, (number, bpm) in enumerate(bars):
        ahead = sorted(tempo for _, tempo in bars[index : index + LASTING_BARS])
        lasting = ahead[len(ahead) // 2]
        steps = said == 0.0 or (abs(bpm / said - 1) > TEMPO_STEP and abs(lasting / said - 1) > TEMPO_STEP)
        if steps:
            said = lasting
            marks.append((number, lasting))
    if len(marks) == 1:
        tempi = sorted(tempo for _, tempo in bars)
        marks = [(marks[0][0], tempi[len(tempi) // 2])]
    return tuple(marks)
