"""Where something new starts that must be seen: meter, tempo, feel, cues."""

from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Final

from fourlimb.model import Sheet
from fourlimb.model.places import beat_lengths
from fourlimb.model.tempo import marks_of, tempo_marks

from .passes import splits


def breaks_run(sheet: Sheet, number: int) -> bool:
    """True when a bar starts something new that must be seen: meter, tempo, feel, or a cue."""
    if not sheet.grid.has(number - 1):
        return True
    grid = sheet.grid
    return (
        grid.meter(number) != grid.meter(number - 1)
        or tempo_changes(sheet, number)
        or number in modulations(sheet)
        or splits(sheet, number)
        or shown_feel(sheet, number) != shown_feel(sheet, number - 1)
        or any(mark.bar == number for mark in sheet.landmarks)
    )


def shown_meter(sheet: Sheet, number: int) -> str:
    """The time signature a bar stands under: a pickup, whatever its own length, under that of the bar after it."""
    grid = sheet.grid
    return grid.meter(1) if number == 0 and grid.has(1) else grid.meter(number)


def beat_unit(meter: str) -> tuple[int, bool]:
    """The note that a meter's first beat is, and whether it is dotted: 6/8 -> (4, True), 7/8 -> (4, False)."""
    return _value(_beat(meter))


def tempo_changes(sheet: Sheet, number: int) -> bool:
    """True when a new tempo mark stands at this bar: the first, or a lasting step against the last mark."""
    return number in tempo_marks(sheet.grid)


Value = tuple[int, bool]
"""A note value: (4, True) is a dotted quarter."""


def modulations(sheet: Sheet) -> dict[int, tuple[Value, Value]]:
    """Bars where a note of the old time lasts as long as a note of the new: (old, new).

    Asked where the tempo steps or the beat becomes another note; an equality is said only when it holds within
    `EQUAL_WITHIN` (a metric modulation, or a beat that goes on in another meter). After a silent bar of the same beat
    there is no note to be equal to: then the new tempo alone is said.
    """
    bars = sheet.grid.bars
    found = dict(_modulations(tuple((bar.bar, bar.tempo_bpm, bar.meter) for bar in bars)))
    for before, bar in pairwise(bars):
        silent = before.bar not in sheet.chart.by_bar
        if silent and bar.bar in found and _beat(before.meter) == _beat(bar.meter):
            del found[bar.bar]
    return found


@lru_cache(maxsize=64)
def _modulations(bars: tuple[tuple[int, float, str], ...]) -> tuple[tuple[int, tuple[Value, Value]], ...]:
    marks = dict(marks_of(tuple((number, bpm) for number, bpm, _ in bars)))
    found: list[tuple[int, tuple[Value, Value]]] = []
    said = 0.0
    for (before, _, old_meter), (bar, _, new_meter) in pairwise(bars):
        said = marks.get(before, said)
        now = marks.get(bar, said)
        old, new = _beat(old_meter), _beat(new_meter)
        if before == 0 or (now == said and old == new):
            continue
        for one, other in ((old, new), *EQUALITIES) if old != new else EQUALITIES:
            if abs(float(one / old * new / other) / said * now - 1) < EQUAL_WITHIN:
                found.append((bar, (_value(one), _value(other))))
                break
    return tuple(found)


EQUAL_WITHIN: Final = 0.012
"""Share by which two note values may differ and still be called equal: what two tempo marks rounded to whole beats a
minute can be apart (ours)."""

EQUALITIES: Final = tuple(
    (Fraction(one), Fraction(other))
    for one, other in (
        ("1/8", "1/8"), ("3/8", "1/4"), ("1/4", "3/8"), ("3/16", "1/4"), ("1/4", "3/16"), ("1/2", "1/4"),
        ("1/4", "1/2"), ("1/8", "1/16"), ("1/16", "1/8"),
    )
)  # fmt: skip
"""Old and new note values that are tried, in this order (after Wikipedia, *Metric modulation*)."""


def _beat(meter: str) -> Fraction:
    return beat_lengths(meter)[0]


def _value(length: Fraction) -> Value:
    dotted = length.numerator == 3
    return (length / Fraction(3, 2) if dotted else length).denominator, dotted


def shown_feel(sheet: Sheet, number: int) -> tuple[object, ...]:
    """What of a bar's feel is seen on paper."""
    feel = sheet.grid.feel_of(number)
    return feel.feel, round(feel.swing, 2), feel.swing_unit
