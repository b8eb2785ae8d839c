"""How loud strokes are against what is written, on the take's own scale.

A microphone, a kit and a player each have their own loudness, so the scale is the take's: for each instrument the
median of its ordinary strokes is what "as written" sounds like; a ghost should lie well under it and an accent a
little over.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from fourlimb.model import Hit, Stroke
from fourlimb.model.sounds import INSTRUMENT

from .match import Pair

GHOST_DB: Final = -12.0
"""A ghost against an ordinary stroke (at least two dynamic steps under the backbeat: common practice; 6 dB a
step)."""

ACCENT_DB: Final = 4.0
"""An accent against an ordinary stroke (ours)."""

DB_A_UNIT: Final = 20.0
"""`dynamic` is decibels over this, so that 0.1 is 2 dB."""


def dynamics(strokes: Sequence[Stroke], hits: Sequence[Hit], pairs: Sequence[Pair]) -> dict[int, float]:
    """Stroke index -> how much louder than written, -1 to 1; only of strokes played on their own instrument."""
    own = {
        pair.stroke: hits[pair.hit].loudness_db
        for pair in pairs
        if pair.hit is not None and INSTRUMENT[strokes[pair.stroke].piece] == INSTRUMENT[hits[pair.hit].sound]
    }
    levels: dict[str, list[float]] = {}
    plain: dict[str, list[float]] = {}
    for index, loud in own.items():
        name = INSTRUMENT[strokes[index].piece]
        levels.setdefault(name, []).append(loud - expected_db(strokes[index]))
        if expected_db(strokes[index]) == 0.0:
            plain.setdefault(name, []).append(loud)
    middle = {name: float(np.median(plain.get(name) or heard)) for name, heard in levels.items()}
    return {
        index: round(_share(loud - middle[INSTRUMENT[strokes[index].piece]] - expected_db(strokes[index])), 3)
        for index, loud in own.items()
    }


def expected_db(stroke: Stroke) -> float:
    """What is written, against an ordinary stroke of the same piece."""
    if stroke.ghost:
        return GHOST_DB
    return ACCENT_DB if stroke.accent else 0.0


def _share(db: float) -> float:
    return min(max(db / DB_A_UNIT, -1.0), 1.0)
