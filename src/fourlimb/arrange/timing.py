"""Times of written places as they are played."""

from fractions import Fraction

from fourlimb.model import Grid


class Clock:
    """Times of places as played (swung), whole microseconds from their bar line, remembered."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self._at: dict[tuple[int, int, int], int] = {}
        self._length: dict[int, int] = {}

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
