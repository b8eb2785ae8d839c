"""What loudness makes of strokes: ghosts, accents, and how hard each is played."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise
from math import log10
from statistics import median
from typing import Final

import msgspec

from fourlimb.model import Hit, Kit, Sound
from fourlimb.model.sounds import FOOT

from . import fidelity
from .layout import has_second
from .memory import Memory
from .note import Bars, Note, on_one_drum

GHOST_DB: Final = 12.0
"""A snare this far under its usual backbeat is a ghost ("at least two steps": common practice; number ours)."""
ACCENT_DB: Final = 6.0
"""A stroke this far above its sound's usual loudness is an accent (ours)."""
DB_PER_VELOCITY_DECADE: Final = 40.0
"""Loudness = 40 log10(velocity / 127) dB (MIDI Manufacturers Association, General MIDI Level 2)."""
USUAL_VELOCITY: Final = 80
CRASHES_APART: Final = Fraction(1, 8)
"""Crashes closer than this are struck on two, where there are two (ours; slower ones are one hand's time)."""
LEAST_PHRASE: Final = 4
"""Plain strokes on one drum in a bar that make a phrase, whose accents stand out from its quieter quarter (ours)."""


def usual_loudness(hits: Iterable[Hit]) -> dict[Sound, float]:
    """Each sound's usual loudness in this song, whole dB: median, for the snare of its louder half.

    Whole, so that one stroke more or less hardly ever moves it.
    """
    values: dict[Sound, list[float]] = defaultdict(list)
    for hit in hits:
        values[hit.sound].append(hit.loudness_db)
    return {
        sound: float(round(median(sorted(v)[len(v) // 2 :] if sound in ("snare", "rim") else v)))
        for sound, v in values.items()
    }


def ghosts_by_place(bars: Bars, blocks: dict[int, int], memory: Memory) -> Bars:
    """Snares between ghost and stroke follow what most others at their place of the bar are, in each stretch."""
    stretches: dict[int, list[int]] = defaultdict(list)
    for bar in bars:
        stretches[blocks[bar]].append(bar)
    made: Bars = dict(bars)
    for block, numbers in stretches.items():
        rows = memory.recall(("ghosts", block), _alike_ghosts, [bars[bar] for bar in numbers])
        made.update(zip(numbers, rows, strict=True))
    return made


def _alike_ghosts(rows: list[tuple[Note, ...]]) -> list[tuple[Note, ...]]:
    ghosts: Counter[Fraction] = Counter()
    strokes: Counter[Fraction] = Counter()
    for row in rows:
        for note in row:
            if note.piece == "snare":
                strokes[note.position] += 1
                ghosts[note.position] += note.ghost
    made = []
    for row in rows:
        changed = {}
        for index, note in enumerate(row):
            most = 2 * ghosts[note.position] > strokes[note.position]
            even = 2 * ghosts[note.position] == strokes[note.position]
            if note.piece == "snare" and note.ghost != most and not even and not note.pinned and _between(note):
                share = fidelity.GHOST_SHARE if most else 1 / fidelity.GHOST_SHARE
                changed[index] = msgspec.structs.replace(note, ghost=most, weight=note.weight * share)
        made.append(tuple(changed.get(i, n) for i, n in enumerate(row)) if changed else row)
    return made


BORDER_DB: Final = 4.0
"""Snares this near the level of a ghost may be either (ours)."""


def _between(note: Note) -> bool:
    under = -DB_PER_VELOCITY_DECADE * log10(note.velocity / USUAL_VELOCITY)
    return abs(under - GHOST_DB) <= BORDER_DB


def phrased(notes: tuple[Note, ...], kit: Kit) -> tuple[Note, ...]:
    """One bar with the accents of a phrase on one drum, and quick crashes in turn on two."""
    return _phrase_accents(_crashes_in_turn(notes, kit))


def _crashes_in_turn(notes: tuple[Note, ...], kit: Kit) -> tuple[Note, ...]:
    """Where there are two crashes, strokes less than an eighth apart take them in turn."""
    crashes = [n for n in notes if n.piece == "crash" and not n.pinned]
    if len(crashes) < 2 or not has_second(kit, "crash") or any(n.second for n in crashes):
        return notes
    turned: dict[int, Note] = {}
    second = False
    for before, note in pairwise(crashes):
        second = not second if note.position - before.position < CRASHES_APART else False
        if second:
            turned[id(note)] = msgspec.structs.replace(note, second=True)
    return tuple(turned.get(id(n), n) for n in notes)


def _phrase_accents(notes: tuple[Note, ...]) -> tuple[Note, ...]:
    """On one drum alone a stroke is an accent beside its neighbours, whatever is usual in the song."""
    if not on_one_drum(notes):
        return notes
    plain = sorted(n.velocity for n in notes if n.piece not in FOOT and not n.ghost)
    if len(plain) < LEAST_PHRASE:
        return notes
    loud = 10 ** (ACCENT_DB / DB_PER_VELOCITY_DECADE) * plain[len(plain) // 4]
    return tuple(
        msgspec.structs.replace(n, accent=True) if n.piece not in FOOT and n.velocity >= loud else n for n in notes
    )
