"""Exact places inside a bar, and meters.

A position is a `fractions.Fraction` of a whole note from the bar line: 0 is the bar line, 1/4 the second quarter.
It is never a float. Text form is "0", "3/16", "1" (as `str(Fraction)` gives it).
"""

from fractions import Fraction
from functools import lru_cache
from typing import Final

from .errors import InputError

ZERO: Final = Fraction(0)
QUARTER: Final = Fraction(1, 4)
EIGHTH: Final = Fraction(1, 8)
SIXTEENTH: Final = Fraction(1, 16)

MAX_BEATS: Final = 32
"""Most beats a bar may be written with (MusicXML sets no bound; more is a mistake in the file)."""


@lru_cache(maxsize=256)
def bar_length(meter: str) -> Fraction:
    """Length of a bar in whole notes: "6/8" -> 3/4. Raises InputError on a meter that cannot be."""
    count, unit = split_meter(meter)
    return Fraction(count, unit)


@lru_cache(maxsize=256)
def split_meter(meter: str) -> tuple[int, int]:
    """Reads "6/8" as (6, 8) and "3+2+2/8" as (7, 8).

    Raises InputError unless 1 <= count <= 32 and the unit is 1, 2, 4, 8, 16 or 32.
    """
    try:
        text, unit = meter.split("/")[0], int(meter.partition("/")[2])
        groups = [int(part) for part in text.split("+")]
        count = sum(groups) if min(groups) > 0 else 0
    except ValueError:
        raise InputError(f'meter "{meter}" is not understood: write it like 4/4 or 6/8') from None
    if not 1 <= count <= MAX_BEATS or unit not in (1, 2, 4, 8, 16, 32):
        raise InputError(f'meter "{meter}" is not one that can be written: use a count of 1 to 32 over 2, 4, 8 or 16')
    return count, unit


@lru_cache(maxsize=256)
def meter_groups(meter: str) -> tuple[int, ...]:
    """How a meter's text groups its units: "3+2+2/8" -> (3, 2, 2); one group where it says nothing."""
    split_meter(meter)
    return tuple(int(part) for part in meter.partition("/")[0].split("+"))


@lru_cache(maxsize=256)
def is_compound(meter: str) -> bool:
    """True when the beat is three eighths or sixteenths long (6/8, 9/8, 12/8, 6/16 ...)."""
    count, unit = split_meter(meter)
    return unit >= 8 and count % 3 == 0 and count > 3 and len(meter_groups(meter)) == 1


@lru_cache(maxsize=256)
def beat_lengths(meter: str) -> tuple[Fraction, ...]:
    """Lengths of the beats that are felt and counted, in whole notes.

    4/4 -> four quarters; 6/8 -> two dotted quarters; 7/8 -> 2+2+3 eighths, unless the meter says its own groups as
    MusicXML and MEI write them, "3+2+2/8" (common practice: the accents decide); 3/8 counts its eighths. Groups of
    quarters keep their quarters.
    """
    count, unit = split_meter(meter)
    groups = meter_groups(meter)
    if unit >= 8 and len(groups) > 1:
        return tuple(Fraction(group, unit) for group in groups)
    if is_compound(meter):
        return (Fraction(3, unit),) * (count // 3)
    if unit >= 8 and count in (5, 7):
        pairs = (count - 3) // 2
        return (Fraction(2, unit),) * pairs + (Fraction(3, unit),)
    return (Fraction(1, unit),) * count


@lru_cache(maxsize=256)
def beat_starts(meter: str) -> tuple[Fraction, ...]:
    """Where each beat of the bar begins, in whole notes from the bar line."""
    starts, at = [], ZERO
    for length in beat_lengths(meter):
        starts.append(at)
        at += length
    return tuple(starts)


@lru_cache(maxsize=8192)
def beat_of(meter: str, position: Fraction) -> tuple[int, Fraction]:
    """Which beat (from 0) a position falls in, and where inside it (fraction of that beat, 0 <= x < 1)."""
    starts, lengths = beat_starts(meter), beat_lengths(meter)
    for index in range(len(starts) - 1, -1, -1):
        if position >= starts[index]:
            return index, (position - starts[index]) / lengths[index]
    raise ValueError(f"position {position} lies before the bar line")
