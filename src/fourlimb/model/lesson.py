"""The lesson as data: what `lesson.json` holds (schema "fourlimb/lesson/1")."""

from typing import Literal

import msgspec

from .chart import Chart, Level, Reason
from .grid import Grid
from .heard import Doubt, Hit, Landmark, Section, Song
from .kit import Kit
from .printing import Printing
from .teaching import Difference, Figure, Introduction

LESSON_SCHEMA = "fourlimb/lesson/1"
VERSION = 1

CorrectionState = Literal["applied", "unfit", "undone"]


class Correction(msgspec.Struct, frozen=True, kw_only=True):
    """The teacher's word, as typed. `state`: applied, unfit (kept, but no longer fits: `why` says), undone."""

    n: int
    what: str
    state: CorrectionState = "applied"
    why: str = ""
    extra: dict[str, object] = {}


class Lesson(msgspec.Struct, frozen=True, kw_only=True):
    """One lesson. Figures, differences and running order speak of the full chart."""

    song: Song
    grid: Grid
    hits: tuple[Hit, ...]
    sections: tuple[Section, ...]
    landmarks: tuple[Landmark, ...]
    kit: Kit
    charts: dict[Level, Chart]
    reasons: tuple[Reason, ...]
    figures: tuple[Figure, ...]
    differences: tuple[Difference, ...]
    running_order: tuple[Introduction, ...]
    printing: Printing = Printing()
    corrections: tuple[Correction, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    notes: tuple[str, ...] = ()
    made_by: str = ""
    schema: str = LESSON_SCHEMA
    version: int = VERSION
    extra: dict[str, object] = {}
