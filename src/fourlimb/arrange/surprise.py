"""How often drummers play where: what is rare is surprising, and harder to learn.

Counted in the 18,686 bars of 4/4 beats of the Groove MIDI Dataset (Gillick et al., ICML 2019, CC BY 4.0): the share
of beats that hold a stroke of velocity 36 or more at each place, apart for beats 1 3 and for beats 2 4; places of
sixteenths from the bars that divide in two, those of triplets from the others. Published work finds that how
improbable a pattern is to listeners predicts how complex they find it (surprisal model of 40 drum patterns, 2023).

One stroke's surprise is what its place costs in bits above the usual (`USUAL_BITS`); silence surprises nobody here,
so a bar with fewer strokes is never more surprising. What it cannot do: know the style; a bossa's kick is as rare to
it as a mistake.
"""

from collections.abc import Mapping
from fractions import Fraction
from math import log2
from typing import Final

from fourlimb.model.places import beat_lengths, beat_of

USUAL_BITS: Final = 2.0
"""Places played at least every fourth time surprise nobody (ours)."""
RARE: Final = 0.02
"""Share taken for places that the table does not have."""
_QUARTER, _HALF, _LATE = Fraction(1, 4), Fraction(1, 2), Fraction(3, 4)
_THIRD, _TWO_THIRDS = Fraction(1, 3), Fraction(2, 3)

PLAYED: Final[Mapping[str, tuple[Mapping[Fraction, float], Mapping[Fraction, float]]]] = {
    "kick": (
        {Fraction(0): 0.449, _QUARTER: 0.030, _HALF: 0.145, _LATE: 0.113, _THIRD: 0.024, _TWO_THIRDS: 0.104},
        {Fraction(0): 0.212, _QUARTER: 0.048, _HALF: 0.131, _LATE: 0.044, _THIRD: 0.038, _TWO_THIRDS: 0.052},
    ),
    "snare": (
        {Fraction(0): 0.136, _QUARTER: 0.132, _HALF: 0.161, _LATE: 0.136, _THIRD: 0.118, _TWO_THIRDS: 0.137},
        {Fraction(0): 0.440, _QUARTER: 0.122, _HALF: 0.185, _LATE: 0.161, _THIRD: 0.110, _TWO_THIRDS: 0.133},
    ),
}
"""Kick, snare -> (beats 1 3, beats 2 4) -> place in the beat -> share of beats that have it."""


def surprise(meter: str, position: Fraction, drum: str) -> float:
    """Bits above the usual of one kick or snare stroke; 0 for other drums."""
    table = PLAYED.get(drum)
    if table is None:
        return 0.0
    beat, inside = beat_of(meter, position)
    if beat_lengths(meter)[beat].numerator == 3 and inside.denominator == 3:
        inside = _HALF  # the eighths of a compound beat are what halves are in a simple one
    share = table[beat % 2].get(inside, RARE)
    return max(-log2(share) - USUAL_BITS, 0.0)
