"""Bars that the teacher has put right teach the rest of the song.

In: what was heard first, the hits as they are now, what else may have been a stroke, and where the teacher has
spoken. Out: the hits with every other bar judged again, and what has changed.

Method: where the teacher has spoken, everything heard and everything possible is known to be a stroke or not;
`chances` says how likely the rest then is. What grew likelier and is now likelier than not is written; what grew less
likely and is now likelier not, is taken out; all else stays. Strokes of the teacher's that left no trace are looked
for in like bars (`silences`). What the teacher has written or put right never changes.
Told the same twice, or again after more bars, it starts from what was heard first, so order does not matter.

Measured with truth as the teacher: `python -m bench.bars --only taught`.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

import msgspec
import numpy as np

from fourlimb.model import Grid, Hit, Possible, Sound
from fourlimb.model.sounds import ORDER

from .chances import GROUP, Chances, Flags, Moments, chances, judged
from .evidence import FloatArray
from .odds import probability
from .places import place_hits
from .silences import unheard

NEAR_S: Final = 0.05
"""What the teacher wrote and what was heard are one stroke when they are this near (the ears' own window)."""
WRITTEN_FROM, OUT_BELOW = 0.5, 0.5
"""Likelihoods from which a stroke is written and below which it is taken out (.6 and .4 are no better)."""


class Spoken(NamedTuple):
    """Between two seconds these sounds are struck exactly as the hits now say; the teacher said so."""

    start_s: float
    end_s: float
    sounds: frozenset[Sound]


class Learnt(NamedTuple):
    """The hits after learning, in time order, and which of them were added and which taken out."""

    hits: tuple[Hit, ...]
    added: tuple[Hit, ...]
    gone: tuple[Hit, ...]


def learn(
    grid: Grid, first: Sequence[Hit], hits: Sequence[Hit], possible: Sequence[Possible], spoken: Sequence[Spoken]
) -> Learnt:
    """The song judged again by what the teacher said.

    first : all hits before the teacher's word. possible : all that may have been strokes then. Ids of new hits follow
    the highest. Without anything known, or anything possible, nothing changes.
    """
    if not grid.bars or not first:
        return Learnt(tuple(hits), (), ())
    rows = chances(grid, first, possible)
    known, true, traceless = _known(rows, first, hits, spoken)
    odds = judged(rows, known, true)
    silent = unheard(grid, rows, traceless, lambda time_s, sound: _said(time_s, sound, spoken))
    return _decided(grid, rows, first, hits, odds, known, silent)


def still_possible(possible: Sequence[Possible], spoken: Sequence[Spoken]) -> tuple[Possible, ...]:
    """What may be a stroke where the teacher has not spoken."""
    return tuple(one for one in possible if not _said(one.time_s, one.sound, spoken))


def _said(time_s: float, sound: Sound, spoken: Sequence[Spoken]) -> bool:
    return any(s.start_s <= time_s < s.end_s and sound in s.sounds for s in spoken)


def _known(
    rows: Chances, first: Sequence[Hit], hits: Sequence[Hit], spoken: Sequence[Spoken]
) -> tuple[Flags, Flags, list[Hit]]:
    """Which rows the teacher has spoken about, which of them are strokes, and the teacher's strokes of no row."""
    known = np.zeros(len(rows.odds), np.bool_)
    for said in spoken:
        inside = (rows.time_s >= said.start_s) & (rows.time_s < said.end_s)
        known |= inside & np.array([sound in said.sounds for sound in rows.sound], np.bool_)
    now = {hit.id: hit for hit in hits}
    for row, index in enumerate(rows.hit):
        changed = now.get(first[index].id) if index >= 0 else None
        known[row] |= changed is not None and changed.by == "teacher"
    told = [h for h in hits if h.sound in GROUP and (h.by == "teacher" or _said(h.time_s, h.sound, spoken))]
    return matched(rows, known, told)


def matched(rows: Chances, known: Flags, written: Sequence[Hit]) -> tuple[Flags, Flags, list[Hit]]:
    """The nearest row of its group to each stroke of the teacher is one too, nearest first; and those left over."""
    true = np.zeros(len(known), np.bool_)
    pairs = []
    for number, hit in enumerate(written):
        low, high = np.searchsorted(rows.time_s, (hit.time_s - NEAR_S, hit.time_s + NEAR_S))
        for row in range(low, high):
            if rows.group[row] == GROUP[hit.sound]:
                pairs.append((not rows.struck[row], abs(float(rows.time_s[row]) - hit.time_s), row, number))
    used: set[int] = set()
    for _, _, row, number in sorted(pairs):
        if number not in used and not true[row]:
            used.add(number)
            true[row] = known[row] = True
    return known, true, [hit for number, hit in enumerate(written) if number not in used]


def _decided(
    grid: Grid,
    rows: Chances,
    first: Sequence[Hit],
    hits: Sequence[Hit],
    odds: FloatArray,
    known: Flags,
    silent: Sequence[Hit],
) -> Learnt:
    share = probability(odds)
    likelier, less = (odds > rows.odds) & (share > WRITTEN_FROM), (odds < rows.odds) & (share < OUT_BELOW)
    heard = {hit.id: hit for hit in first}
    sure = {first[i].id: float(share[row]) for row, i in enumerate(rows.hit) if i >= 0 and not known[row]}
    out = {first[i].id for i in rows.hit[rows.struck & less & ~known]}
    # what an earlier word of this kind added goes and what it took out comes back, before all is judged again
    old = [hit for hit in hits if hit.id in heard or hit.by != "ears"]
    gone = [hit for hit in old if hit.id in out and _untouched(hit, heard)]
    dropped = {hit.id for hit in gone}
    kept = [_surer(hit, sure) if _untouched(hit, heard) else hit for hit in old if hit.id not in dropped]
    now = {hit.id for hit in hits}
    taken = Moments(kept)
    back = [_surer(h, sure) for h in first if h.id in sure and h.id not in now and h.id not in out]
    back = [hit for hit in back if taken.free(hit.time_s, hit.sound, NEAR_S)]
    new = _new(rows, share, likelier & ~rows.struck & ~known, taken)
    new += _apart(silent, taken)
    highest = max(hit.id for hit in (*first, *old))
    new = [msgspec.structs.replace(hit, id=highest + n) for n, hit in enumerate(new, start=1)]
    placed = _placed(grid, kept, [*back, *new])
    ordered = sorted([*kept, *placed], key=lambda hit: (hit.time_s, ORDER[hit.sound], hit.id))
    return Learnt(tuple(ordered), tuple(hit for hit in placed if hit.id > highest), tuple(gone))


def _untouched(hit: Hit, heard: dict[int, Hit]) -> bool:
    """Whether a hit is as it was heard: of the ears, and not renamed since."""
    return hit.by == "ears" and hit.id in heard and heard[hit.id].sound == hit.sound


def _surer(hit: Hit, share: dict[int, float]) -> Hit:
    changed: Hit = msgspec.structs.replace(hit, confidence=round(share.get(hit.id, hit.confidence), 3))
    return changed


def _new(rows: Chances, share: FloatArray, which: Flags, taken: Moments) -> list[Hit]:
    """Rows that have become strokes, the likeliest first, where none of their group is."""
    found = []
    for row in sorted(np.flatnonzero(which).tolist(), key=lambda n: (-share[n], n)):
        time_s, sound = float(rows.time_s[row]), rows.sound[row]
        if taken.free(time_s, sound, NEAR_S):
            taken.take(time_s, sound)
            loudness, sure = round(min(float(rows.loudness_db[row]), 0.0), 1), round(float(share[row]), 3)
            found.append(Hit(id=0, time_s=round(time_s, 4), sound=sound, loudness_db=loudness, confidence=sure))
    return sorted(found, key=lambda hit: (hit.time_s, ORDER[hit.sound]))


def _apart(silent: Sequence[Hit], taken: Moments) -> list[Hit]:
    """Strokes that left no trace, where none of their group is."""
    found = []
    for hit in sorted(silent, key=lambda h: (-h.confidence, h.time_s, ORDER[h.sound])):
        if taken.free(hit.time_s, hit.sound, NEAR_S):
            taken.take(hit.time_s, hit.sound)
            found.append(hit)
    return sorted(found, key=lambda hit: (hit.time_s, ORDER[hit.sound]))


def _placed(grid: Grid, kept: Sequence[Hit], others: Sequence[Hit]) -> list[Hit]:
    """Exact places for the others; those of the kept help to find them and stay as they are."""
    if not others:
        return []
    every = sorted([*kept, *others], key=lambda hit: (hit.time_s, hit.id))
    wanted = {hit.id for hit in others}
    return [hit for hit in place_hits(grid, every) if hit.id in wanted]
