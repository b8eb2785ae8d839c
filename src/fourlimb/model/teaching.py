"""What is taught: figures, what changes between them, and in which order they are met."""

from fractions import Fraction
from typing import Literal

import msgspec

from .chart import Grace, Struck
from .sounds import Sound


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """The content of one bar with its number taken away. `bars` hold it; `first` is where it is met first."""

    name: str
    bars: tuple[int, ...]
    first: int
    extra: dict[str, object] = {}


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """One change between two figures. `from_` and `to` are positions ("7/8"); one is None for add and drop.

    A swap or a strike stays where it is (`from_` equals `to`); a swap's `to_piece` takes the place of `piece`. The
    marks `accent` to `tied` are those the stroke has afterwards, for add and strike; move and swap keep theirs.
    """

    what: Literal["move", "add", "drop", "swap", "strike"]
    piece: Sound
    from_: Fraction | None = msgspec.field(name="from", default=None)
    to: Fraction | None = None
    to_piece: Sound | None = None
    accent: bool = False
    ghost: bool = False
    grace: Grace | None = None
    struck: Struck | None = None
    second: bool = False
    roll: int = 0
    lasts: Fraction = msgspec.field(default_factory=Fraction)
    tied: bool = False
    extra: dict[str, object] = {}


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """What changes from one figure to another, as data and as a sentence.

    `from_` is "" for a figure told from nothing: its changes then add every stroke to an empty bar.
    """

    from_: str = msgspec.field(name="from")
    to: str
    say: str
    changes: tuple[Change, ...]
    extra: dict[str, object] = {}


class Introduction(msgspec.Struct, frozen=True, kw_only=True):
    """One step of the running order: a figure, and the known figure it is told from (None: from nothing)."""

    figure: str
    by: str | None = None
    extra: dict[str, object] = {}


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """Everything `teach` makes of one chart. `counts` is the count line of each bar by number."""

    figures: tuple[Figure, ...]
    differences: tuple[Difference, ...]
    running_order: tuple[Introduction, ...]
    counts: dict[int, str]
