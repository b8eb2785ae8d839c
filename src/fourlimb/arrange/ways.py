"""Ways of striking stay only where a limb has the time for them.

A buzz and a choke bind the hand that struck; a half-open hat wants its foot on the pedal. What the teacher wrote
stays, and the checker says what is wrong with it.
"""

from typing import Final

import msgspec

from fourlimb.model import Kit, Level, Limb

from .limits import limit_us
from .note import Ledger, Note
from .play import Clock, Part, Played

WHY: Final = {
    "buzz": "buzz: the hand is wanted at once: one plain stroke",
    "choke": "choke: the hand is wanted at once: the cymbal rings",
    "half_open": "half-open hat: its foot is not on the pedal here: a plain stroke",
}


def settle_ways(part: Part, clock: Clock, kit: Kit, levels: tuple[Level, ...], ledger: Ledger) -> Part:
    """The part without ways of striking that nobody has time for; each one taken off gets a reason."""
    if not any(note.struck in WHY for played in part.values() for note, _ in played):
        return part
    starts = {bar: round(clock.grid.at(bar).start_s * 1e6) for bar in part}
    after: dict[Limb, int] = {}
    settled: Part = {}
    for bar in reversed(part):
        row: list[Played] = []
        feet = {n.position for n, limb in part[bar] if limb == kit.hat_foot}
        for note, limb in reversed(part[bar]):
            now = starts[bar] + clock.us(bar, note.position)
            gap = after.get(limb, now + FAR) - now
            after[limb] = now
            if note.struck in WHY and not note.pinned and not _can(note, gap, kit, note.position in feet):
                ledger.note(levels, "dropped", bar, note, WHY[note.struck], "way of striking")
                note = msgspec.structs.replace(note, struck=None)
            row.append((note, limb))
        settled[bar] = tuple(reversed(row))
    return {bar: settled[bar] for bar in part}


FAR: Final = 10**12


def _can(note: Note, gap: int, kit: Kit, foot_busy: bool) -> bool:
    if note.struck == "half_open":
        return kit.hat_foot in kit.limbs and not foot_busy
    return gap >= limit_us("buzz" if note.struck == "buzz" else "choke", "ceiling")
