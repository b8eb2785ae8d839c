"""How a bar of 7/8 or 8/8 is grouped, where its source does not say: found from the part itself.

Common practice: in such meters the accents decide, and kick, snare and crashes stand where groups begin. Every bar
votes for the grouping in twos and threes whose group starts hold most, beside what stands elsewhere in it; a section
is grouped as most of its bars say, else as most bars of that meter in the song say, else as usual (`model.places`).
The teacher's word (`meter 3+2+2/8`) replaces what is found here.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import Final

import msgspec
import numpy as np

from fourlimb.model import Beat, Grid, Hit, Listening, Sound
from fourlimb.model.places import beat_lengths, beat_starts, meter_groups, split_meter
from fourlimb.model.sounds import CYMBALS, TIMEKEEPERS, TOMS

COUNTS: Final = frozenset({5, 7, 8, 9, 10, 11, 13})
UNITS: Final = (8, 16)
"""Meters that are felt in twos and threes in more than one order; 6/8 and 12/8 are felt in threes."""

WEIGHT: Final[dict[Sound, float]] = {
    "kick": 1.0,
    "snare": 1.0,
    "rim": 1.0,
    "clap": 1.0,
    **dict.fromkeys(sorted(CYMBALS), 0.8),
    **dict.fromkeys(sorted(TOMS), 0.7),
    **dict.fromkeys(sorted(TIMEKEEPERS), 0.2),
}
WEIGHT_OTHERS: Final = 0.2
"""How much a stroke says that a group begins there (ours): the running hand says little by being there."""

ACCENT_DB: Final = 3.0
ACCENT: Final = 0.6
"""A stroke this much louder than the middle one of its sound is an accent, and says so much more (ours)."""

GHOST_DB: Final = -9.0
GHOST: Final = 0.1
"""A stroke this much softer is a ghost, and says hardly anything (ours)."""

MOST: Final = 0.6
FEWEST: Final = 3
"""Share of the bars, and fewest bars, that must say the same (ours): in doubt the usual grouping stays."""

LEAD: Final = 0.1
"""How far a bar's best grouping must lead for the bar to vote (ours)."""

Groups = tuple[int, ...]


def with_groups(heard: Listening) -> Listening:
    """The same with the meter of every bar saying its groups, where the part tells them and the meter does not."""
    found = groups_of(heard)
    return msgspec.structs.replace(heard, grid=_regrouped(heard.grid, found)) if found else heard


def groups_of(heard: Listening) -> dict[int, Groups]:
    """Bar -> its groups, for bars that are not grouped as usual."""
    meters = {bar.bar: bar.meter for bar in heard.grid.bars if bar.bar > 0 and _is_open(heard.grid, bar.bar)}
    votes = {bar: vote for bar, vote in _votes(heard.hits, meters) if vote is not None}
    found: dict[int, Groups] = {}
    for meter in sorted(set(meters.values())):
        bars = [bar for bar, text in meters.items() if text == meter]
        whole = _said(bars, votes)
        for part in _parts(bars, heard):
            groups = _said(part, votes) or whole
            if groups is not None and groups != usual(meter):
                found.update(dict.fromkeys(part, groups))
    return found


def usual(meter: str) -> Groups:
    """How a meter is grouped when nothing is said: 7/8 in 2+2+3, 9/8 in threes, 8/8 and 10/8 in twos."""
    count, unit = split_meter(meter)
    lengths = tuple(int(length * unit) for length in beat_lengths(meter))
    return lengths if max(lengths) > 1 or count % 2 else (2,) * (count // 2)


@lru_cache(maxsize=16)
def groupings(count: int) -> tuple[Groups, ...]:
    """All ways to make a bar of twos and threes: 5 -> (2, 3), (3, 2)."""
    if count < 2:
        return ()
    own = ((count,),) if count in (2, 3) else ()
    return own + tuple((first, *rest) for first in (2, 3) for rest in groupings(count - first))


def vote_of(strength: Sequence[float]) -> Groups | None:
    """The grouping that a bar's strokes say; None where they leave it open.

    `strength`: for each unit of the bar how much is struck there, 0 or more.
    """
    ranked = sorted(((_worth(strength, groups), groups) for groups in groupings(len(strength))), reverse=True)
    return ranked[0][1] if ranked[0][0] > 0 and ranked[0][0] - ranked[1][0] >= LEAD else None


def _worth(strength: Sequence[float], groups: Groups) -> float:
    """Mean of what stands where groups begin, less the mean of what stands elsewhere; the one counts for nothing."""
    starts = set(np.cumsum(groups[:-1]).tolist())
    inside = [value for at, value in enumerate(strength) if at in starts]
    outside = [value for at, value in enumerate(strength) if at and at not in starts]
    return sum(inside) / max(len(inside), 1) - sum(outside) / max(len(outside), 1)


def _is_open(grid: Grid, bar: int) -> bool:
    """True for a bar that may be grouped in several ways and says none; swung pairs stay as they are."""
    meter = grid.meter(bar)
    count, unit = split_meter(meter)
    straight = abs(grid.feel_of(bar).swing - 0.5) < 1e-6
    return count in COUNTS and unit in UNITS and len(meter_groups(meter)) == 1 and straight


def _votes(hits: Sequence[Hit], meters: Mapping[int, str]) -> Iterator[tuple[int, Groups | None]]:
    middle = {
        sound: float(np.median([hit.loudness_db for hit in hits if hit.sound == sound]))
        for sound in {hit.sound for hit in hits}
    }
    strength = {bar: [0.0] * split_meter(meter)[0] for bar, meter in meters.items()}
    for hit in hits:
        if hit.bar not in strength or hit.position is None or (hit.layer or "kit") != "kit":
            continue
        at = hit.position * split_meter(meters[hit.bar])[1]
        if at.denominator == 1 and 0 <= at < len(strength[hit.bar]):
            strength[hit.bar][int(at)] += _says(hit, middle[hit.sound])
    for bar, found in strength.items():
        yield bar, vote_of(found)


def _says(hit: Hit, middle_db: float) -> float:
    """How much a stroke says that a group begins with it."""
    louder = hit.loudness_db - middle_db
    if louder <= GHOST_DB:
        return GHOST
    return WEIGHT.get(hit.sound, WEIGHT_OTHERS) + (ACCENT if louder >= ACCENT_DB else 0.0)


def _said(bars: Sequence[int], votes: Mapping[int, Groups]) -> Groups | None:
    """What most of these bars say; None where they do not agree, or are too few."""
    counted = Counter(votes[bar] for bar in bars if bar in votes)
    if not counted:
        return None
    groups, count = max(counted.items(), key=lambda item: (item[1], item[0]))
    return groups if count >= max(FEWEST, MOST * len(bars)) else None


def _parts(bars: Sequence[int], heard: Listening) -> Iterator[list[int]]:
    """The bars of each section, and those of none."""
    left = list(bars)
    for section in heard.sections:
        inside = [bar for bar in left if section.from_bar <= bar <= section.to_bar]
        left = [bar for bar in left if bar not in inside]
        if inside:
            yield inside
    if left:
        yield left


def _regrouped(grid: Grid, found: Mapping[int, Groups]) -> Grid:
    """The grid with these bars' meters and felt beats; time runs as before."""
    bars = []
    beats = {beat.bar: [b for b in grid.beats if b.bar == beat.bar] for beat in grid.beats}
    for bar in grid.bars:
        if bar.bar not in found:
            bars.append(bar)
            continue
        unit = split_meter(bar.meter)[1]
        meter = f"{'+'.join(map(str, found[bar.bar]))}/{unit}"
        share = float(beat_lengths(bar.meter)[0] / beat_lengths(meter)[0])
        bars.append(msgspec.structs.replace(bar, meter=meter, tempo_bpm=round(bar.tempo_bpm * share, 3)))
        sure = min((beat.confidence for beat in beats.get(bar.bar, ())), default=1.0)
        beats[bar.bar] = [
            Beat(time_s=_at(grid, bar.bar, start), bar=bar.bar, beat=number, confidence=sure)
            for number, start in enumerate(beat_starts(meter), start=1)
        ]
    every = tuple(beat for number in grid.numbers for beat in beats.get(number, ()))
    return msgspec.structs.replace(grid, bars=tuple(bars), beats=every)


def _at(grid: Grid, bar: int, start: Fraction) -> float:
    return round(grid.time_at(bar, start), 6)
