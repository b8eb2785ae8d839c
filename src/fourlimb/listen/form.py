"""Sections, landmarks and doubts, from placed hits.

Input: a `Grid` and hits that have places. Output: sections on bar lines named by likeness, bars anyone recognises
by ear, and the bars most worth checking.

Method: each bar becomes a vector of what sounds where (pieces x 16 places of the bar). Boundaries stand where
drums stop or start and where the bars before and after are unlike (novelty along the diagonal of the
self-similarity matrix, Foote 2000, over four bars); sections whose bars are alike share a letter.

What it cannot do: hear that the singer starts. It knows drums only.
"""

from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from fourlimb.model import Doubt, Grid, Hit, Landmark, Section, Sound
from fourlimb.model.places import bar_length
from fourlimb.model.sounds import CYMBALS, HATS, ORDER, PERCUSSION, TOMS

from .evidence import FloatArray

PLACES: Final = 16
COMPARED_BARS: Final = 4
BOUNDARY: Final = 0.30
"""Unlikeness (0 to 1) from which a bar line is a section boundary (ours)."""
ALIKE: Final = 0.72
"""Likeness from which two sections share a letter (ours)."""
SHORTEST_BARS: Final = 2
DOUBTFUL: Final = 0.12
"""Expected share of wrong strokes from which a bar is worth the teacher's minute (ours)."""
SURE: Final = 0.25
"""Hits below this confidence do not count for the form."""

GROUP: Final[dict[Sound, int]] = {
    **dict.fromkeys(("kick",), 0), **dict.fromkeys(("snare", "rim"), 1), **dict.fromkeys(HATS, 2),
    **dict.fromkeys(("ride", "ride_bell"), 3), **dict.fromkeys(TOMS, 4),
    **dict.fromkeys(CYMBALS - {"ride", "ride_bell"}, 5), **dict.fromkeys(PERCUSSION, 6),
}  # fmt: skip
WEIGHT: Final = np.array([1.0, 1.0, 0.6, 0.8, 0.6, 0.4, 0.4])
"""How much each group says about which section a bar belongs to (ours: a crash marks a line, not a section)."""


def form(grid: Grid, hits: Sequence[Hit]) -> tuple[tuple[Section, ...], tuple[Landmark, ...], tuple[Doubt, ...]]:
    """Sections that cover every bar, landmarks and doubts in the order they should be looked at."""
    if not grid.bars:
        return (), (), ()
    vectors = bar_vectors(grid, hits)
    found = sections(grid, vectors)
    return found, landmarks(grid, hits, vectors), doubts(grid, hits)


def bar_vectors(grid: Grid, hits: Sequence[Hit]) -> FloatArray:
    """What sounds where; shape (bars, groups * PLACES), weighted, 0 for a silent bar."""
    rows = {bar: i for i, bar in enumerate(grid.numbers)}
    table = np.zeros((len(rows), len(WEIGHT), PLACES))
    for hit in hits:
        if hit.bar is None or hit.position is None or hit.bar not in rows or hit.confidence < SURE:
            continue
        place = int(hit.position / bar_length(grid.meter(hit.bar)) * PLACES) % PLACES
        group = GROUP[hit.sound]
        table[rows[hit.bar], group, place] = max(table[rows[hit.bar], group, place], hit.confidence)
    flat: FloatArray = (table * WEIGHT[None, :, None]).reshape(len(rows), -1)
    return flat


def likeness(vectors: FloatArray) -> FloatArray:
    """Cosine likeness of every bar with every other; two silent bars are alike, silence and sound are not."""
    length = np.linalg.norm(vectors, axis=1)
    unit = vectors / np.maximum(length, 1e-9)[:, None]
    alike: FloatArray = unit @ unit.T
    silent = length < 1e-9
    alike[np.ix_(silent, silent)] = 1.0
    return alike


def sections(grid: Grid, vectors: FloatArray) -> tuple[Section, ...]:
    """Sections named A, B ...; one whose music came before is named after it ("A'") and says so in `like`."""
    silent = np.linalg.norm(vectors, axis=1) < 1e-9
    edges = [0, *_boundaries(vectors, silent), len(vectors)]
    means: list[tuple[str, FloatArray]] = []
    repeats: dict[str, int] = defaultdict(int)
    found: list[Section] = []
    for first, stop in pairwise(edges):
        numbers = grid.numbers[first], grid.numbers[stop - 1]
        if silent[first:stop].all():
            repeats["tacet"] += 1
            found.append(
                Section(
                    name="tacet" + "'" * (repeats["tacet"] - 1), from_bar=numbers[0], to_bar=numbers[1], tacet=True
                )
            )
            continue
        mean = vectors[first:stop].mean(axis=0)
        like = _most_like(mean, means)
        name = like if like is not None else _letter(len(means))
        if like is None:
            means.append((name, mean))
        else:
            repeats[like] += 1
            name = like + "'" * repeats[like]
        found.append(Section(name=name, from_bar=numbers[0], to_bar=numbers[1], like=like))
    return tuple(found)


def _most_like(mean: FloatArray, known: list[tuple[str, FloatArray]]) -> str | None:
    best, best_like = None, ALIKE
    for name, other in known:
        length = float(np.linalg.norm(mean)) * float(np.linalg.norm(other))
        like = float(mean @ other) / max(length, 1e-9)
        if like > best_like:
            best, best_like = name, like
    return best


def _letter(number: int) -> str:
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    return letters[number] if number < 26 else f"{letters[number % 26]}{number // 26 + 1}"


def _boundaries(vectors: FloatArray, silent: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[int]:
    """Bars at which a new section starts."""
    count = len(vectors)
    novelty = np.zeros(count)
    for bar in range(1, count):
        before, after = vectors[max(bar - COMPARED_BARS, 0) : bar].mean(0), vectors[bar : bar + COMPARED_BARS].mean(0)
        length = np.linalg.norm(before) * np.linalg.norm(after)
        novelty[bar] = 1 - float(before @ after) / length if length > 1e-9 else 0.0
    edges = {bar for bar in range(1, count) if _long_rest(silent, bar) != _long_rest(silent, bar - 1)}
    order: list[int] = np.argsort(-novelty, kind="stable").tolist()
    for bar in order:
        if novelty[bar] < BOUNDARY:
            break
        if all(abs(bar - edge) >= SHORTEST_BARS for edge in (*edges, 0, count)):
            edges.add(bar)
    return sorted(edges)


def _long_rest(silent: np.ndarray[tuple[int], np.dtype[np.bool_]], bar: int) -> bool:
    """Part of at least two silent bars in a row."""
    return bool(silent[bar] and ((bar > 0 and silent[bar - 1]) or (bar + 1 < len(silent) and silent[bar + 1])))


def landmarks(grid: Grid, hits: Sequence[Hit], vectors: FloatArray) -> tuple[Landmark, ...]:
    """Bars that anyone would recognise: drums stop, drums come in, kick alone, a fill on the toms."""
    sounds: dict[int, list[Sound]] = defaultdict(list)
    for hit in hits:
        if hit.bar is not None and hit.confidence >= SURE:
            sounds[hit.bar].append(hit.sound)
    found = []
    for index, bar in enumerate(grid.numbers):
        here = set(sounds[bar])
        before = sounds[grid.numbers[index - 1]] if index else []
        if not here and before:
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


def doubts(grid: Grid, hits: Sequence[Hit]) -> tuple[Doubt, ...]:
    """Bars by expected number of wrong strokes, most first; bars that are likely right are left out."""
    ranked = []
    strokes: dict[int, list[Hit]] = defaultdict(list)
    for hit in hits:
        if hit.bar is not None:
            strokes[hit.bar].append(hit)
    trust = {bar.bar: [b.confidence for b in grid.beats if b.bar == bar.bar] for bar in grid.bars} if strokes else {}
    for bar, inside in strokes.items():
        wrong = sum(1 - hit.confidence for hit in inside)
        share = wrong / len(inside)
        if share >= DOUBTFUL:
            weakest = min(inside, key=lambda h: (h.confidence, ORDER[h.sound], h.id))
            beat = float(np.mean(trust[bar])) if trust.get(bar) else 0.0
            ranked.append((-wrong, Doubt(bar=bar, share=round(share, 3), why=_why(share, weakest, beat))))
    return tuple(doubt for _, doubt in sorted(ranked, key=lambda pair: (pair[0], pair[1].bar)))


def _why(share: float, weakest: Hit, beat: float) -> str:
    from fourlimb.model.sounds import SAY

    if beat < 0.4:
        return "the beat itself is unsure here"
    return f"about {max(round(share * 100), 1)} % of the strokes may be wrong, first of all the {SAY[weakest.sound]}"
