"""Strokes of a take, also those that the rest of it makes unlikely.

Ears judge every peak by what the rest of the song does at such places: right for a song, where a lone kick is more
often a noise than a kick. In a student's take it is the mistake that is looked for. Kicks whose curve stands as high
as a kick's, with no tom in them, are taken in here although the judge left them out.

In: what was heard. Out: hits as `hits_of` makes them, and these. Only kicks: doubted snares that stand so high are
hardly ever snares.
"""

from dataclasses import replace
from typing import Final

import msgspec

from fourlimb.model import Hit
from fourlimb.model.sounds import TOMS

from .ears import Heard
from .heights import heights
from .song import hits_of

LIKELY: Final = 0.35
"""How likely the judge has it at least (ours)."""

HIGH: Final = ((0.85, 0.8), (0.75, 0.35))
"""Height of the curve from which on a doubted kick is a hit, and how sure (ours, by what `python -m bench.unlike`
prints). Those that are less sure can be a written kick, and are never called an added one."""

NO_TOM: Final = 0.2
"""Height of every tom's curve up to which a kick is no floor tom (ours)."""


def hits_of_take(heard: Heard) -> tuple[Hit, ...]:
    """Strokes of a take as hits without places, in time order."""
    hits = hits_of(heard)
    height = heights(heard)
    if height is None:
        return hits
    more = []
    for kick in hits_of(replace(heard, strokes=heard.possible)):
        toms = max(height(tom, kick.time_s) for tom in sorted(TOMS))
        sure = next((sure for least, sure in HIGH if height("kick", kick.time_s) >= least), None)
        if kick.sound == "kick" and kick.confidence >= LIKELY and sure is not None and toms <= NO_TOM:
            more.append(msgspec.structs.replace(kick, confidence=sure))
    ordered = sorted([*hits, *more], key=lambda hit: hit.time_s)
    return tuple(msgspec.structs.replace(hit, id=n) for n, hit in enumerate(ordered, start=1))
