"""What the arranger remembers from one time to the next, so that a changed bar costs a bar and not a song.

Every step of the arranger is a function of its inputs alone. A `Memory` keeps, for each step at each place, the
inputs of the last time and what came of them; where the inputs are the same again, so is the result, and nothing is
done. An empty memory gives the same answer, only slower. It holds for one grid, kit and player; another one empties
it. What is remembered is never changed.
"""

from collections.abc import Callable, Hashable
from typing import TypeVar, cast

from fourlimb.model import Grid, Kit

from .limits import Player
from .note import Ledger
from .timing import Clock

T = TypeVar("T")


class Memory:
    """Pass the same one to `arrange` after every change to a song."""

    def __init__(self) -> None:
        self._for: tuple[Grid, Kit, Player] | None = None
        self._kept: dict[Hashable, tuple[tuple[object, ...], object]] = {}
        self._numbers: dict[Hashable, int] = {}
        self.clock = Clock(Grid(beats=(), bars=()))
        self.made = 0

    def begin(self, grid: Grid, kit: Kit, player: Player) -> None:
        """Forget everything when the song's grid, the kit or the player is another."""
        if self._for != (grid, kit, player):
            self._kept.clear()
            self._numbers.clear()
            self._for, self.clock = (grid, kit, player), Clock(grid)
        self.made = 0

    def recall(self, step: Hashable, make: Callable[..., T], *inputs: object) -> T:
        """`make(*inputs)`, remembered where the inputs are those of the last time. `made` counts what was made."""
        kept = self._kept.get(step)
        if kept is not None and kept[0] == inputs:
            return cast(T, kept[1])
        self.made += 1
        result = make(*inputs)
        self._kept[step] = (inputs, result)
        return result

    def number(self, thing: Hashable) -> int:
        """A number, 1 and up, that is the same for equal things and differs for others."""
        return self._numbers.setdefault(thing, len(self._numbers) + 1)


class Book:
    """Ledgers of all steps, bar by bar; reasons are written out once a bar."""

    def __init__(self) -> None:
        self._parts: dict[int, list[Ledger]] = {}

    def add(self, bar: int, ledger: Ledger) -> None:
        """Keep what one step did in one bar."""
        if ledger.rows:
            self._parts.setdefault(bar, []).append(ledger)

    def parts(self) -> list[tuple[int, tuple[Ledger, ...]]]:
        """Ledgers of each bar, in song order."""
        return [(bar, tuple(self._parts[bar])) for bar in sorted(self._parts)]
