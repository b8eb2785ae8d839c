"""Sections, landmarks and doubts, from placed hits.

Input: a `Grid` and hits that have places. Output: sections on bar lines named by likeness, bars anyone recognises
by ear, and the bars most worth checking.

Method: each bar is a vector of what sounds where (`alike`). Boundaries stand where drums stop or start; between,
the song is cut into runs of bars alike by dynamic programming over all cuts, with a prior on phrase lengths;
sections whose bars are alike share a letter.

What it cannot do: hear that the singer starts. It knows drums only.
"""

from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import msgspec
import numpy as np
import numpy.typing as npt

from fourlimb.model import Doubt, Grid, Hit, Landmark, Possible, Section, Sound
from fourlimb.model.sounds import TOMS

from .alike import PLACES, SURE, bar_vectors
from .doubt import doubts
from .evidence import FloatArray
from .section_trust import trust

LONGEST_BARS: Final = 32
SECTION_PRICE: Final = 0.5
ODD_BAR: Final = 0.6
"""Most that one bar's unlikeness counts."""
OPENS: Final = 0.35
MOST_PRIMES: Final = 2
SAME_MUSIC: Final = 0.97
"""Neighbouring sections this alike are one (ours; all set on songs made of the learning half of the Groove set)."""
Flags = npt.NDArray[np.bool_]
ALIKE: Final = 0.76
"""Likeness from which two sections share a letter (ours; best of .6 to .92 on 80 songs made of the learning half)."""
ENDING: Final = PLACES // 4
"""A bar with strokes in its first quarter only, and silence after it, ends what came before."""


def form(
    grid: Grid, hits: Sequence[Hit], possible: Sequence[Possible] = ()
) -> tuple[tuple[Section, ...], tuple[Landmark, ...], tuple[Doubt, ...]]:
    """Sections that cover every bar, landmarks and doubts in the order they should be looked at."""
    if not grid.bars:
        return (), (), ()
    vectors = bar_vectors(grid, hits)
    found = sections(grid, vectors, _opening(grid, hits))
    return found, landmarks(grid, hits, vectors), doubts(grid, hits, possible)


def _opening(grid: Grid, hits: Sequence[Hit]) -> FloatArray:
    """How much each bar opens with a crash, 0 to 1."""
    rows = {bar: i for i, bar in enumerate(grid.numbers)}
    opens = np.zeros(len(rows))
    for hit in hits:
        if hit.sound in ("crash", "china", "splash") and hit.position == 0 and hit.bar in rows:
            opens[rows[hit.bar]] = max(opens[rows[hit.bar]], hit.confidence)
    return opens / max(1.0, 4 * float(opens.mean()))  # a crash on every bar opens nothing


def sections(grid: Grid, vectors: FloatArray, opens: FloatArray) -> tuple[Section, ...]:
    """Sections named A, B ...; one whose music came before is named after it ("A'") and says so in `like`.

    `opens`: how much each bar opens with a crash, 0 to 1. How far a section's ends can be trusted, 0 to 1, stands in
    its `extra` under "confidence".
    """
    lead = 1 if grid.numbers[:1] == (0,) and len(vectors) > 1 else 0
    named = _named(grid.numbers[lead:], vectors[lead:], opens[lead:])
    if not lead or not named:
        return named
    if named[0].tacet and np.any(vectors[0] > 0):
        return (Section(name="pickup", from_bar=0, to_bar=0), *named)
    return (msgspec.structs.replace(named[0], from_bar=0), *named[1:])  # a pickup belongs to what it leads into


def _named(numbers: Sequence[int], vectors: FloatArray, opens: FloatArray) -> tuple[Section, ...]:
    silent = np.linalg.norm(vectors, axis=1) < 1e-9
    cut = _merged([0, *_boundaries(vectors, silent, opens), len(vectors)], vectors)
    edges = _ended(cut, vectors, silent)
    means: list[tuple[str, FloatArray]] = []
    repeats: dict[str, int] = defaultdict(int)
    found: list[Section] = []
    for first, stop in pairwise(edges):
        ends = numbers[first], numbers[stop - 1]
        if silent[first:stop].all():
            repeats["tacet"] += 1
            found.append(Section(name=_tacet(repeats["tacet"]), from_bar=ends[0], to_bar=ends[1], tacet=True))
            continue
        mean = vectors[first:stop].mean(axis=0)
        like = _most_like(mean, means)
        name = like if like is not None else _letter(len(means))
        if like is None:
            means.append((name, mean))
        else:
            repeats[like] += 1
            name = again(like, repeats[like])
        found.append(Section(name=name, from_bar=ends[0], to_bar=ends[1], like=like))
    sure = dict(zip(cut, trust(vectors, cut), strict=False))  # a last stroke does not make a section an odd one
    return tuple(
        msgspec.structs.replace(s, extra={"confidence": sure[first]}) for s, first in zip(found, edges, strict=False)
    )


def again(name: str, times: int) -> str:
    """The name of a section whose music comes again: A', A'', then A4, A5, which nobody has to count strokes of."""
    return name + "'" * times if times <= MOST_PRIMES else f"{name}{times + 1}"


def _merged(edges: list[int], vectors: FloatArray) -> list[int]:
    """Edges without those between neighbours that are the same music."""
    kept = edges[:1]
    for middle, stop in pairwise(edges[1:]):
        one, two = vectors[kept[-1] : middle].mean(axis=0), vectors[middle:stop].mean(axis=0)
        lengths = float(np.linalg.norm(one)), float(np.linalg.norm(two))
        if max(lengths) > 1e-9 and (min(lengths) < 1e-9 or float(one @ two) / (lengths[0] * lengths[1]) < SAME_MUSIC):
            kept.append(middle)
    return [*kept, edges[-1]]


def _ended(edges: list[int], vectors: FloatArray, silent: Flags) -> list[int]:
    """Edges without those before a bar that is only the last stroke of the section it follows."""
    kept = edges[:1]
    for first, stop in pairwise(edges[1:]):
        last = stop == len(vectors) or bool(silent[stop])
        late = vectors[first].reshape(-1, PLACES)[:, ENDING:]
        if not (stop - first == 1 and last and not silent[first] and not silent[first - 1] and not np.any(late)):
            kept.append(first)
    return [*kept, edges[-1]]


def _most_like(mean: FloatArray, known: list[tuple[str, FloatArray]]) -> str | None:
    best, best_like = None, ALIKE
    for name, other in known:
        length = float(np.linalg.norm(mean)) * float(np.linalg.norm(other))
        like = float(mean @ other) / max(length, 1e-9)
        if like > best_like:
            best, best_like = name, like
    return best


def _tacet(number: int) -> str:
    return "tacet" if number == 1 else f"tacet {number}"


def _letter(number: int) -> str:
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    return letters[number] if number < 26 else f"{letters[number % 26]}{number // 26 + 1}"


def _boundaries(vectors: FloatArray, silent: Flags, opens: FloatArray) -> list[int]:
    """Bars at which a new section starts: the cheapest cut of the song into runs of bars alike.

    A run pays for how unlike its bars are to their mean (capped: one fill is no new section), for itself, and for a
    length that is no multiple of four bars; a bar that opens with a crash is a cheaper place to start.
    """
    count = len(vectors)
    unit = vectors / np.maximum(np.linalg.norm(vectors, axis=1), 1e-9)[:, None]
    total = np.concatenate([np.zeros((1, unit.shape[1])), np.cumsum(unit, axis=0)])
    best = np.full(count + 1, np.inf)
    best[0] = 0.0
    came = np.zeros(count + 1, np.int64)
    rest = np.array([_long_rest(silent, bar) for bar in range(count)])
    for stop in range(1, count + 1):
        for start in range(stop - 1, max(stop - LONGEST_BARS, 0) - 1, -1):
            if rest[start] != rest[stop - 1]:
                break
            mean = total[stop] - total[start]
            mean = mean / max(float(np.linalg.norm(mean)), 1e-9)
            unlike = np.minimum(1 - unit[start:stop] @ mean, ODD_BAR).sum() if not rest[start] else 0.0
            cost = best[start] + float(unlike) + SECTION_PRICE + _length_price(stop - start) - OPENS * opens[start]
            if cost < best[stop] - 1e-9:
                best[stop], came[stop] = cost, start
    edges, at = [], int(came[count])
    while at > 0:
        edges.append(at)
        at = int(came[at])
    return edges[::-1]


def _length_price(bars: int) -> float:
    """Sections of 8 and 16 bars are usual, of 4 and 12 common, odd ones rare (common practice)."""
    return 0.0 if bars % 8 == 0 else 0.25 if bars % 4 == 0 else 0.6 if bars % 2 == 0 else 0.9


def _long_rest(silent: Flags, bar: int) -> bool:
    """Part of at least two silent bars in a row."""
    return bool(silent[bar] and ((bar > 0 and silent[bar - 1]) or (bar + 1 < len(silent) and silent[bar + 1])))


def landmarks(grid: Grid, hits: Sequence[Hit], vectors: FloatArray) -> tuple[Landmark, ...]:
    """Bars that anyone would recognise: drums stop, drums come in, kick alone, a fill on the toms.

    After the last stroke nothing is left to find one's place for: the silence that ends a song is no landmark.
    """
    sounds: dict[int, list[Sound]] = defaultdict(list)
    for hit in hits:
        if hit.bar is not None and hit.confidence >= SURE:
            sounds[hit.bar].append(hit.sound)
    found = []
    last = max((bar for bar, heard in sounds.items() if heard), default=0)
    for index, bar in enumerate(grid.numbers):
        here = set(sounds[bar])
        before = sounds[grid.numbers[index - 1]] if index else []
        if not here and before and bar < last:
            found.append(Landmark(bar=bar, what="drums stop"))
        elif here and not before and index:
            found.append(Landmark(bar=bar, what="drums come in"))
        elif here == {"kick"} and set(before) != {"kick"}:
            found.append(Landmark(bar=bar, what="kick alone"))
        elif sum(s in TOMS for s in sounds[bar]) >= max(4, len(sounds[bar]) // 2) and not any(
            s in TOMS for s in before
        ):
            found.append(Landmark(bar=bar, what="fill on the toms"))
        elif index and _meter_changes(grid, index):
            found.append(Landmark(bar=bar, what=f"a bar of {grid.meter(bar)}"))
    return tuple(found)


def _meter_changes(grid: Grid, index: int) -> bool:
    return grid.bars[index].meter != grid.bars[index - 1].meter and grid.bars[index - 1].bar > 0
