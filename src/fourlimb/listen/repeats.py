"""Bars that are the same music teach each other.

Input: placed hits, the grid, and the detector's curves where it has them. Output: hits with corrected confidence;
weak ones that no like bar plays are gone, strokes that all like bars play and this one plays faintly are there.

Method: for each bar the most alike bars are its teachers (at least `LEAST_TEACHERS`, cosine likeness of what
sounds where). Their weighted share that plays a sound at a place is the expectation there; it moves the log-odds
of the bar's own evidence (a hit's confidence, or the curve's height at that place) by `TRUST` times its own
log-odds. A clear stroke stays whatever the others do: a kick that moved is a difference, a ghost that one bar in
eight lacks is doubt.

What it cannot do: help in music that never repeats, or hear what left no trace in the curves.
"""

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

import msgspec
import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS, Grid, Hit, Sound
from fourlimb.model.sounds import ORDER, PERCUSSION

from .alike import bar_vectors, likeness
from .ears import Heard
from .evidence import FloatArray

LEAST_TEACHERS: Final = 3
MOST_TEACHERS: Final = 8
LIKE: Final = 0.6
"""Least likeness of a teacher bar (ours; 1 is the same bar)."""
TRUST: Final = 0.5
EXPECTED: Final = 0.6
"""Share of teachers from which a missing stroke is looked for in the curves."""
TRACE: Final = 0.12
"""Least height of a curve that counts as a faint stroke."""
REACH_S: Final = 0.035
FAINT_DB: Final = -6.0
GONE: Final = 0.1
"""Hits whose corrected confidence falls below are taken for noise. Low, because fills and ghosts are in one bar only:
with .22 a recording loses .02 of F, and none gains (the ears themselves listen to what like bars do)."""
CLEAR: Final = 0.85
"""Hits that were this sure stay, whatever the other bars do."""
EVEN: Final = 0.35
"""Expectation that changes nothing."""

Table = dict[tuple[Sound, Fraction], float]


def hear_again(grid: Grid, hits: Sequence[Hit], heard: Heard | None) -> tuple[Hit, ...]:
    """The hits after the second pass, in time order, ids new only for added ones (they follow the highest)."""
    if len(grid.bars) < LEAST_TEACHERS + 1:
        return tuple(hits)
    bars = by_bar(hits)
    teachers = teachers_of(grid, hits)
    usual = {s: float(np.median([h.loudness_db for h in hits if h.sound == s])) for s in {h.sound for h in hits}}
    kept: list[Hit] = [hit for hit in hits if hit.bar is None]
    added: list[Hit] = []
    for bar in grid.numbers:
        expected = expected_of(bars, teachers.get(bar, []))
        for hit in bars.get(bar, []):
            changed = _judged(hit, expected)
            if changed is not None:
                kept.append(changed)
        if expected is not None and heard is not None:
            added += _traces(grid, bar, bars.get(bar, []), expected, heard, usual)
    return _numbered(kept, added)


def by_bar(hits: Sequence[Hit]) -> dict[int, list[Hit]]:
    """Placed hits of each bar."""
    bars: dict[int, list[Hit]] = defaultdict(list)
    for hit in hits:
        if hit.bar is not None and hit.position is not None:
            bars[hit.bar].append(hit)
    return bars


def teachers_of(grid: Grid, hits: Sequence[Hit]) -> dict[int, list[tuple[int, float]]]:
    """For each bar the bars most like it, with their weight; bars of other meters teach nothing."""
    alike = likeness(bar_vectors(grid, hits))
    found: dict[int, list[tuple[int, float]]] = {}
    for row, bar in enumerate(grid.bars):
        order = np.argsort(-alike[row], kind="stable")
        near = [
            (grid.bars[int(i)].bar, float(alike[row, i]) ** 2)
            for i in order
            if i != row and alike[row, i] >= LIKE and grid.bars[int(i)].meter == bar.meter
        ]
        if len(near) >= LEAST_TEACHERS:
            found[bar.bar] = near[:MOST_TEACHERS]
    return found


def expected_of(bars: dict[int, list[Hit]], teachers: list[tuple[int, float]]) -> Table | None:
    """Weighted share of the teachers that play each sound at each place, or None without teachers."""
    if not teachers:
        return None
    whole = sum(weight for _, weight in teachers)
    table: Table = defaultdict(float)
    for bar, weight in teachers:
        best: Table = {}
        for hit in bars.get(bar, []):
            key = hit.sound, hit.position or Fraction(0)
            best[key] = max(best.get(key, 0.0), hit.confidence)
        for key, confidence in best.items():
            table[key] += weight * confidence / whole
    return dict(table)


def _judged(hit: Hit, expected: Table | None) -> Hit | None:
    """The hit with the others' word in its confidence; None when it was weak and they do not play it."""
    if expected is None:
        return hit
    share = expected.get((hit.sound, hit.position or Fraction(0)), 0.0)
    odds = _odds(hit.confidence) + TRUST * (_odds(share) - _odds(EVEN))
    changed = round(float(1 / (1 + np.exp(-odds))), 3)
    if changed < GONE and hit.confidence < CLEAR:
        return None
    changed = max(changed, min(hit.confidence, 0.5)) if hit.confidence >= CLEAR else changed
    lifted: Hit = msgspec.structs.replace(hit, confidence=changed)
    return lifted


def _odds(share: float) -> float:
    bounded = min(max(share, 0.03), 0.97)
    return float(np.log(bounded / (1 - bounded)))


def _traces(
    grid: Grid, bar: int, inside: list[Hit], expected: Table, heard: Heard, usual: dict[Sound, float]
) -> list[Hit]:
    """Faint strokes where the like bars all have one and this bar has none of its family.

    They are taken for `FAINT_DB` softer than the song's usual stroke of that sound.
    """
    if heard.activations is None:
        return []
    taken = {(_family(h.sound), h.position) for h in inside}
    found = []
    for (sound, position), share in sorted(expected.items(), key=lambda kv: (kv[0][1], ORDER[kv[0][0]])):
        if share < EXPECTED or (_family(sound), position) in taken or sound in PERCUSSION:
            continue
        at = grid.time_at(bar, position, swung=True)
        height, time_s = _peak(heard.activations[:, ORDER[sound]], at, heard.frames_per_s)
        odds = _odds(height) + TRUST * 2 * (_odds(share) - _odds(EVEN))
        confidence = float(1 / (1 + np.exp(-odds)))
        if height >= TRACE and confidence >= 0.5:
            found.append(
                Hit(
                    id=0, time_s=round(time_s, 4), sound=sound, loudness_db=round(usual[sound] + FAINT_DB, 1),
                    confidence=round(min(confidence, 0.8), 3), bar=bar, position=position,
                )
            )  # fmt: skip
    return found


def _family(sound: Sound) -> str:
    return "hat" if sound.startswith("hat") else "ride" if sound.startswith("ride") else sound


def _peak(curve: npt.NDArray[np.floating], at_s: float, rate: float) -> tuple[float, float]:
    low = max(round((at_s - REACH_S) * rate), 0)
    piece: FloatArray = np.asarray(curve[low : round((at_s + REACH_S) * rate) + 1], dtype=np.float64)
    if not len(piece):
        return 0.0, at_s
    best = int(piece.argmax())
    return float(piece[best]), (low + best) / rate


def _numbered(kept: list[Hit], added: list[Hit]) -> tuple[Hit, ...]:
    highest = max((hit.id for hit in kept), default=0)
    new = [msgspec.structs.replace(hit, id=highest + n) for n, hit in enumerate(added, start=1)]
    return tuple(sorted([*kept, *new], key=lambda hit: (hit.time_s, SOUNDS.index(hit.sound), hit.id)))
