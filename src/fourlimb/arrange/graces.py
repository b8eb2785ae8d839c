"""Flams, drags and ruffs stay only where the other hand is free to play the grace strokes."""

from bisect import bisect_left, insort
from collections.abc import Sequence
from typing import Final

import msgspec

from fourlimb.model import HANDS, Kit, Level, Limb

from .layout import Spot, travel_table
from .limits import limit_us
from .memory import Book, Memory
from .note import Ledger
from .play import Part, Played
from .timing import Clock

GRACE_GAPS: Final = {"drag": 1, "ruff": 1, "long_ruff": 2}
"""Strokes of the other hand before the last one: a ruff's are shared by both hands."""
WHY: Final = "the other hand is not free for it: one plain stroke"


def settle_graces(part: Part, kit: Kit, levels: tuple[Level, ...], book: Book, memory: Memory) -> Part:
    """The part without graces that nobody could play; each one taken off gets a reason."""
    settled: Part = {}
    numbers = list(part)
    for index, bar in enumerate(numbers):
        settled[bar] = part[bar]
        if memory.recall(("any grace", levels[0], bar), _any_grace, part[bar]):
            near = {b: part[b] for b in numbers[max(index - NEAR_BARS, 0) : index + NEAR_BARS + 1]}
            settled[bar], ledger = memory.recall(
                ("graces", levels[0], bar), _settle_bar, bar, near, memory.clock, kit, levels
            )
            book.add(bar, ledger)
    return settled


NEAR_BARS: Final = 4
"""Bars on each side among which the other hand's strokes are looked for: the shortest bars last 0.13 s (1/4 at 440),
and no hand needs longer than 0.3 s."""


def _any_grace(played: tuple[Played, ...]) -> bool:
    return any(note.grace for note, _ in played)


def _settle_bar(
    bar: int, near: Part, clock: Clock, kit: Kit, levels: tuple[Level, ...]
) -> tuple[tuple[Played, ...], Ledger]:
    busy, ledger = _busy(near, clock), Ledger()
    start = _starts(near, clock)[bar]
    travel = {pair: round(ms * 1000) for pair, ms in travel_table(kit, "ceiling").items()}
    row: list[Played] = []
    for note, limb in near[bar]:
        now = start + clock.us(bar, note.position)
        if note.grace and not _free(now, note.spot, note.grace, limb, busy, travel, kit):
            ledger.note(levels, "dropped", bar, note, f"{note.grace}: {WHY}", "grace")
            note = msgspec.structs.replace(note, grace=None)
        row.append((note, limb))
    return tuple(row), ledger


def _starts(part: Part, clock: Clock) -> dict[int, int]:
    return {bar: round(clock.grid.at(bar).start_s * 1e6) for bar in part}


def _busy(part: Part, clock: Clock) -> dict[Limb, list[tuple[int, Spot]]]:
    """When each hand strikes what, microseconds from the song's start."""
    starts = _starts(part, clock)
    found: dict[Limb, list[tuple[int, Spot]]] = {limb: [] for limb in HANDS}
    for bar, played in part.items():
        for note, limb in played:
            if limb in found:
                insort(found[limb], (starts[bar] + clock.us(bar, note.position), note.spot))
    return found


def _free(
    now: int,
    piece: Spot,
    grace: str,
    limb: Limb,
    busy: dict[Limb, list[tuple[int, Spot]]],
    travel: dict[tuple[Spot, Spot], int],
    kit: Kit,
) -> bool:
    other = HANDS[1] if limb == HANDS[0] else HANDS[0]
    if other not in kit.limbs:
        return False
    repeat, spread = limit_us("hand_repeat", "ceiling"), limit_us("grace_spread", "ceiling")
    first = now - spread - (0 if grace == "flam" else GRACE_GAPS.get(grace, 1) * repeat)
    line: Sequence[tuple[int, Spot]] = busy[other]
    index = bisect_left(line, (now - 500, "kick"))
    if index and first - line[index - 1][0] < max(repeat, travel.get((line[index - 1][1], piece), 0)):
        return False
    if index < len(line):
        at, after = line[index]
        return at - (now - spread) >= max(repeat, travel.get((piece, after), 0))
    return True
