"""Songs to learn ways to count from: every meter cut from human bars in several ways, with bands that differ.

`made_songs.metered_song`, which `bench.bars` judges by, makes each meter in one way, with a chord on every bar line.
What is learned from that alone leans on it: here bars are cut in several ways, at other tempi, and the band changes its
chord as bands do: once a bar, every other bar, hardly ever, twice a bar in all or some bars, or half a beat early.
Slow compound meters, of which the set has none, are bars of 4/4 whose every other eighth is played twice.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import accumulate

import msgspec
import numpy as np

from fourlimb.model import Grid, Hit
from fourlimb.model.grid import regular
from fourlimb.model.places import bar_length, is_compound

from .groove import Performance
from .made_songs import groove_of, numbered
from .playing import Played

Pieces = tuple[tuple[float, float], ...]
"""Parts of a bar of 4/4, as (first beat, beats), one after the other."""

CUTS: Mapping[str, tuple[Pieces, ...]] = {
    "4/4": (((0, 4),),),
    "3/4": (((0, 3),), ((0, 2), (1, 1)), ((0, 1), (2, 2)), ((0, 1), (1, 1), (3, 1))),
    "2/4": (((0, 2),), ((2, 2),), ((0, 1), (3, 1))),
    "5/4": (((0, 4), (0, 1)), ((0, 3), (2, 2)), ((0, 2), (1, 3)), ((0, 4), (3, 1))),
    "7/8": (((0, 3.5),), ((0, 1.5), (2, 2)), ((0, 2), (2.5, 1.5)), ((0, 1.5), (0, 2))),
    "6/8": (((0, 1), (0.5, 0.5), (1, 1), (1.5, 0.5)), ((0, 0.5), (0, 1), (1, 0.5), (1, 1))),
    "12/8": (
        tuple(piece for beat in range(4) for piece in ((beat, 1), (beat + 0.5, 0.5))),
        tuple(piece for beat in range(4) for piece in ((beat, 0.5), (beat, 1))),
    ),
}
"""How bars of 4/4 are cut to other meters; compound ones keep their eighths. The first of each is the commonest."""
IN_THREE: Mapping[str, Pieces] = {"6/8": ((0, 2),), "12/8": ((0, 4),)}
"""The same for bars whose beats are played in three."""
FIRST_CUT, FROM_THREES = 0.5, 0.4
FASTER = 0.15
"""Spread (in log) of the tempo round that of the groove."""
SLOW = (0.5, 1.1)
"""Of compound meters made of eighths: quarters at this share of the groove's tempo."""
SLOWEST_BPM, FASTEST_BPM = 40.0, 200.0
LENGTH_S = (22.0, 36.0)
LOOPS = (4, 8, 16)
CHANGES = ("bar", "slow", "still", "twice", "some", "early")
"""How chords change."""
USUAL = (0.4, 0.2, 0.1, 0.08, 0.12, 0.1)
IN_TWO = (0.75, 0.05, 0.05, 0.0, 0.0, 0.15)
"""How often; in 2/4 a chord that lasts two bars is a bar of 4/4."""
BASSES = ("beats", "eighths", "held")


def groove_and_song(meter: str, grooves: Sequence[Performance], seed: int) -> tuple[Performance, Played]:
    """About half a minute in a meter, with a band, and the groove it is made of."""
    rng = np.random.default_rng((list(CUTS).index(meter), seed))
    pieces = CUTS[meter][0] if rng.random() < FIRST_CUT else CUTS[meter][int(rng.integers(len(CUTS[meter])))]
    threes = is_compound(meter) and rng.random() < FROM_THREES
    groove = groove_of(meter if threes else "4/4", grooves, seed, rng)
    pieces = IN_THREE[meter] if threes else pieces
    faster = (
        np.exp(rng.uniform(*np.log(SLOW))) if is_compound(meter) and not threes else np.exp(rng.normal(0, FASTER))
    )
    beats = 3 if is_compound(meter) else 2
    low, high = (bpm * beats / 2 * (2 / 3 if threes else 1) for bpm in (SLOWEST_BPM, FASTEST_BPM))
    bpm = float(np.clip(groove.bpm * faster, low, high))
    grid, hits = cut(groove, meter, pieces, bpm, rng)
    quarter = 240 * float(bar_length(meter)) * len(grid.bars) / grid.end_s
    song = Played(f"varied {seed}", "made", quarter, meter, hits, grid, grid.end_s + 0.5, seed)
    return groove, with_chords(song, rng)


def cut(
    groove: Performance, meter: str, pieces: Pieces, bpm: float, rng: np.random.Generator
) -> tuple[Grid, tuple[Hit, ...]]:
    """Bars put together of pieces of a groove's bars, whose beats are played at `bpm`."""
    places = [0.0, *accumulate(length for _, length in pieces)]
    beat_s, old_s = 60 / bpm, 60 / groove.bpm
    bar_s = places[-1] * beat_s
    bars = max(int(rng.uniform(*LENGTH_S) / bar_s), 6)
    first = int(rng.integers(0, max(len(groove.grid.bars) - 8, 1)))
    known = min(len(groove.grid.bars) - first, LOOPS[int(rng.integers(len(LOOPS)))])
    times = np.array([hit.time_s for hit in groove.hits]) / old_s
    early = 0.03 / old_s
    hits = []
    for bar in range(bars):
        source = 4.0 * (first + bar % known)
        for place, (start, length) in zip(places, pieces, strict=False):
            low = source + start - early
            for n in np.flatnonzero((times >= low) & (times < low + length)):
                time_s = bar * bar_s + (place + times[n] - source - start) * beat_s
                hits.append(msgspec.structs.replace(groove.hits[n], time_s=max(float(time_s), 0.0)))
    quarters = float(bar_length(meter) * 4)
    return regular([meter] * bars, 60 * quarters / bar_s), numbered(hits)


def with_chords(song: Played, rng: np.random.Generator) -> Played:
    """The song with a band that changes its chords in one of the ways that bands do."""
    change = CHANGES[int(rng.choice(len(CHANGES), p=IN_TWO if song.meter == "2/4" else USUAL))]
    bass = BASSES[int(rng.integers(len(BASSES)))]
    return replace(song, chords_s=tuple(chord_starts(song.grid, change)), bass=bass)


def chord_starts(grid: Grid, change: str) -> list[float]:
    """Seconds at which chords start."""
    bars = [bar.start_s for bar in grid.bars]
    if change == "slow":
        return bars[::2]
    if change == "still":
        return bars[:1]
    if change == "early":
        half = (grid.beats[1].time_s - grid.beats[0].time_s) / 2
        return [bars[0], *(start - half for start in bars[1:])]
    if change == "bar":
        return bars
    beats = [[beat.time_s for beat in grid.beats if beat.bar == bar] for bar in grid.numbers]
    every = 1 if change == "twice" else 4
    middle = [own[(len(own) + 1) // 2] for n, own in enumerate(beats) if len(own) > 1 and n % every == every - 1]
    return sorted([*bars, *middle])
