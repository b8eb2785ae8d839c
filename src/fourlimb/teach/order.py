"""In which order a lesson introduces figures, and which known figure each is told from.

`"least new first"` (ours, after teachers' "most common bar first, then the bar that differs least"): the figure with
the most bars first, then always the one nearest to anything known (Prim's minimum spanning tree, 1957), ties to the
more common, then the earlier one; what the song plays once comes after what it plays again and again. `"song"`: as
the song brings them. Silent figures come last, or at their place in the song, and nothing is told from them.

Nearness is counted on bit masks, one bit for a place and family of pieces, one for the exact stroke: a hat part
that goes to the ride is near, though every stroke differs. About n*n/2 steps of some 100 ns for n different
figures.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Final, Literal, NamedTuple

from fourlimb.model import Figure, Sound
from fourlimb.model.sounds import CYMBALS, HATS, PERCUSSION, TOMS

from .content import Content, Mark
from .figures import is_silent

Order = Literal["song", "least new first"]

PLACE_WEIGHT: Final = 4
"""A place won or lost weighs this many times what another piece or mark at the same place does (ours)."""

CANDIDATES: Final = 6
"""How many of the nearest known figures are tried in words, to find the shortest way to tell a new one (ours)."""


class Bits(NamedTuple):
    """A bar as two sets of bits: places by family of pieces, and exact strokes. `counted`: `Content.counted`."""

    counted: tuple[str, int]
    places: int
    strokes: int


class Step(NamedTuple):
    """A figure to introduce and the known figures nearest to it, nearest first."""

    figure: Figure
    near: tuple[Figure, ...]


def order_figures(
    figures: Sequence[Figure], content: Mapping[str, Content], order: Order = "least new first"
) -> list[Step]:
    """Figures in teaching order, each with the known figures it may be told from (none: it is new)."""
    bits = bits_of(figures, content)
    if order == "song":
        sequence = list(figures)
    else:
        sounding = [figure for figure in figures if not is_silent(figure.name)]
        sequence = _least_new_first(sounding, bits) + [figure for figure in figures if is_silent(figure.name)]
    steps: list[Step] = []
    known: dict[tuple[str, int], list[Figure]] = {}
    for figure in sequence:
        here = bits[figure.name]
        if is_silent(figure.name):
            steps.append(Step(figure, ()))
            continue
        peers = known.setdefault(here.counted, [])
        near = sorted(peers, key=lambda other: (distance(here, bits[other.name]), -len(other.bars), other.first))
        steps.append(Step(figure, tuple(near[:CANDIDATES])))
        peers.append(figure)
    return steps


def distance(a: Bits, b: Bits) -> int:
    """How far two bars of one meter are apart; 0 only when they are the same."""
    return PLACE_WEIGHT * (a.places ^ b.places).bit_count() + (a.strokes ^ b.strokes).bit_count()


def _least_new_first(figures: Sequence[Figure], bits: Mapping[str, Bits]) -> list[Figure]:
    """Prim's algorithm, once for each meter as its first figure comes up; bars met once wait for the others."""
    left = sorted(figures, key=lambda figure: (-len(figure.bars), figure.first))
    nearest: dict[str, int] = {}
    sequence: list[Figure] = []
    while left:
        chosen = min(left, key=lambda f: (len(f.bars) == 1, nearest.get(f.name, _UNREACHED), -len(f.bars), f.first))
        left.remove(chosen)
        sequence.append(chosen)
        here = bits[chosen.name]
        for other in left:
            there = bits[other.name]
            if there.counted == here.counted:
                nearest[other.name] = min(nearest.get(other.name, _UNREACHED), distance(here, there))
    return sequence


_UNREACHED = 1 << 30


def bits_of(figures: Sequence[Figure], content: Mapping[str, Content]) -> dict[str, Bits]:
    """Every figure as bits; masks of one call can be compared with each other only."""
    places: dict[tuple[Fraction, int], int] = {}
    strokes: dict[tuple[Fraction, Sound, Mark], int] = {}
    found = {}
    for figure in figures:
        bar = content[figure.name]
        place_mask = stroke_mask = 0
        for position, piece, mark in bar.notes:
            place_mask |= 1 << places.setdefault((position, family(piece)), len(places))
            stroke_mask |= 1 << strokes.setdefault((position, piece, mark), len(strokes))
        found[figure.name] = Bits(bar.counted, place_mask, stroke_mask)
    return found


def family(piece: Sound) -> int:
    """Pieces of one family stand in for each other in a groove: the cymbal hand, the snare hand, toms, each foot."""
    families = (CYMBALS | HATS - {"hat_pedal"} | PERCUSSION - {"clap"}, {"snare", "rim", "clap"}, TOMS, {"kick"})
    return next((number for number, pieces in enumerate(families) if piece in pieces), len(families))
