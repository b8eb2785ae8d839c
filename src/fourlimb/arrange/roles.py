"""Which roles the drummer fills in each stretch of the song, and which sounds are another player's or a machine's."""

from collections import Counter, defaultdict
from collections.abc import Mapping
from fractions import Fraction
from typing import Final

import msgspec

from fourlimb.model import Grid, Hit, Kit, Listening, Sound
from fourlimb.model.sounds import FOOT

from .memory import Memory
from .substitutions import EXTRA_SOUNDS, SOUND_ROLE, Role

ROLE_PER_BAR: Final = 1.0
"""A role is filled in a section when the drummer plays it at least this often a bar (ours)."""
BUSY_PER_QUARTER: Final = 1.0
"""Hands that strike this often, on anything, keep the pulse: no shaker is handed to them (ours)."""
STACKED_LEAST: Final = 8
STACKED_SHARE: Final = 0.9
"""This many floor toms in a stretch, and this share of them on the kick: a layer of the kick (ours)."""
GROOVE_AROUND: Final = 4
GROOVE_LEAST: Final = 3
"""Toms that come this often in as many bars before and after, and in more than a third of these, are groove: a fill
ends four bars or eight (ours)."""
BLOCK_BARS: Final = 8
"""Where no sections are known, roles are judged over blocks of eight bars (ours)."""
Places = dict[Fraction, list[Hit]]
"""The hits of one bar by place."""


def blocks_of(listening: Listening) -> dict[int, int]:
    """Which stretch of the song a bar belongs to: its section, or its block of eight bars."""
    block = {bar: bar // BLOCK_BARS for bar in listening.grid.numbers}
    for section in listening.sections:
        for bar in range(section.from_bar, section.to_bar + 1):
            if bar in block:
                block[bar] = -1 - section.from_bar
    return block


Toms = frozenset[tuple[Fraction, Sound]]
"""The toms of one bar: where, and which."""


def groove_toms(toms: Mapping[int, Toms]) -> frozenset[int]:
    """Bars whose toms belong to the groove: the same come again and again around them, oftener than a fill would."""
    found = set()
    numbers = list(toms)
    for index, bar in enumerate(numbers):
        around = numbers[max(index - GROOVE_AROUND, 0) : index + GROOVE_AROUND + 1]
        alike = sum(toms[other] == toms[bar] for other in around) if toms[bar] else 0
        if alike >= GROOVE_LEAST and 3 * alike > len(around):
            found.add(bar)
    return frozenset(found)


def is_layer(hit: Hit, kit: Kit) -> bool:
    """True for a sound that is another player's or a machine's; never for what the teacher wrote."""
    if hit.by == "teacher":
        return False
    return hit.layer not in (None, "kit") or (hit.sound in EXTRA_SOUNDS and hit.sound not in kit.pieces)


def find_stacked(places: dict[int, Places], blocks: dict[int, int], memory: Memory) -> dict[int, Places]:
    """Mark floor toms that only ever sound with the kick: in such a stretch they are the kick's own low layer."""
    under: Counter[int] = Counter()
    toms: Counter[int] = Counter()
    for bar, at in places.items():
        all_toms, on_kick = memory.recall(("toms", bar), _floor_toms, at)
        toms[blocks[bar]] += all_toms
        under[blocks[bar]] += on_kick
    stacked = {b for b, count in toms.items() if count >= STACKED_LEAST and under[b] >= STACKED_SHARE * count}
    return {
        bar: memory.recall(("stacked", bar), _with_low_layer, at) if blocks[bar] in stacked else at
        for bar, at in places.items()
    }


def _floor_toms(at: Places) -> tuple[int, int]:
    """Places with a floor tom, and those of them with a kick."""
    sounds = [{h.sound for h in hits if h.by != "teacher"} for hits in at.values()]
    return sum("tom_floor" in s for s in sounds), sum({"tom_floor", "kick"} <= s for s in sounds)


def _with_low_layer(at: Places) -> Places:
    return {
        position: [_as_low_layer(h) for h in hits] if any(h.sound == "kick" for h in hits) else hits
        for position, hits in at.items()
    }


def _as_low_layer(hit: Hit) -> Hit:
    if hit.sound != "tom_floor" or hit.by == "teacher":
        return hit
    return msgspec.structs.replace(hit, layer="stacked kick")


def filled_roles(
    places: dict[int, Places], blocks: dict[int, int], grid: Grid, kit: Kit, memory: Memory
) -> dict[int, frozenset[Role]]:
    """Roles the drummer fills in each stretch of the song. Busy hands keep time, whatever they strike."""
    busy: Counter[int] = Counter()
    quarters: dict[int, float] = defaultdict(float)
    counts: dict[int, Counter[Role]] = {block: Counter() for block in blocks.values()}
    sizes = Counter(blocks.values())
    for bar, at in places.items():
        quarters[blocks[bar]] += float(4 * grid.length(bar))
        hands, roles = memory.recall(("roles", bar), _bar_roles, at, kit)
        busy[blocks[bar]] += hands
        for role, count in roles.items():
            counts[blocks[bar]][role] += count
    for block, filled in counts.items():
        if busy[block] >= BUSY_PER_QUARTER * quarters[block]:
            filled["time"] = sizes[block]
    return {
        block: frozenset(role for role, count in roles.items() if count >= ROLE_PER_BAR * sizes[block])
        for block, roles in counts.items()
    }


def _bar_roles(at: Places, kit: Kit) -> tuple[int, Counter[Role]]:
    """Places that the drummer's hands strike, and places by role."""
    busy = 0
    counts: Counter[Role] = Counter()
    for hits in at.values():
        own = [h for h in hits if not is_layer(h, kit)]
        busy += any(h.sound not in FOOT for h in own)
        counts.update({SOUND_ROLE[h.sound] for h in own if h.sound in SOUND_ROLE})
    return busy, counts
