"""What each bar sounds like, and which bars are alike.

Input: a `Grid` and placed hits. Output: one vector a bar (groups of sounds x places of the bar), and the likeness
of every bar with every other. The second pass, the form and the doubts all compare bars through this.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from fourlimb.model import Grid, Hit, Sound
from fourlimb.model.places import bar_length
from fourlimb.model.sounds import CYMBALS, HATS, PERCUSSION, TOMS

from .evidence import FloatArray

PLACES: Final = 16
SURE: Final = 0.25
"""Hits below this confidence do not count for the form."""

GROUP: Final[dict[Sound, int]] = {
    **dict.fromkeys(("kick",), 0), **dict.fromkeys(("snare", "rim"), 1), **dict.fromkeys(HATS, 2),
    **dict.fromkeys(("ride", "ride_bell"), 3), **dict.fromkeys(TOMS, 4),
    **dict.fromkeys(CYMBALS - {"ride", "ride_bell"}, 5), **dict.fromkeys(PERCUSSION, 6),
}  # fmt: skip
WEIGHT: Final = np.array([1.0, 1.0, 0.6, 0.8, 0.6, 0.4, 0.6])
"""How much each group says about which section a bar belongs to (ours: a crash marks a line, not a section; a
shaker keeps time as a hat does)."""


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
