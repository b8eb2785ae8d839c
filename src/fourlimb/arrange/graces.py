"""Flams, drags and ruffs stay only where the other hand is free to play the grace strokes."""

from bisect import bisect_left, insort
from collections.abc import Sequence
from typing import Final

import msgspec

from fourlimb.model import HANDS, Kit, Level, Limb, Sound

from .layout import travel_table
from .limits import limit_us
from .note import Ledger
from .play import Clock, Part, Played

WHY: Final = "the other hand is not free for it: one plain stroke"


def settle_graces(part: Part, clock: Clock, kit: Kit, levels: tuple[Level, ...], ledger: Ledger) -> Part:
    """The part without graces that nobody could play; each one taken off gets a reason."""
    if not any(note.grace for played in part.values() for note, _ in played):
        return part
    busy = _busy(part, clock)
    starts = _starts(part, clock)
    travel = {pair: round(ms * 1000) for pair, ms in travel_table(kit, "ceiling").items()}
    settled: Part = {}
    for bar, played in part.items():
        row: list[Played] = []
        for note, limb in played:
            if note.grace and not _free(
                starts[bar] + clock.us(bar, note.position), note.piece, note.grace, limb, busy, travel, kit
            ):
                ledger.note(levels, "dropped", bar, note, f"{note.grace}: {WHY}", "grace")
                note = msgspec.structs.replace(note, grace=None)
            row.append((note, limb))
        settled[bar] = tuple(row)
    return settled


def _starts(part: Part, clock: Clock) -> dict[int, int]:
    return {bar: round(clock.grid.at(bar).start_s * 1e6) for bar in part}


def _busy(part: Part, clock: Clock) -> dict[Limb, list[tuple[int, Sound]]]:
    """When each hand strikes what, microseconds from the song's start."""
    starts = _starts(part, clock)
    found: dict[Limb, list[tuple[int, Sound]]] = {limb: [] for limb in HANDS}
    for bar, played in part.items():
        for note, limb in played:
            if limb in found:
                insort(found[limb], (starts[bar] + clock.us(bar, note.position), note.piece))
    return found


def _free(
    now: int,
    piece: Sound,
    grace: str,
    limb: Limb,
    busy: dict[Limb, list[tuple[int, Sound]]],
    travel: dict[tuple[Sound, Sound], int],
    kit: Kit,
) -> bool:
    other = HANDS[1] if limb == HANDS[0] else HANDS[0]
    if other not in kit.limbs:
        return False
    repeat, spread = limit_us("hand_repeat", "ceiling"), limit_us("grace_spread", "ceiling")
    first = now - spread - (0 if grace == "flam" else repeat)
    line: Sequence[tuple[int, Sound]] = busy[other]
    index = bisect_left(line, (now - 500, "kick"))
    if index and first - line[index - 1][0] < max(repeat, travel.get((line[index - 1][1], piece), 0)):
        return False
    if index < len(line):
        at, after = line[index]
        return at - (now - spread) >= max(repeat, travel.get((piece, after), 0))
    return True
