"""A performance as it is: every hit gets a limb, nothing is left out, playable or not.

For judging human performances and other people's parts with the checker: the search looks for limbs that break no
limit, over the whole song at once; where none exist, limits are broken as rarely as can be, and the checker says
where.
"""

from collections import defaultdict
from collections.abc import Iterable

import msgspec

from fourlimb.model import Chart, ChartBar, Grid, Hit, Kit, Limb, Stroke
from fourlimb.model.kit import LETTERS
from fourlimb.model.sounds import FOOT, ORDER

from .fidelity import PINNED
from .limbs import solve
from .note import Note
from .pair import REST, Pair, Place


def perform(hits: Iterable[Hit], grid: Grid, kit: Kit) -> Chart:
    """All placed hits as a chart with limbs. Hits without a place are not in it; grades and counts are left empty."""
    placed = sorted(
        (h for h in hits if h.bar is not None and h.position is not None and grid.has(h.bar)),
        key=lambda h: (h.bar or 0, h.position or 0, ORDER[h.sound], h.id),
    )
    limbs: dict[int, Limb] = {}
    for feet in (False, True):
        limbs |= _limbs([(i, h) for i, h in enumerate(placed) if (h.sound in FOOT) == feet], grid, kit, feet)
    strokes = tuple(_stroke(hit, limbs[index]) for index, hit in enumerate(placed))
    bars = tuple(ChartBar(bar=bar, figure="", difficulty=0.0, count="") for bar in grid.numbers)
    return Chart(strokes=strokes, bars=bars, grade=0.0)


def _limbs(line: list[tuple[int, Hit]], grid: Grid, kit: Kit, feet: bool) -> dict[int, Limb]:
    pair = Pair(
        kit, (kit.kick_foot, kit.hat_foot) if feet else (kit.lead_hand, kit.other_hand), "ceiling", "advanced"
    )
    groups: dict[int, list[tuple[int, Note]]] = defaultdict(list)
    for index, hit in line:
        assert hit.bar is not None
        assert hit.position is not None
        now = round(1e6 * grid.time_at(hit.bar, hit.position, swung=True))
        note = Note(position=hit.position, piece=hit.sound, heard=hit.sound, weight=PINNED, pinned=True)
        groups[now].append((index, note))
    places = [Place(now, tuple(groups[now]), False, False, True) for now in sorted(groups)]
    return solve(places, REST, pair)[0]


def _stroke(hit: Hit, limb: Limb) -> Stroke:
    assert hit.bar is not None
    assert hit.position is not None
    return msgspec.structs.replace(
        Stroke(bar=hit.bar, position=hit.position, piece=hit.sound, limb=limb, hits=(hit.id,), by="teacher"),
        letter=LETTERS.get(limb),
        grace=hit.grace,
    )
