"""Times of written places as they are played."""

from bisect import bisect_right
from collections.abc import Iterable
from fractions import Fraction
from math import lcm
from statistics import median_low
from typing import Final

from fourlimb.model import Grid
from fourlimb.model.places import beat_starts

TEMPO_CLASS: Final = 1.2
"""Bars of one figure that differ more than this in speed are decided apart (ours)."""


class Ticks:
    """Places of one bar as whole numbers, exactly: what is asked of many pairs of them costs less so."""

    def __init__(self, meter: str, positions: Iterable[Fraction]) -> None:
        starts = beat_starts(meter)
        self.whole = lcm(32, *{at.denominator for at in positions}, *{at.denominator for at in starts})
        self._starts = [self.of(at) for at in starts]

    def of(self, position: Fraction) -> int:
        """A position of this bar, its beats or its length."""
        return position.numerator * (self.whole // position.denominator)

    def beat(self, place: int) -> int:
        """Where the beat begins in which a place falls."""
        return self._starts[bisect_right(self._starts, place) - 1]


class Clock:
    """Times of places as played (swung), whole microseconds from their bar line, remembered."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self._at: dict[tuple[int, int, int], int] = {}
        self._length: dict[int, int] = {}
        self._pace: dict[int, int] = {}

    def us(self, bar: int, position: Fraction) -> int:
        """Microseconds from the bar line to a position."""
        key = (bar, position.numerator, position.denominator)
        found = self._at.get(key)
        if found is None:
            seconds = self.grid.time_at(bar, position, swung=True) - self.grid.at(bar).start_s
            found = self._at[key] = round(seconds * 1e6)
        return found

    def length_us(self, bar: int) -> int:
        """Microseconds from this bar line to the next (at least one)."""
        found = self._length.get(bar)
        if found is None:
            seconds = self.grid.end(bar) - self.grid.at(bar).start_s
            found = self._length[bar] = max(round(seconds * 1e6), 1)
        return found

    def pace_us(self, bar: int) -> int:
        """Microseconds of a whole note as bars about as fast as this one have it in the middle."""
        if not self._pace:
            self._pace = _paces({b: round(self.length_us(b) / self.grid.length(b)) for b in self.grid.numbers})
        return self._pace[bar]


def _paces(whole: dict[int, int]) -> dict[int, int]:
    """The middle one of each class of bars that differ by less than `TEMPO_CLASS`."""
    classes: list[list[int]] = []
    for bar in sorted(whole, key=lambda b: (whole[b], b)):
        if not classes or whole[bar] > TEMPO_CLASS * whole[classes[-1][0]]:
            classes.append([])
        classes[-1].append(bar)
    return {bar: median_low(whole[b] for b in bars) for bars in classes for bar in bars}
