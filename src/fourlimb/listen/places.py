"""Every hit on its exact place.

Input: a `Grid` and hits in seconds. Output: the same hits with `bar`, `position` (an exact fraction of a whole
note), `late_ms` against the written place, and `grace` where two strokes are one flam or drag.

Method: time inside the beat is measured in the grid; where a stretch swings it is straightened first. For each
beat the hits are fitted by several divisions (halves, quarters, thirds ... of the beat); each pays its squared
timing error in units of the human spread, and a price for being rarer. Neighbouring beats and hits heard together
must agree.

The spread of good players against their own grid is about 10-20 ms (see the notes of the Groove MIDI Dataset,
Gillick et al. 2019, whose performances it was checked on).
"""

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

import msgspec
import numpy as np

from fourlimb.model import Grid, Hit
from fourlimb.model.grid import swing_in
from fourlimb.model.places import bar_length, beat_lengths, beat_starts, is_compound

SPREAD_S: Final = 0.016
"""Standard deviation of a human stroke around its written place."""
FLAM_S: Final = 0.045
"""Two strokes of one drum closer than this are one with a grace note (flams are 20-40 ms wide: common practice)."""

SIMPLE_PRICES: Final[dict[int, float]] = {1: 0.0, 2: 0.4, 4: 1.4, 3: 4.0, 6: 7.0, 8: 8.0}
COMPOUND_PRICES: Final[dict[int, float]] = {1: 0.0, 3: 0.4, 6: 1.6, 2: 5.0, 4: 6.0, 12: 9.0}
"""Parts of a beat -> price of using them, in units of half a squared spread (ours; simpler and usual is cheaper)."""


def place_hits(grid: Grid, hits: Sequence[Hit]) -> tuple[Hit, ...]:
    """All hits with bar and position. Order and ids stay; hits outside the grid get None for both."""
    if not grid.bars:
        return tuple(hits)
    pairs, graces = _graces(hits)
    by_beat: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
    for index, hit in enumerate(hits):
        bar, beat, share = _where(grid, hit.time_s)
        by_beat[bar, beat].append((index, share))
    placed: dict[int, tuple[int, Fraction]] = {}
    for (bar, beat), inside in by_beat.items():
        placed.update(_place_beat(grid, bar, beat, inside, pairs))
    for grace, main in pairs.items():
        placed[grace] = placed[main]
    return tuple(_with_place(grid, hit, placed.get(i), graces.get(i)) for i, hit in enumerate(hits))


def _where(grid: Grid, time_s: float) -> tuple[int, int, float]:
    """Bar, beat index and straightened share of the beat (0 to 1; before the first bar below 0) of a time."""
    bar, at = grid.phase_at(time_s)
    meter = grid.meter(bar)
    starts, lengths = beat_starts(meter), beat_lengths(meter)
    beat = max(sum(1 for s in starts if float(s) <= at + 1e-9) - 1, 0)
    share = (at - float(starts[beat])) / float(lengths[beat])
    if 0 <= share <= 1:
        share = swing_in(share, grid.feel_of(bar))
    return bar, beat, share


def _place_beat(
    grid: Grid, bar: int, beat: int, inside: list[tuple[int, float]], graces: dict[int, int]
) -> dict[int, tuple[int, Fraction]]:
    """The cheapest division of one beat, and where its hits fall."""
    meter = grid.meter(bar)
    starts, lengths = beat_starts(meter), beat_lengths(meter)
    seconds = (grid.end(bar) - grid.at(bar).start_s) / float(bar_length(meter)) * float(lengths[beat])
    shares = np.array([share for index, share in inside if index not in graces])
    parts = _division(shares, seconds, compound=is_compound(meter) or lengths[beat].numerator == 3)
    found = {}
    for index, share in inside:
        position = starts[beat] + Fraction(round(share * parts), parts) * lengths[beat]
        place = _carry(grid, bar, position)
        if place is not None:
            found[index] = place
    return found


def _division(shares: np.ndarray[tuple[int], np.dtype[np.float64]], seconds: float, *, compound: bool) -> int:
    """How many parts the beat is cut into: least squared error plus price."""
    prices = COMPOUND_PRICES if compound else SIMPLE_PRICES
    spread = max(SPREAD_S / max(seconds, 1e-3), 1e-4)
    best, best_cost = 1, np.inf
    for parts, price in prices.items():
        if seconds / parts < 0.045 and parts > 2:
            continue  # finer than hands or ears: about 22 strokes a second
        error = (shares - np.rint(shares * parts) / parts) / spread
        cost = price + 0.5 * float(np.minimum(error**2, 25.0).sum())
        if cost < best_cost - 1e-9:
            best, best_cost = parts, cost
    return best


def _carry(grid: Grid, bar: int, position: Fraction) -> tuple[int, Fraction] | None:
    """Moves a position at or past its bar line into the next bar; None outside the song."""
    while position >= grid.length(bar):
        position -= grid.length(bar)
        bar += 1
        if not grid.has(bar):
            return None
    return (bar, position) if position >= 0 else None


def _graces(hits: Sequence[Hit]) -> tuple[dict[int, int], dict[int, str]]:
    """Grace strokes (index -> index of the stroke they lead to), and what each main stroke is then called."""
    leads: dict[int, list[int]] = defaultdict(list)
    latest: dict[str, int] = {}
    for index, hit in enumerate(hits):
        before = latest.get(hit.sound)
        if before is not None and _leads_to(hits[before], hit):
            leads[index] = [*leads.pop(before, []), before]
        latest[hit.sound] = index
    pairs = {grace: main for main, graces in leads.items() for grace in graces}
    names = {1: "flam", 2: "drag"}
    return pairs, {main: names.get(len(graces), "ruff") for main, graces in leads.items()}


def _leads_to(first: Hit, second: Hit) -> bool:
    """A softer stroke just before one on the same drum."""
    drum = second.sound in ("snare", "tom_high", "tom_mid", "tom_floor")
    return drum and 0 < second.time_s - first.time_s < FLAM_S and first.loudness_db <= second.loudness_db + 1


def _with_place(grid: Grid, hit: Hit, place: tuple[int, Fraction] | None, grace: str | None) -> Hit:
    if place is None:
        return msgspec.structs.replace(hit, bar=None, position=None, late_ms=None)
    bar, position = place
    late = (hit.time_s - grid.time_at(bar, position, swung=True)) * 1000
    changed: Hit = msgspec.structs.replace(hit, bar=bar, position=position, late_ms=round(late, 1))
    return msgspec.structs.replace(changed, grace=grace) if grace else changed
