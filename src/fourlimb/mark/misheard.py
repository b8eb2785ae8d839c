"""What was heard may be another stroke's sound: how sure an added stroke is.

Ears hear a floor tom as a snare, a crash as a hat. A hit that is nothing written, at the moment of a stroke that is,
was struck with odds (Bayes) of

    students add an instrument to a written stroke   (`ADDED`)
    :  ears add it to a stroke of that instrument     (`BESIDE`)

times how sure the hit is by itself. The shares are those that `python -m bench.unheard` prints (human performances of
the Groove set's learning half on the kit that ships, three rooms).
"""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from fourlimb.model import Hit, Sound, Stroke
from fourlimb.model.sounds import INSTRUMENT, TOMS

from .match import OTHER_S, Matched

ADDED: Final = 0.05
"""Share of written strokes to which a student adds another instrument who knows the part roughly (ours; as
`unheard.LEFT_OUT`)."""

BESIDE: Final[dict[tuple[str, str], float]] = {
    ("crash cymbal", "hi-hat"): 0.46,
    ("crash cymbal", "snare drum"): 0.14,
    ("floor tom", "kick drum"): 0.031,
    ("floor tom", "snare drum"): 0.19,
    ("mid tom", "high tom"): 0.53,
    ("mid tom", "snare drum"): 0.065,
    ("high tom", "snare drum"): 0.15,
    ("high tom", "hi-hat"): 0.042,
    ("ride cymbal", "hi-hat"): 0.20,
    ("ride cymbal", "high tom"): 0.045,
    ("ride cymbal", "kick drum"): 0.009,
    ("kick drum", "hi-hat"): 0.049,
    ("kick drum", "high tom"): 0.015,
    ("kick drum", "snare drum"): 0.022,
    ("snare drum", "hi-hat"): 0.034,
}
"""(instrument struck, instrument heard that nobody struck) -> share of the strokes of the first; of the toms that the
kit has and of other ones that it had before the larger, for a student's kit may have either."""

BESIDE_OTHERS: Final = 0.002
"""The same of all other pairs."""


def sure_extra(
    strokes: Sequence[Stroke],
    hits: Sequence[Hit],
    matched: Matched,
    instead: Mapping[int, Sound] | None = None,
    *,
    heard: bool,
) -> dict[int, float]:
    """Index of each hit that is nothing written -> how sure it is that it was struck, 0 to 1.

    `heard`: whether hits come from ears; else they are what was played, each as sure as it says. `instead`: pieces
    struck for written ones (index of the stroke): a hit on one of them at its moment is that stroke and left out.
    """
    if not heard:
        return {j: hits[j].confidence for j, _ in matched.extra}
    instead = instead or {}
    known = [
        (
            pair.due_s,
            INSTRUMENT[instead.get(pair.stroke, strokes[pair.stroke].piece)],
            pair.stroke in instead,
        )
        for pair in matched.pairs
        if pair.due_s is not None
    ]
    due = np.array([at for at, _, _ in known])
    sure = {}
    for j, _ in matched.extra:
        near = np.flatnonzero(np.abs(due - hits[j].time_s) <= OTHER_S)
        name = INSTRUMENT[hits[j].sound]
        if any(known[n][2] and (known[n][1] == name or hits[j].sound in TOMS) for n in near):
            continue
        beside = max((BESIDE.get((known[n][1], name), BESIDE_OTHERS) for n in near), default=0.0)
        sure[j] = round(hits[j].confidence * ADDED / (ADDED + beside), 3)
    return sure
