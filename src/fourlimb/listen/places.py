"""Every hit on its exact place.

Input: a `Grid` and hits in seconds. Output: the same hits with `bar`, `position` (an exact fraction of a whole
note), `late_ms` against the written place, and `grace` where two strokes are one flam or drag.

Method, over the whole song twice: strokes that fall together (within `TOGETHER_S`) are one event and get one
place. For each beat the events are fitted by several divisions of it (halves, quarters, thirds, sixths, eighths);
a division pays for itself, for each place by how rarely this song uses it, and for the squared timing error with a
cap, because one stroke far off is a slip and no new rhythm. After the first round the song's own lateness (all
strokes, and each sound against the others), its spread and the places it uses are known, and everything is placed
again.

The spread of good players round the click is 10-20 ms (Groove MIDI Dataset, Gillick et al. 2019, as measured by
`bench.bars`). What it cannot do: write quintuplets, or a slow swing that is neither straight nor triplet inside
one beat only.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import msgspec
import numpy as np

from fourlimb.model import Grid, Hit, Sound
from fourlimb.model.grid import swing_in
from fourlimb.model.places import beat_lengths, beat_starts

from .evidence import FloatArray

SPREAD_S: Final = 0.018
"""Standard deviation of a human stroke round its written place before the song's own is known."""
SPREAD_RANGE_S: Final = (0.008, 0.026)
CAP: Final = 7.0
"""Most that one stroke's timing error may cost (in nats): three and a half standard deviations."""
TOGETHER_S: Final = 0.030
"""Strokes of different sounds closer than this are one event (two limbs of one player; see trade limits)."""
FLAM_S: Final = 0.045
"""Two strokes of one drum closer than this are one with a grace note (flams are 20-40 ms wide: common practice)."""
FASTEST_S: Final = 0.045
"""Finer places than this are not told apart: about 22 strokes a second is more than two hands play."""
LATE_LIMIT_S: Final = 0.03
HABIT: Final = 24.0
"""Strokes after which the song's own habits weigh as much as the table below."""

PARTS: Final[dict[bool, dict[int, float]]] = {
    False: {4: 0.0, 3: 1.2, 6: 4.0, 8: 4.0},
    True: {3: 0.0, 6: 0.6, 2: 3.0, 4: 4.0, 12: 5.0},
}
"""Beat of three or not -> parts it is cut into, and what the cut costs in nats (ours: usual is cheap)."""
USUAL: Final[dict[bool, dict[Fraction, float]]] = {
    False: {Fraction(0): 1.0, Fraction(1, 2): 0.8, Fraction(1, 4): 0.4, Fraction(3, 4): 0.5,
            Fraction(1, 3): 0.12, Fraction(2, 3): 0.16},
    True: {Fraction(0): 1.0, Fraction(1, 3): 0.8, Fraction(2, 3): 0.8, Fraction(1, 6): 0.2, Fraction(1, 2): 0.25,
           Fraction(5, 6): 0.25},
}  # fmt: skip
"""How usual a place inside the beat is before the song is known (relative counts of the learning half of the Groove
set, rounded); places not named are `RARE`."""
RARE: Final = 0.02


def place_hits(grid: Grid, hits: Sequence[Hit]) -> tuple[Hit, ...]:
    """All hits with bar and position. Order and ids stay; hits outside the grid get None for both."""
    if not grid.bars or not hits:
        return tuple(hits)
    beats = _beats_of(grid)
    graces, names = _graces(hits)
    events = _events(hits, graces)
    shift = np.zeros(len(hits))
    habit: dict[tuple[int, int], dict[Fraction, float]] = {}
    spread = SPREAD_S
    placed: dict[int, tuple[int, Fraction]] = {}
    for _ in range(2):
        placed = _place(grid, beats, events, np.array([h.time_s for h in hits]) - shift, spread, habit)
        shift, spread = _lateness(grid, hits, placed)
        habit = _habits(grid, hits, placed)
    for grace, main in graces.items():
        if main in placed:
            placed[grace] = placed[main]
    return tuple(_with_place(grid, hit, placed.get(i), names.get(i)) for i, hit in enumerate(hits))


@dataclass(frozen=True)
class _Beat:
    """One felt beat: its bar, index inside, seconds, and whether it divides by three."""

    bar: int
    index: int
    start_s: float
    end_s: float
    threes: bool


def _beats_of(grid: Grid) -> list[_Beat]:
    found = []
    for bar in grid.bars:
        lengths = beat_lengths(bar.meter)
        starts = beat_starts(bar.meter)
        for index, length in enumerate(lengths):
            start = grid.time_at(bar.bar, starts[index])
            end = grid.time_at(bar.bar, starts[index] + length)
            found.append(_Beat(bar.bar, index, start, end, length.numerator == 3))
    return found


def _events(hits: Sequence[Hit], graces: dict[int, int]) -> list[list[int]]:
    """Indices of strokes that sound together; grace strokes are left out."""
    events: list[list[int]] = []
    order = sorted((i for i in range(len(hits)) if i not in graces), key=lambda i: (hits[i].time_s, i))
    for index in order:
        last = events[-1] if events else None
        near = last is not None and hits[index].time_s - hits[last[0]].time_s < TOGETHER_S
        if last is not None and near and all(hits[i].sound != hits[index].sound for i in last):
            last.append(index)
        else:
            events.append([index])
    return events


def _place(
    grid: Grid,
    beats: list[_Beat],
    events: list[list[int]],
    times_s: FloatArray,
    spread_s: float,
    habit: dict[tuple[int, int], dict[Fraction, float]],
) -> dict[int, tuple[int, Fraction]]:
    starts = np.array([beat.start_s for beat in beats])
    by_beat: dict[int, list[tuple[list[int], float]]] = defaultdict(list)
    for event in events:
        time_s = float(np.mean(times_s[event]))
        number = max(int(np.searchsorted(starts, time_s + 1e-9)) - 1, 0)
        beat = beats[number]
        share = (time_s - beat.start_s) / max(beat.end_s - beat.start_s, 1e-6)
        if 0 <= share <= 1:
            share = swing_in(share, grid.feel_of(beat.bar))
        by_beat[number].append((event, share))
    placed: dict[int, tuple[int, Fraction]] = {}
    for number, inside in by_beat.items():
        places = _divide(beats[number], np.array([share for _, share in inside]), spread_s, habit)
        for (event, _), place in zip(inside, places, strict=True):
            where = _where(grid, beats, number, place)
            if where is not None:
                placed.update(dict.fromkeys(event, where))
    return placed


def _divide(
    beat: _Beat, shares: FloatArray, spread_s: float, habit: dict[tuple[int, int], dict[Fraction, float]]
) -> list[Fraction]:
    """The cheapest division of one beat, as the place of each of its events (1 is the next beat)."""
    seconds = max(beat.end_s - beat.start_s, 1e-3)
    spread = spread_s / seconds
    best: tuple[float, list[Fraction]] = (np.inf, [])
    for parts, price in PARTS[beat.threes].items():
        if parts > 4 and seconds / parts < FASTEST_S:
            continue
        ladder = [Fraction(n, parts) for n in range(parts + 1)]
        odds = np.array([_price(beat, place, habit) for place in ladder])
        error = (shares[:, None] - np.array([float(p) for p in ladder])) / spread
        cost = np.minimum(0.5 * error**2, CAP + np.abs(error) * 0.01) + odds
        chosen = cost.argmin(axis=1)
        total = price + float(cost[np.arange(len(shares)), chosen].sum()) + _crowded(chosen, shares, spread)
        if total < best[0] - 1e-9:
            best = (total, [ladder[c] for c in chosen])
    return best[1]


def _crowded(chosen: np.ndarray[tuple[int], np.dtype[np.intp]], shares: FloatArray, spread: float) -> float:
    """Two events on one place are unlikely, the more so the further apart they were played."""
    same = np.flatnonzero(np.diff(chosen) == 0)
    return float(np.minimum(0.5 * (np.diff(shares)[same] / spread) ** 2, CAP).sum()) if len(same) else 0.0


def _price(beat: _Beat, place: Fraction, habit: dict[tuple[int, int], dict[Fraction, float]]) -> float:
    """What a place costs, in nats below the most usual one: the table and this song's own counts together."""
    usual = USUAL[beat.threes]
    known = habit.get((beat.index, beat.threes), {})
    inside = place % 1
    count = sum(known.values())
    base = usual.get(inside, RARE)
    return -float(np.log((base * HABIT + known.get(inside, 0.0) * 2) / (HABIT + count)))


def _where(grid: Grid, beats: list[_Beat], number: int, place: Fraction) -> tuple[int, Fraction] | None:
    """Bar and position of a place in a beat; the end of a beat is the start of the next. None outside the song."""
    if place == 1:
        number, place = number + 1, Fraction(0)
    if number >= len(beats):
        return None
    beat = beats[number]
    meter = grid.meter(beat.bar)
    return beat.bar, beat_starts(meter)[beat.index] + place * beat_lengths(meter)[beat.index]


def _lateness(grid: Grid, hits: Sequence[Hit], placed: dict[int, tuple[int, Fraction]]) -> tuple[FloatArray, float]:
    """How late each hit's sound usually is in this song (seconds, for every hit), and the spread round that."""
    late = {i: hits[i].time_s - grid.time_at(*place, swung=True) for i, place in placed.items()}
    by_sound: dict[Sound, list[float]] = defaultdict(list)
    for index, off in late.items():
        by_sound[hits[index].sound].append(off)
    whole = float(np.median(list(late.values()))) if late else 0.0
    usual = {s: (float(np.median(v)) * len(v) + whole * 8) / (len(v) + 8) for s, v in by_sound.items()}
    usual = {sound: min(max(off, -LATE_LIMIT_S), LATE_LIMIT_S) for sound, off in usual.items()}
    rest = np.abs([off - usual[hits[i].sound] for i, off in late.items()])
    spread = float(np.median(rest)) * 1.4826 if len(rest) else SPREAD_S
    shift = np.array([usual.get(hit.sound, 0.0) for hit in hits])
    return shift, min(max(spread * 1.15, SPREAD_RANGE_S[0]), SPREAD_RANGE_S[1])


def _habits(
    grid: Grid, hits: Sequence[Hit], placed: dict[int, tuple[int, Fraction]]
) -> dict[tuple[int, int], dict[Fraction, float]]:
    """How often each place inside each beat of the bar is used."""
    counts: dict[tuple[int, int], dict[Fraction, float]] = defaultdict(lambda: defaultdict(float))
    for index, (bar, position) in placed.items():
        meter = grid.meter(bar)
        starts, lengths = beat_starts(meter), beat_lengths(meter)
        beat = max(n for n, start in enumerate(starts) if start <= position)
        key = (beat, int(lengths[beat].numerator == 3))
        counts[key][(position - starts[beat]) / lengths[beat]] += hits[index].confidence
    return {key: dict(inside) for key, inside in counts.items()}


def _graces(hits: Sequence[Hit]) -> tuple[dict[int, int], dict[int, str]]:
    """Grace strokes (index -> index of the stroke they lead to), and what each main stroke is then called."""
    leads: dict[int, list[int]] = defaultdict(list)
    latest: dict[Sound, int] = {}
    for index, hit in enumerate(hits):
        before = latest.get(hit.sound)
        if before is not None and _leads_to(hits[before], hit):
            leads[index] = [*leads.pop(before, []), before]
        latest[hit.sound] = index
    pairs = {grace: main for main, graces in leads.items() for grace in graces}
    names = {1: "flam", 2: "drag"}
    return pairs, {main: names.get(len(graces), "ruff") for main, graces in leads.items()}


def _leads_to(first: Hit, second: Hit) -> bool:
    """A softer stroke just before one on the same drum."""
    drum = second.sound in ("snare", "tom_high", "tom_mid", "tom_floor")
    return drum and 0 < second.time_s - first.time_s < FLAM_S and first.loudness_db <= second.loudness_db + 1


def _with_place(grid: Grid, hit: Hit, place: tuple[int, Fraction] | None, grace: str | None) -> Hit:
    if place is None:
        return msgspec.structs.replace(hit, bar=None, position=None, late_ms=None)
    bar, position = place
    late = (hit.time_s - grid.time_at(bar, position, swung=True)) * 1000
    changed: Hit = msgspec.structs.replace(hit, bar=bar, position=position, late_ms=round(late, 1))
    return msgspec.structs.replace(changed, grace=grace) if grace else changed
