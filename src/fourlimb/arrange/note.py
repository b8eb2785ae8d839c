"""A note: one candidate stroke on its way from what was heard to what is written."""

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction
from typing import Final, Literal

import msgspec

from fourlimb.model import Grace, Level, Reason, Sound, Stroke, Struck
from fourlimb.model.places import beat_of, beat_starts
from fourlimb.model.sounds import FOOT, ORDER, TIMEKEEPERS

from .layout import Spot, spot

What = Literal["moved", "merged", "dropped", "added"]


class Note(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """`weight` is what leaving it out would cost in fidelity; `heard` is the sound it was heard as; `sure` 0 to 1.

    Not tracked by the garbage collector (`gc=False`): it holds no references that could form a cycle.
    """

    position: Fraction
    piece: Sound
    heard: Sound
    weight: float
    velocity: int = 80
    hits: tuple[int, ...] = ()
    pinned: bool = False
    ghost: bool = False
    accent: bool = False
    grace: Grace | None = None
    struck: Struck | None = None
    second: bool = False
    sure: float = 1.0

    @property
    def sort_key(self) -> tuple[Fraction, int]:
        """Order inside a bar."""
        return self.position, 2 * ORDER[self.piece] + self.second

    @property
    def opens(self) -> bool:
        """True when the hat rings open after it, so that its foot cannot close at the same time."""
        return self.piece == "hat_open" or self.struck == "half_open"

    @property
    def spot(self) -> Spot:
        """The place that a limb goes to for it (a kick drum's second beater is on the same drum)."""
        return spot(self.piece, self.second and self.piece not in FOOT)


def on_one_drum(notes: tuple[Note, ...]) -> bool:
    """True when all that the hands do in a bar is on one thing, and that is no time-keeping."""
    pieces = {n.piece for n in notes if n.piece not in FOOT}
    return len(pieces) == 1 and not pieces & TIMEKEEPERS


CRASH_RIDE: Final = 3
"""Crashes in a bar, more than its other time-keeping strokes, with which a hand keeps time (ours)."""
TOM_RIDE: Final = 6
"""Floor toms in a bar without other time-keeping with which a hand keeps time (ours)."""


def time_surfaces(pieces: Iterable[Sound]) -> frozenset[Sound]:
    """What the hands of a bar keep time on: hats, rides and the like; a crash or floor tom where one runs instead."""
    counts = Counter(pieces)
    usual = sum(counts[piece] for piece in TIMEKEEPERS)
    crashes = counts["crash"] + counts["china"]
    if crashes >= CRASH_RIDE and crashes > usual:
        return TIMEKEEPERS | frozenset[Sound]({"crash", "china"})
    if counts["tom_floor"] >= TOM_RIDE and not usual:
        return TIMEKEEPERS | frozenset[Sound]({"tom_floor"})
    return TIMEKEEPERS


def time_kept(notes: Iterable[Note | Stroke], meter: str) -> frozenset[Sound]:
    """The same for the notes of a bar; a floor tom only where it runs through every beat: otherwise it is a fill."""
    own = [n for n in notes if not n.second]
    time = time_surfaces(n.piece for n in own)
    if "tom_floor" in time:
        struck = {beat_of(meter, n.position)[0] for n in own if n.piece == "tom_floor"}
        return time if len(struck) == len(beat_starts(meter)) else TIMEKEEPERS
    return time


Bars = dict[int, tuple[Note, ...]]
"""Notes of each bar by number, sorted; every bar of the grid is present."""


_Key = tuple[int, Fraction, int, What, str, str, tuple[int, ...], Sound | None]


class Ledger:
    """Collects reasons, one per decision; the same decision at several levels becomes one entry."""

    def __init__(self) -> None:
        self.rows: dict[_Key, tuple[Sound, list[Level]]] = {}

    def note(
        self,
        levels: tuple[Level, ...],
        what: What,
        bar: int,
        note: Note,
        why: str,
        rule: str,
        to: Sound | None = None,
    ) -> None:
        """Record what happened to a note at these levels."""
        self.write(levels, what, bar, note.position, note.heard, why, rule, note.hits, to)

    def write(
        self,
        levels: tuple[Level, ...],
        what: What,
        bar: int,
        position: Fraction,
        sound: Sound,
        why: str,
        rule: str,
        hits: tuple[int, ...] = (),
        to: Sound | None = None,
    ) -> None:
        """Record one decision."""
        key = (bar, position, ORDER[sound], what, rule, why, hits, to)
        row = self.rows.setdefault(key, (sound, []))[1]
        row.extend(level for level in levels if level not in row)

    def take(self, other: "Ledger") -> None:
        """Add what another ledger holds."""
        for key, (sound, levels) in other.rows.items():
            row = self.rows.setdefault(key, (sound, []))[1]
            row.extend(level for level in levels if level not in row)

    def by_bar(self) -> "dict[int, Ledger]":
        """The same, one ledger a bar."""
        found: dict[int, Ledger] = {}
        for key, row in self.rows.items():
            found.setdefault(key[0], Ledger()).rows[key] = row
        return found

    def reasons(self) -> tuple[Reason, ...]:
        """All entries in song order."""
        made = []
        for key in sorted(self.rows, key=lambda key: (*key[:7], key[7] or "")):
            bar, position, _, what, rule, why, hits, to = key
            sound, levels = self.rows[key]
            made.append(
                Reason(what=what, bar=bar, position=position, sound=sound, why=why, to=to, levels=tuple(levels),
                       hits=hits, rule=rule)
            )  # fmt: skip
        return tuple(made)
