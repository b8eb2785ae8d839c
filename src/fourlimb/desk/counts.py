"""The places of a bar as they are counted, for choosing them one by one instead of typing them.

A place is [what is typed, what is read, whether it is a beat]: ["2&", "&", false].
"""

from collections.abc import Iterable
from fractions import Fraction
from typing import Any, Final

from fourlimb.model import Grid
from fourlimb.model.count import say_place, speak_place
from fourlimb.model.places import beat_lengths, beat_starts

Place = tuple[str, str, bool]

SHARES: Final = {
    False: {"quarters": 1, "eighths": 2, "sixteenths": 4, "triplets": 3},
    True: {"beats": 1, "eighths": 3, "sixteenths": 6},
}
"""Into how many parts a beat is counted: one of two parts, and one of three (as in 6/8)."""


def key_of(grid: Grid, bar: int) -> str:
    """Bars with the same key are counted alike."""
    return f"{grid.meter(bar)} {grid.skipped(bar)!r}"


def counts(grid: Grid) -> dict[str, dict[str, list[Place]]]:
    """For each way that bars are counted: the places by the parts of a beat ("sixteenths")."""
    first: dict[str, int] = {}
    for bar in grid.numbers:
        first.setdefault(key_of(grid, bar), bar)
    return {key: _parts(grid.meter(bar), grid.skipped(bar)) for key, bar in first.items()}


def _parts(meter: str, skipped: int) -> dict[str, list[Place]]:
    lengths = beat_lengths(meter)
    compound = all(length.numerator == 3 for length in lengths)
    found = {name: list(_places(meter, skipped, share)) for name, share in SHARES[compound].items()}
    return found if len(set(lengths)) == 1 else {"counted": _uneven(meter, skipped)}


def _places(meter: str, skipped: int, share: int) -> Iterable[Place]:
    for start, length in zip(beat_starts(meter), beat_lengths(meter), strict=True):
        for part in range(share):
            yield place(meter, start + length * Fraction(part, share), skipped)


def _uneven(meter: str, skipped: int) -> list[Place]:
    """Beats of two and of three parts in one bar, as in 7/8."""
    shares = [3 if length.numerator == 3 else 2 for length in beat_lengths(meter)]
    beats = zip(beat_starts(meter), beat_lengths(meter), shares, strict=True)
    return [
        place(meter, start + length * Fraction(part, share), skipped)
        for start, length, share in beats
        for part in range(share)
    ]


def place(meter: str, position: Fraction, skipped: int) -> Place:
    """One place; between counted places it is read by its note, "the 32nd after 2a"."""
    typed, told = say_place(meter, position, skipped), speak_place(meter, position, skipped)
    beat = position in beat_starts(meter)
    short = typed.lstrip("0123456789") if told == typed and not beat else told
    return typed, short or typed, beat


def struck(grid: Grid, bar: int, positions: Iterable[Fraction]) -> list[Any]:
    """Places of a bar at which something stands."""
    meter, skipped = grid.meter(bar), grid.skipped(bar)
    return [place(meter, position, skipped) for position in sorted(set(positions))]
