"""Ways of striking stay only where a limb has the time for them.

A buzz and a choke bind the hand that struck; a half-open hat wants its foot on the pedal. What the teacher wrote
stays, and the checker says what is wrong with it.
"""

from typing import Final

import msgspec

from fourlimb.model import Kit, Level, Limb

from .limits import limit_us
from .memory import Book, Memory
from .note import Ledger, Note
from .play import Part, Played
from .timing import Clock

WHY: Final = {
    "buzz": "buzz: the hand is wanted at once: one plain stroke",
    "choke": "choke: the hand is wanted at once: the cymbal rings",
    "half_open": "half-open hat: its foot is not on the pedal here: a plain stroke",
}


def settle_ways(part: Part, kit: Kit, levels: tuple[Level, ...], book: Book, memory: Memory) -> Part:
    """The part without ways of striking that nobody has time for; each one taken off gets a reason."""
    settled: Part = {}
    numbers = list(part)
    for index, bar in enumerate(numbers):
        settled[bar] = part[bar]
        if memory.recall(("any way", levels[0], bar), _any_way, part[bar]):
            near = {b: part[b] for b in numbers[index : index + AHEAD_BARS]}
            settled[bar], ledger = memory.recall(
                ("ways", levels[0], bar), _settle_bar, bar, near, memory.clock, kit, levels
            )
            book.add(bar, ledger)
    return settled


AHEAD_BARS: Final = 4
"""Bars among which a hand's next stroke is looked for: the shortest last 0.13 s (1/4 at 440)."""


def _any_way(played: tuple[Played, ...]) -> bool:
    return any(note.struck in WHY for note, _ in played)


def _settle_bar(
    bar: int, near: Part, clock: Clock, kit: Kit, levels: tuple[Level, ...]
) -> tuple[tuple[Played, ...], Ledger]:
    after: dict[Limb, int] = {}
    ledger = Ledger()
    row: list[Played] = []
    feet = {n.position for n, limb in near[bar] if limb == kit.hat_foot}
    for number in reversed(near):
        start = round(clock.grid.at(number).start_s * 1e6)
        for note, limb in reversed(near[number]):
            now = start + clock.us(number, note.position)
            gap = after.get(limb, now + FAR) - now
            after[limb] = now
            if number != bar:
                continue
            if note.struck in WHY and not note.pinned and not _can(note, gap, kit, note.position in feet):
                ledger.note(levels, "dropped", bar, note, WHY[note.struck], "way of striking")
                note = msgspec.structs.replace(note, struck=None)
            row.append((note, limb))
    return tuple(reversed(row)), ledger


FAR: Final = 10**12


def _can(note: Note, gap: int, kit: Kit, foot_busy: bool) -> bool:
    if note.struck == "half_open":
        return kit.hat_foot in kit.limbs and not foot_busy
    return gap >= limit_us("buzz" if note.struck == "buzz" else "choke", "ceiling")
