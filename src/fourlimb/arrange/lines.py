"""One hand keeps one line: of two time-keepers at once the lesser gives way where the other hand has a drum.

A hat and a cowbell together take both hands; with a backbeat under them a drummer would hop from one to the other.
The line with more strokes stays whole; of the other one what falls on it goes.
"""

from collections import Counter
from typing import Final

from fourlimb.model import LEVELS
from fourlimb.model.sounds import FOOT, INSTRUMENT, ORDER, SAY, TIMEKEEPERS

from .memory import Book, Memory
from .note import Bars, Ledger, Note

LEAST_TOGETHER: Final = 3
"""Strokes of two lines that fall together in a bar with which they run at once (ours; two may be a colour)."""


def one_line(bars: Bars, book: Book, memory: Memory) -> Bars:
    """Every bar with one time-keeping line where there were two and no hand for both."""
    kept: Bars = {}
    for bar, notes in bars.items():
        kept[bar], ledger = memory.recall(("one line", bar), _one_line, bar, notes)
        book.add(bar, ledger)
    return kept


def _one_line(bar: int, notes: tuple[Note, ...]) -> tuple[tuple[Note, ...], Ledger]:
    ledger = Ledger()
    lines = Counter(INSTRUMENT[n.piece] for n in notes if n.piece in TIMEKEEPERS)
    if len(lines) < 2:
        return notes, ledger
    order = {INSTRUMENT[piece]: ORDER[piece] for piece in sorted(TIMEKEEPERS, key=ORDER.__getitem__, reverse=True)}
    main = min(lines, key=lambda name: (-lines[name], order[name]))
    own = {n.position for n in notes if n.piece in TIMEKEEPERS and INSTRUMENT[n.piece] == main}
    drums = {n.position for n in notes if n.piece not in FOOT and n.piece not in TIMEKEEPERS}
    other = [n for n in notes if n.piece in TIMEKEEPERS and INSTRUMENT[n.piece] != main]
    gone = [n for n in other if n.position in own and not n.pinned]
    if len(gone) < LEAST_TOGETHER or not drums & {n.position for n in gone}:
        return notes, ledger
    stays = next(n.piece for n in notes if n.piece in TIMEKEEPERS and INSTRUMENT[n.piece] == main)
    for note in gone:
        why = f"one hand keeps time, on the {SAY[stays]}, the other has the drums: the {SAY[note.piece]} is left out"
        ledger.note(LEVELS, "dropped", bar, note, why, "one line")
    return tuple(n for n in notes if n not in gone), ledger
