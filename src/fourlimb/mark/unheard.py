"""What was not heard may have been played: how sure a missed stroke is.

A take that was read from MIDI is known; one that was heard is not: ears miss ghosts, crashes under fills, a foot hat.
A stroke without a hit was played after all with odds (Bayes) of

    students play what is written : they leave it out        (`LEFT_OUT`)
    x  share of such strokes that these ears miss             (`HEARD`, moved by what they found in this take)
    x  how the ears' curve looks there: as under a stroke that they missed, or as where nothing is struck (`TRACE`)

The numbers of the last two are those that `python -m bench.unheard` prints (human performances, three rooms).
"""

from collections.abc import Callable, Sequence
from math import exp, log
from typing import Final

import numpy as np

from fourlimb.model import Hit, Sound, Stroke
from fourlimb.model.sounds import INSTRUMENT

from .match import Pair
from .written import Floats

Heights = Callable[[Sound, float], float]
"""(sound, second of the take) -> how much of this sound, or of another of its instrument, is heard near: 0 to 1."""

TOLD: Final = 0.7
"""How sure a verdict must be to be told in words (ours)."""

LEFT_OUT: Final = 0.05
"""Share of written strokes that a student leaves out who knows the part roughly (ours)."""

GHOST: Final = "ghost"
OWN_KIND: Final[dict[Sound, str]] = {"rim": "cross-stick", "hat_pedal": "foot hat"}
"""Ways to strike an instrument that ears hear less often than the others."""

HEARD: Final[dict[str, float]] = {
    "kick drum": 0.88,
    "snare drum": 0.95,
    GHOST: 0.58,
    "cross-stick": 0.91,
    "hi-hat": 0.92,
    "foot hat": 0.76,
    "ride cymbal": 0.20,
    "high tom": 0.81,
    "mid tom": 0.23,
    "floor tom": 0.79,
    "crash cymbal": 0.32,
}
"""Share of strokes that are heard, by kind: low where the kit that ships is unlike recorded ones (mid tom, ride),
which keeps words back and does no harm; what a take has more of, it is trusted with more (`WEIGHT`)."""

HEARD_OTHERS: Final = 0.2
"""The same of instruments that are not in the table (ours)."""

WEIGHT: Final = 6.0
"""The table counts as so many strokes of this take (ours)."""

TRACE: Final[dict[str, tuple[float, float]]] = {
    "kick drum": (2.35, 0.87),
    "snare drum": (3.46, 1.69),
    GHOST: (2.23, 0.96),
    "cross-stick": (1.60, 0.95),
    "hi-hat": (1.20, 0.64),
    "foot hat": (1.20, 0.64),
}
TRACE_OTHERS: Final = (4.07, 1.08)
"""Log-likelihood ratio of a missed stroke against nothing struck: first + second x log-odds of the height."""

LOWEST: Final = 1e-3
"""Heights below are alike."""

MISNAMED: Final[dict[Sound, float]] = {"hat_pedal": 0.9, "ride_bell": 0.6, "hat_open": 0.15, "rim": 0.3}
MISNAMED_OTHERS: Final = 0.05
"""Share of heard strokes that ears give another name of the same instrument: a ride for its bell."""


def sure_of(
    strokes: Sequence[Stroke], hits: Sequence[Hit], pairs: Sequence[Pair], heights: Heights | None
) -> dict[int, float]:
    """Stroke index -> how sure it is that it was not played as written, 0 to 1, for all that were not.

    `heights` None: the hits are what was played, nothing is unsure.
    """
    wrong = [pair for pair in pairs if pair.hit is None or hits[pair.hit].sound != strokes[pair.stroke].piece]
    if heights is None:
        return {pair.stroke: 1.0 for pair in wrong}
    found = _found(strokes, hits, pairs)
    sure: dict[int, float] = {}
    for pair in wrong:
        stroke = strokes[pair.stroke]
        if _same_thing(stroke, hits, pair):
            off = MISNAMED.get(stroke.piece, MISNAMED_OTHERS)
            sure[pair.stroke] = round(LEFT_OUT / (LEFT_OUT + off), 3)
        elif pair.due_s is None:
            sure[pair.stroke] = 1.0
        else:
            height = heights(stroke.piece, pair.due_s)
            kind = kind_of(stroke)
            sure[pair.stroke] = round(1.0 - _played_after_all(found[kind], height, *TRACE.get(kind, TRACE_OTHERS)), 3)
    return sure


def shares_heard(strokes: Sequence[Stroke]) -> Floats:
    """For each stroke the share of its kind that ears hear, shape (n,): what they miss tells less of the place."""
    return np.array([HEARD.get(kind_of(stroke), HEARD_OTHERS) for stroke in strokes])


def kind_of(stroke: Stroke) -> str:
    """What a stroke counts as for the ears: its instrument, a ghost, or a way to strike it."""
    return GHOST if stroke.ghost else OWN_KIND.get(stroke.piece, INSTRUMENT[stroke.piece])


def _same_thing(stroke: Stroke, hits: Sequence[Hit], pair: Pair) -> bool:
    return pair.hit is not None and INSTRUMENT[hits[pair.hit].sound] == INSTRUMENT[stroke.piece]


def _found(strokes: Sequence[Stroke], hits: Sequence[Hit], pairs: Sequence[Pair]) -> dict[str, float]:
    """Share of played strokes that are heard, by kind: the table, moved by this take."""
    written: dict[str, int] = {}
    heard: dict[str, int] = {}
    for pair in pairs:
        kind = kind_of(strokes[pair.stroke])
        if pair.due_s is not None:
            written[kind] = written.get(kind, 0) + 1
            heard[kind] = heard.get(kind, 0) + _same_thing(strokes[pair.stroke], hits, pair)
    return {
        kind: (WEIGHT * HEARD.get(kind, HEARD_OTHERS) + heard.get(kind, 0)) / (WEIGHT + written.get(kind, 0))
        for kind in {kind_of(strokes[pair.stroke]) for pair in pairs}
    }


def _played_after_all(share_heard: float, height: float, even: float, slope: float) -> float:
    ratio = exp(even + slope * log_odds(height))
    odds = (1 - LEFT_OUT) / LEFT_OUT * (1 - share_heard) * ratio
    return odds / (1 + odds)


def log_odds(height: float) -> float:
    """Log-odds of a height of a curve, within about 6.9 either way."""
    bounded = min(max(height, LOWEST), 1 - LOWEST)
    return log(bounded / (1 - bounded))
