"""How far to trust what was heard, and which bars to check first.

Input: placed hits with the confidence of ears and second pass. Output: hits whose confidence is the share that is
right among hits like them; bars by how many wrong strokes the teacher would find there.

Method: confidence is put through one logistic curve (Platt 2000; `bench.bars` prints the reliability table). Bars
stand in the order of `worth`: what is wrong in them and what the rest of the song would learn from them. Where
nothing is known of what else may have been struck, a bar's wrong strokes are those heard that may be wrong and those
that bars alike have and this one lacks.

What it cannot do: doubt a stroke that everything agrees on and that is wrong.
"""

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

import msgspec
import numpy as np

from fourlimb.model import Doubt, Grid, Hit, Possible, Sound
from fourlimb.model.sounds import ORDER, SAY

from .repeats import Table, by_bar, expected_of, teachers_of
from .worth import worth

LOGIT_SHIFT: Final = 1.36
LOGIT_SCALE: Final = 0.6
"""Fitted after the second pass on six open recordings and six rendered songs, each song as heavy as the root of its
strokes, with the ears before; with those that ship the error is .017 and .026 (fitted again it is no smaller)."""
DOUBTFUL: Final = 0.10
"""Expected share of wrong strokes from which a bar is worth the teacher's minute (ours)."""
LACK: Final = 0.35
"""How likely a stroke that all like bars have, and this one lacks, was played and not heard."""
LACK_FROM: Final = 0.5
WORTH_A_LOOK: Final = 0.5
"""Strokes put right in the whole song from which a bar of the first tenth is worth it, however few its own (ours)."""


def calibrated(hits: Sequence[Hit]) -> tuple[Hit, ...]:
    """The hits with confidence as a probability of being right."""
    changed = []
    for hit in hits:
        share = min(max(hit.confidence, 0.01), 0.999)
        odds = LOGIT_SHIFT + LOGIT_SCALE * float(np.log(share / (1 - share)))
        changed.append(msgspec.structs.replace(hit, confidence=round(float(1 / (1 + np.exp(-odds))), 3)))
    return tuple(changed)


def doubts(grid: Grid, hits: Sequence[Hit], possible: Sequence[Possible] = ()) -> tuple[Doubt, ...]:
    """Bars by how many strokes checking them puts right, most first; bars that are likely right are left out.

    possible : what else may be a stroke; without it a bar counts for itself only.
    """
    bars = by_bar(hits)
    teachers = teachers_of(grid, hits) if any(hit.by == "ears" for hit in hits) else {}
    trust: dict[int, list[float]] = defaultdict(list)
    for beat in grid.beats:
        trust[beat.bar].append(beat.confidence)
    values = dict(worth(grid, hits, possible)) if possible else {}
    first = [bar for bar, value in values.items() if value >= WORTH_A_LOOK][: -(-len(grid.bars) // 10)]
    ranked: list[tuple[float, Doubt]] = []
    whole = {bar.bar for bar in grid.bars[1:-1]}  # the song may start and end inside a bar
    for bar in grid.numbers:
        inside = bars.get(bar, [])
        lacking = _lacking(inside, expected_of(bars, teachers.get(bar, []))) if bar in whole else {}
        wrong = sum(1 - hit.confidence for hit in inside) + LACK * sum(lacking.values())
        share = wrong / max(len(inside) + LACK * len(lacking), 1.0)
        value = values.get(bar, wrong)
        if share >= DOUBTFUL or bar in first:
            why = _why(share, inside, lacking, float(np.mean(trust[bar])) if trust[bar] else 0.0)
            ranked.append((-round(value, 6), Doubt(bar=bar, share=round(min(share, 1.0), 3), why=why)))
    return tuple(doubt for _, doubt in sorted(ranked, key=lambda pair: (pair[0], pair[1].bar)))


def _lacking(inside: list[Hit], expected: Table | None) -> dict[Sound, float]:
    """Sounds that bars alike have where this one is silent, with the surest expectation of each."""
    if expected is None:
        return {}
    heard = {(hit.sound, hit.position or Fraction(0)) for hit in inside}
    lacking: dict[Sound, float] = defaultdict(float)
    for key, share in expected.items():
        if share >= LACK_FROM and key not in heard:
            lacking[key[0]] += share
    return dict(lacking)


def _why(share: float, inside: list[Hit], lacking: dict[Sound, float], beat: float) -> str:
    if beat < 0.4:
        return "the beat itself is unsure here"
    if lacking and max(lacking.values()) > sum(1 - hit.confidence for hit in inside):
        sound = max(lacking, key=lambda s: (lacking[s], -ORDER[s]))
        an = "an" if SAY[sound][0] in "aeiou" else "a"
        return f"bars like this one have {an} {SAY[sound]} that was not heard here"
    weakest = min(inside, key=lambda h: (h.confidence, ORDER[h.sound], h.id), default=None)
    if weakest is None:
        return "bars like this one have strokes that were not heard here"
    return f"about {max(round(share * 100), 1)} % of the strokes may be wrong, first of all the {SAY[weakest.sound]}"
