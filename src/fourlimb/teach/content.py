"""The content of a bar with its number taken away: what makes two bars the same figure.

Two bars are the same when they have the same meter and the same strokes: place, piece, and how it is struck (accent,
ghost, grace, rimshot and the like, the second of its kind, a roll and how long it lasts). Which hand plays, how loud
exactly, and what it was heard as do not count. Of two of a kind struck together (both crashes) one is kept.
"""

from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

from fourlimb.model import Chart, Grace, Grid, Sound, Stroke, Struck
from fourlimb.model.sounds import ORDER


class Mark(NamedTuple):
    """How one stroke is struck, beside being struck."""

    accent: bool = False
    ghost: bool = False
    grace: Grace | None = None
    struck: Struck | None = None
    second: bool = False
    roll: int = 0
    lasts: Fraction = Fraction(0)
    tied: bool = False

    @property
    def rolls(self) -> bool:
        """True for a roll, measured or buzzed and kept up."""
        return self.roll > 0 or (self.struck == "buzz" and self.lasts > 0)


PLAIN = Mark()

Place = tuple[Fraction, Sound]
"""Where in the bar (whole notes), and which piece."""


class Content(NamedTuple):
    """Meter and strokes of one bar, in song order, at most one stroke for a piece at a place.

    `skipped`: beats that a pickup leaves out before its first, 0 in a whole bar; it is counted from there.
    """

    meter: str
    notes: tuple[tuple[Fraction, Sound, Mark], ...]
    skipped: int = 0

    @property
    def counted(self) -> tuple[str, int]:
        """Bars of which this differs are counted differently: none is told from another."""
        return self.meter, self.skipped

    @property
    def empty(self) -> "Content":
        """The same bar with nothing in it."""
        return Content(self.meter, (), self.skipped)

    @property
    def places(self) -> dict[Place, Mark]:
        """Strokes by place and piece."""
        return {(position, piece): mark for position, piece, mark in self.notes}


def content_of(meter: str, strokes: Iterable[Stroke], skipped: int = 0) -> Content:
    """What a bar holds. Of two strokes of one piece at one place the more marked one counts."""
    places: dict[Place, Mark] = {}
    for stroke in strokes:
        place = stroke.position, stroke.piece
        mark = mark_of_stroke(stroke)
        places[place] = max(places.get(place, mark), mark, key=_weight)
    return from_places(meter, places, skipped)


def mark_of_stroke(stroke: Stroke) -> Mark:
    """How a written stroke is struck."""
    return Mark(*stroke.way)


def from_places(meter: str, places: dict[Place, Mark], skipped: int = 0) -> Content:
    """The content with these strokes, put in order."""
    ordered = sorted(places, key=lambda place: (place[0], ORDER[place[1]]))
    return Content(meter, tuple((position, piece, places[position, piece]) for position, piece in ordered), skipped)


def contents(chart: Chart, grid: Grid) -> dict[int, Content]:
    """Content of every bar of the grid, silent ones too; strokes in bars that the grid lacks are left aside."""
    return {bar.bar: content_of(bar.meter, chart.by_bar.get(bar.bar, ()), grid.skipped(bar.bar)) for bar in grid.bars}


def _weight(mark: Mark) -> tuple[object, ...]:
    return mark.accent, mark.ghost, mark.grace or "", mark.struck or "", *mark[4:]
