"""One chart with all that is needed to print it or play it: what `engrave` and `sound` are given."""

import msgspec

from .chart import Chart, Level
from .grid import Grid
from .heard import Landmark, Section, Song
from .kit import Kit
from .teaching import Plan


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """A chart at one level, the grid it stands on, its sections, the kit's key, and what `teach` says of it.

    `bars` of the grid that hold no stroke are rests; `doubts` are bar numbers that carry a "check me" mark.
    """

    song: Song
    level: Level
    chart: Chart
    grid: Grid
    kit: Kit
    plan: Plan
    sections: tuple[Section, ...] = ()
    landmarks: tuple[Landmark, ...] = ()
    doubts: tuple[int, ...] = ()
