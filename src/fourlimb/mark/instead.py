"""A tom struck where the snare is written: the curves of one stroke against those of the take's other snares.

In a room ears call a floor tom a snare, or hear both or neither; which is what they call it, their curves are not
those of this take's snares: the snare's is lower and a tom's is higher. How much, in log-odds, is the `contrast`. A
stroke of so much contrast was struck on a tom with odds (Bayes) of

    students strike a tom for the snare : the snare   (`STRUCK_INSTEAD`)
    x  toms with such a contrast : snares with it     (`python -m bench.instead`)

The reference is the take itself, so that neither the kit nor the room need be known. Which of the toms it is, ears
know less well: on another kit than the one that ships they call all of them one.
"""

from collections.abc import Sequence
from math import exp
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from fourlimb.model import Hit, MarkedStroke, Sound, Stroke
from fourlimb.model.sounds import SAY, TOMS

from .match import OTHER_S, Pair
from .unheard import TOLD, Heights, log_odds
from .written import Floats

DRUMS: Final[tuple[Sound, ...]] = ("snare", "tom_high", "tom_mid", "tom_floor")

STRUCK_INSTEAD: Final = 0.02
"""Share of written snares that a student who knows the part roughly strikes on a tom (ours)."""

REFERENCES_LEAST: Final = 8
"""Fewest snares of the take that tell what its snare is like (ours)."""

SOFT: Final = 45
"""Of snares written softer than this nothing is said: under a kick ears hear them as anything (MIDI velocity; as in
`bench.unheard`)."""

MOST: Final = 8.0
"""Most that either curve counts: a snare that is not there at all is no tom yet (ours)."""

LOG_RATIO: Final = (-10.1, 1.35)
"""Log-likelihood ratio of a tom against a snare, first + second x contrast: the fit that `python -m bench.instead`
prints. A tom is told of from a contrast of 11 on; of 996 snares there none has more than 8.6."""


class Instead(NamedTuple):
    """The tom that was struck, and how sure it is that it was, 0 to 1."""

    piece: Sound
    sure: float


def struck_instead(
    strokes: Sequence[Stroke], hits: Sequence[Hit], pairs: Sequence[Pair], heights: Heights | None
) -> dict[int, Instead]:
    """Index of each written snare for which a tom may have been struck; none where hits were not heard."""
    if heights is None:
        return {}
    able = [pair for pair in pairs if pair.due_s is not None and _alone(strokes, pairs, pair)]
    own = [pair.hit is not None and hits[pair.hit].sound == "snare" for pair in able]
    if sum(own) < REFERENCES_LEAST:
        return {}
    curves = np.array([_curves(heights, _moment(hits, pair)) for pair in able])
    found = contrasts(curves, np.array(own))
    return {
        pair.stroke: Instead(DRUMS[1 + tom], _sure(contrast))
        for pair, (contrast, tom) in zip(able, found, strict=True)
    }


def on_tom(marked: MarkedStroke, instead: Instead) -> MarkedStroke:
    """The stroke's mark, given how likely a tom was struck for it.

    What was heard as the snare stays so while a tom is not sure enough to be told of.
    """
    if marked.verdict == "played" and instead.sure < TOLD:
        return marked
    if marked.verdict == "missed":
        return replace(marked, confidence=max(marked.confidence, instead.sure))
    piece = marked.played if marked.played in TOMS else instead.piece
    if marked.verdict == "played":
        return replace(marked, verdict="other_piece", played=piece, dynamic=None, confidence=instead.sure)
    if instead.sure > marked.confidence:
        return replace(marked, played=piece, confidence=instead.sure)
    return marked


def struck(stroke: MarkedStroke) -> str:
    """What was struck for a written piece, as surely as it is known: ears hardly tell toms from one another."""
    played = stroke.played or stroke.piece
    if played not in TOMS or stroke.confidence >= 1.0:
        return f"the {SAY[played]}"
    return "another tom" if stroke.piece in TOMS else "a tom"


def contrasts(curves: Floats, own: npt.NDArray[np.bool_]) -> list[tuple[float, int]]:
    """For each stroke its contrast with the take's snares, and which tom rises most.

    `curves`: log-odds of the heights, shape (n, 4), columns as `DRUMS`; `own`: which strokes were heard as snares.
    """
    change = np.clip(curves - np.median(curves[own], axis=0), -MOST, MOST)
    toms = np.argmax(change[:, 1:], axis=1)
    return [(float(row[1 + tom] - row[0]), int(tom)) for row, tom in zip(change, toms, strict=True)]


def _sure(contrast: float) -> float:
    odds = STRUCK_INSTEAD / (1 - STRUCK_INSTEAD) * exp(LOG_RATIO[0] + LOG_RATIO[1] * contrast)
    return round(odds / (1 + odds), 3)


def _alone(strokes: Sequence[Stroke], pairs: Sequence[Pair], pair: Pair) -> bool:
    """True for a plain written snare with which no tom is written."""
    stroke = strokes[pair.stroke]
    if stroke.piece != "snare" or stroke.ghost or stroke.velocity < SOFT or pair.due_s is None:
        return False
    near = (other for other in pairs[max(pair.stroke - len(DRUMS), 0) : pair.stroke + len(DRUMS) + 1])
    return not any(
        strokes[other.stroke].piece in TOMS and other.due_s is not None and abs(other.due_s - pair.due_s) <= OTHER_S
        for other in near
    )


def _moment(hits: Sequence[Hit], pair: Pair) -> float:
    assert pair.due_s is not None
    return pair.due_s if pair.hit is None else hits[pair.hit].time_s


def _curves(heights: Heights, at_s: float) -> list[float]:
    return [log_odds(heights(drum, at_s)) for drum in DRUMS]
