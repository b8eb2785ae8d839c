"""Strokes that left no trace: what the teacher writes where nothing was heard is looked for in the other bars.

In: rows of everything that may be a stroke, and what the teacher wrote beside them. Out: moments of other bars where
the same is likely struck, though nothing was heard there either: a kick so soft on every beat that the ears know
nothing of it, written in two bars, is written in all bars like them.

Method: each place of the bar at which the teacher wrote what nobody heard is a place in every bar of that meter;
where nothing of that group is heard or possible there, it is a silence. Silences of which the teacher has spoken are
known to be strokes or not; the others follow by the process of `chances` with parts and an expectation of their own.

Cannot: tell from one bar. Two bars alike that both have it are asked for.
"""

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

import numpy as np

from fourlimb.model import Grid, Hit, Sound
from fourlimb.model.sounds import ORDER

from .chances import EARLY_S, GROUP, Chances, Flags, Ints, latent, learnt
from .evidence import FloatArray
from .odds import probability

EVERYWHERE, PLACE, OWN = 1.0, 8.0, 0.1
"""Variances of what silences of one group share: all of them, those at one place of the bar; each one's own."""
UNLIKE: Final = 0.1
WIDTH_S: Final = 0.04
ODDS: Final = -3.0
"""Log-odds of a stroke in a silence before the teacher's word (all set on the songs of `bench.shifts`)."""
VARIANCE: Final = EVERYWHERE + PLACE + OWN
NEAR_S: Final = 0.05
"""No silence is nearer than this to what was heard or possible (the ears' own window)."""
SAME_PLACE_S: Final = 0.03
SOFTER_DB: Final = -6.0
"""What nobody heard is taken for this much softer than the group's usual stroke (ours)."""


class Silences(NamedTuple):
    """n moments at which nothing of a group was heard. bar : row of the grid. place_s : from the bar's start."""

    bar: Ints
    place_s: FloatArray
    time_s: FloatArray
    sound: tuple[Sound, ...]


def unheard(grid: Grid, rows: Chances, written: Sequence[Hit], said: Callable[[float, Sound], bool]) -> list[Hit]:
    """Strokes likely in silences, in time order, without ids and places.

    written : the teacher's strokes that match no row. said : whether the teacher has spoken of a sound at a second.
    """
    found: list[Hit] = []
    for group in sorted({GROUP[hit.sound] for hit in written}):
        mine = [hit for hit in written if GROUP[hit.sound] == group]
        silent = _silences(grid, rows, mine, group)
        true = _true(silent, [hit.time_s for hit in mine])
        known = true | np.array([said(t, s) for t, s in zip(silent.time_s, silent.sound, strict=True)], np.bool_)
        told, asked = np.flatnonzero(known), np.flatnonzero(~known)
        if len(told) and len(asked):
            share = probability(_odds(rows, silent, told, true[told], asked))
            loudness_db = _soft(rows, group)
            found += [
                Hit(
                    id=0, time_s=round(float(silent.time_s[i]), 4), sound=silent.sound[i], loudness_db=loudness_db,
                    confidence=round(float(p), 3),
                )
                for i, p in zip(asked.tolist(), share, strict=True)
                if p > 0.5
            ]  # fmt: skip
    return sorted(found, key=lambda hit: (hit.time_s, ORDER[hit.sound]))


def _silences(grid: Grid, rows: Chances, written: Sequence[Hit], group: int) -> Silences:
    """The places at which the teacher wrote what was not heard, in every bar of the meter where nothing is there."""
    starts = np.array([bar.start_s for bar in grid.bars])
    lengths = np.diff([*starts, grid.end_s])
    usual = float(np.median(lengths))
    heard = rows.time_s[rows.group == group]
    found: list[tuple[int, float, float, Sound]] = []
    for place_s, sound, bar in _places(written, starts, lengths / usual):
        for other in np.flatnonzero(rows.same_meter[bar] > 0).tolist():
            time_s = float(starts[other] + place_s * lengths[other] / usual)
            if time_s < grid.end_s and not _near(heard, time_s, NEAR_S):
                found.append((other, place_s, time_s, sound))
    bars, places, times, sounds = zip(*found, strict=True) if found else ((), (), (), ())
    return Silences(np.array(bars, np.int64), np.array(places), np.array(times), tuple(sounds))


def _places(written: Sequence[Hit], starts: FloatArray, scale: FloatArray) -> list[tuple[float, Sound, int]]:
    """Places in a bar of usual length, each once, with the sound that was written there first and its bar."""
    at = np.array([hit.time_s for hit in written])
    bar = np.maximum(np.searchsorted(starts, at + EARLY_S, side="right") - 1, 0)
    place_s = (at - starts[bar]) / scale[bar]
    kept: list[tuple[float, Sound, int]] = []
    for i in np.argsort(place_s, kind="stable").tolist():
        if not kept or place_s[i] - kept[-1][0] >= SAME_PLACE_S:
            kept.append((float(place_s[i]), written[i].sound, int(bar[i])))
    return kept


def _true(silent: Silences, written_s: Sequence[float]) -> Flags:
    times = np.sort(np.array(written_s))
    return np.array([_near(times, float(t), NEAR_S) for t in silent.time_s], np.bool_)


def _near(times_s: FloatArray, time_s: float, within_s: float) -> bool:
    at = int(np.searchsorted(times_s, time_s))
    return bool((np.abs(times_s[max(at - 1, 0) : at + 1] - time_s) < within_s).any())


def _odds(rows: Chances, silent: Silences, known: Ints, true: Flags, asked: Ints) -> FloatArray:
    def shared(i: Ints, j: Ints) -> FloatArray:
        apart = silent.place_s[i][:, None] - silent.place_s[j][None]
        alike = rows.alike[np.ix_(silent.bar[i], silent.bar[j])]
        part = EVERYWHERE + PLACE * np.exp(-0.5 * (apart / WIDTH_S) ** 2)
        return np.asarray(part * (UNLIKE + (1 - UNLIKE) * alike))

    before = latent(np.array([ODDS]), VARIANCE)
    own = shared(known, known) + OWN * np.eye(len(known))
    across = shared(asked, known)
    return learnt(np.repeat(before, len(known)), own, true, np.repeat(before, len(asked)), across, VARIANCE)


def _soft(rows: Chances, group: int) -> float:
    """Loudness of what nobody heard; of a group never heard, that of the song's softest strokes."""
    mine = rows.loudness_db[rows.struck & (rows.group == group)]
    if len(mine):
        return round(min(float(np.median(mine)) + SOFTER_DB, 0.0), 1)
    return round(min(float(rows.loudness_db.min(initial=SOFTER_DB)), 0.0), 1)
