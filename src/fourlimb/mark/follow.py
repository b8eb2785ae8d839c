"""Where in the chart a take is at each moment: its tempo, its start, its stops and restarts.

Method. Suppose a tempo. Then every hit of the take falls, for every possible offset, on some written time; an offset
is good when many hits fall on strokes of the same instrument, few on nothing, and few strokes in between are left
out. One row of goodness per beat of the take, over all offsets, and the best path through the rows (Viterbi): it may
drift by a few hundredths of a second a beat, and may jump, at a price, which is a stop with a restart or a place left
out. The tempo is the one, among a hundred, that fits a few stretches of six seconds best. (Score following by dynamic
programming, Dannenberg 1984; the offset lattice is ours.)

It cannot follow a take that improvises, and cannot tell a half-tempo take from its double when every stroke of the
chart falls on both.
"""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from fourlimb.model import Hit, Sound
from fourlimb.model.sounds import INSTRUMENT

from .written import Floats, Ints, Written, weight

SLOWEST: Final = 0.35
FASTEST: Final = 1.7
RATIO_STEP: Final = 1.015
"""Tempi tried, as shares of the song's own tempo, each 1.5 % over the last (ours)."""

WINDOW_S: Final = 6.0
WINDOWS: Final = 5
"""Stretches of the take that decide its tempo, and their length in seconds of the take (ours)."""

COARSE_S: Final = 0.02
FINE_S: Final = 0.01
"""Steps of the offset lattice, seconds of written time: to find the tempo, and to follow."""

NEAR_S: Final = 0.03
REACH_S: Final = 0.09
"""A hit this near a stroke is on it; beyond the reach it is not (seconds of written time; ours)."""

OTHER_PIECE: Final = 0.3
"""Worth of a hit where something else is written, against one where the same is (ours)."""

TIME_KEPT_ON: Final = ("hi-hat", "ride cymbal")
OTHER_TIME: Final = 0.9
"""Worth of a heard hit on one of these where the other is written: time is kept at the same places on both, and ears
across a room hardly tell them apart (ours)."""

EXTRA_COST: Final = 0.4
MISS_COST: Final = 0.35
"""Price of a hit where nothing is written, and of a stroke that is left out (ours)."""

DRIFT_MOST_S: Final = 0.04
DRIFT_COST: Final = 0.15
"""How far the offset may drift in one beat (seconds of written time), and the price of each fine step (ours)."""

CELLS_MOST: Final = 60_000_000
"""Beats of the take times offsets beyond which the coarse lattice is used (bytes of memory; about six minutes)."""

JUMP_COST: Final = 4.0
"""Price of a stop with a restart, or of a place left out: with a bar's way to go about five strokes that agree
afterwards (chosen on takes with a bar left out)."""

PAUSE_RELIEF: Final = 1.0
"""A stop after a beat without any hit costs this much less: players stop before they start again. A jump ahead does
not: what is left out takes no time (ours)."""

AWAY_COST: Final = 1.0
AWAY_BEATS: Final = 16.0
"""A take is expected to begin where the part begins: price of beginning elsewhere, in full from this far (ours)."""

FARTHER_COST: Final = 1.5
NEARBY_BEATS: Final = 4.0
"""Price of how far a jump goes, the first times the logarithm of 1 + beats / the second: of two places alike the
nearer is chosen, and twice as far is never twice as dear (ours)."""

LEAD_S: Final = 12.0
"""Longest count-in or noodling before the first written stroke, seconds of the take."""


class Stretch(NamedTuple):
    """A part of the take played without a stop: hits `first` to `last` (included) and their written times."""

    first: int
    last: int
    written_s: Floats


class _Lattice(NamedTuple):
    """Worth of a hit of each instrument at each written time, and the weight of strokes up to there."""

    start_s: float
    step_s: float
    worth: dict[str, Floats]
    nothing: Floats
    passed: Floats


def find_ratio(written: Written, hits: Sequence[Hit], ratios: Floats | None = None) -> float:
    """Tempo of the take as a share of the song's: 0.5 is half tempo. `hits` in order of time, at least one."""
    tried = _ratios() if ratios is None else ratios
    lattice = _lattice(written, COARSE_S, pad_s=WINDOW_S * float(tried[-1]), heard=_heard(hits))
    windows = _windows(hits)
    worth = np.array([sum(_best(lattice, window, float(ratio)) for window in windows) for ratio in tried])
    return float(tried[int(np.argmax(worth))])


def follow(written: Written, hits: Sequence[Hit], ratio: float) -> tuple[Stretch, ...]:
    """The take cut into stretches, in order of time, each hit with the written time it falls on."""
    times = np.array([hit.time_s for hit in hits])
    at = times - times[0]
    lead = ratio * (float(at[-1]) + LEAD_S)
    beat = min(max(written.beat_s / ratio, 0.25), 2.0)
    rows = np.floor(at / beat).astype(np.int64)
    step = (
        FINE_S if (int(rows[-1]) + 1) * (written.end_s - written.start_s + lead) / FINE_S < CELLS_MOST else COARSE_S
    )
    lattice = _lattice(written, step, pad_s=lead + 1.0, heard=_heard(hits))
    first = int(1.0 / step)
    size = int((written.end_s - written.start_s + lead) / step) + 2
    home = int((written.start_s - lattice.start_s) / step) - first
    far = np.abs(np.arange(size) - home) * step / written.beat_s
    away = AWAY_COST * np.minimum(far / AWAY_BEATS, 1.0)
    paused = np.zeros(int(rows[-1]) + 1, dtype=bool)
    paused[1:] = ~np.isin(np.arange(len(paused) - 1), rows)
    found = _rows(lattice, hits, at, rows, ratio, beat, first, size)
    path, jumped = _viterbi(found, paused, away, step, written.beat_s)
    return _stretches(path, jumped, rows, at, ratio, first, lattice)


def ratios_near(ratio: float) -> Floats:
    """Tempi to try when the take's tempo is known: within an eighth of it."""
    return ratio * RATIO_STEP ** np.arange(-8, 9, dtype=np.float64)


def same_part(a: Sound, b: Sound) -> bool:
    """Two sounds of one instrument, or of two on which time is kept."""
    return INSTRUMENT[a] == INSTRUMENT[b] or {INSTRUMENT[a], INSTRUMENT[b]} <= set(TIME_KEPT_ON)


def _ratios() -> Floats:
    count = int(np.log(FASTEST / SLOWEST) / np.log(RATIO_STEP)) + 1
    return SLOWEST * RATIO_STEP ** np.arange(count, dtype=np.float64)


def _heard(hits: Sequence[Hit]) -> bool:
    """Whether hits come from ears, which are never quite sure, and not from pads."""
    return any(hit.confidence < 1.0 for hit in hits)


def _lattice(written: Written, step_s: float, pad_s: float, *, heard: bool) -> _Lattice:
    start = written.start_s - pad_s
    size = int((written.end_s + pad_s - start) / step_s) + 2
    names = sorted({INSTRUMENT[stroke.piece] for stroke in written.strokes})
    near = {name: np.zeros(size) for name in names}
    for stroke, time_s in zip(written.strokes, written.time_s, strict=True):
        _bump(near[INSTRUMENT[stroke.piece]], (time_s - start) / step_s, step_s)
    anything = np.max(np.stack(list(near.values())), axis=0)
    if heard:
        time = np.max(np.stack([near.get(name, np.zeros(size)) for name in TIME_KEPT_ON]), axis=0)
        near |= {name: np.maximum(near.get(name, 0.0), OTHER_TIME * time) for name in TIME_KEPT_ON}
    nothing = OTHER_PIECE * anything - EXTRA_COST * (1 - anything)
    passed = np.zeros(size)
    np.add.at(passed, np.round((written.time_s - start) / step_s).astype(np.int64), written.weight)
    worth = {
        name: np.maximum(shape, OTHER_PIECE * anything) - EXTRA_COST * (1 - anything) for name, shape in near.items()
    }
    return _Lattice(start, step_s, worth, nothing, np.concatenate([[0.0], np.cumsum(passed)]))


def _bump(line: Floats, centre: float, step_s: float) -> None:
    """Raises the line around a stroke: 1 near it, falling to 0 at the reach."""
    reach = int(REACH_S / step_s) + 1
    low, high = max(int(centre) - reach, 0), min(int(centre) + reach + 2, len(line))
    away = np.abs(np.arange(low, high) - centre) * step_s
    shape = np.clip((REACH_S - away) / (REACH_S - NEAR_S), 0.0, 1.0)
    line[low:high] = np.maximum(line[low:high], shape)


def _windows(hits: Sequence[Hit]) -> list[list[Hit]]:
    """Up to five stretches of six seconds, spread over the take."""
    start, end = hits[0].time_s, hits[-1].time_s
    places = np.linspace(start, max(end - WINDOW_S, start), WINDOWS if end - start > 2 * WINDOW_S else 1)
    windows = [[hit for hit in hits if place <= hit.time_s <= place + WINDOW_S] for place in places]
    return [window for window in windows if window]


def _best(lattice: _Lattice, window: Sequence[Hit], ratio: float) -> float:
    """Goodness of the best offset for one stretch at one tempo."""
    start, span = window[0].time_s, window[-1].time_s - window[0].time_s
    reach = int(ratio * span / lattice.step_s) + 1
    size = len(lattice.nothing) - reach - 1
    if size < 1:
        return 0.0
    found = np.zeros(size)
    for hit in window:
        shift = round(ratio * (hit.time_s - start) / lattice.step_s)
        found += weight(hit.sound) * lattice.worth.get(INSTRUMENT[hit.sound], lattice.nothing)[shift : shift + size]
    passed = lattice.passed[reach + 1 : reach + 1 + size] - lattice.passed[:size]
    return float(np.max(found - MISS_COST * np.maximum(passed - np.maximum(found, 0.0), 0.0)))


def _rows(
    lattice: _Lattice, hits: Sequence[Hit], at: Floats, rows: Ints, ratio: float, beat: float, first: int, size: int
) -> Iterator[Floats]:
    """Goodness of every offset, shape (size,), for one beat of the take after the other."""
    edges = np.searchsorted(rows, np.arange(int(rows[-1]) + 2))
    for row in range(int(rows[-1]) + 1):
        good = np.zeros(size)
        for n in range(edges[row], edges[row + 1]):
            shift = first + round(ratio * at[n] / lattice.step_s)
            line = lattice.worth.get(INSTRUMENT[hits[n].sound], lattice.nothing)
            good += weight(hits[n].sound) * line[shift : shift + size]
        if edges[row] < edges[row + 1]:  # strokes left out count only in beats that are played at all
            low = first + round(ratio * row * beat / lattice.step_s)
            high = first + round(ratio * (row + 1) * beat / lattice.step_s)
            passed = lattice.passed[high : high + size] - lattice.passed[low : low + size]
            good -= MISS_COST * np.maximum(passed - np.maximum(good, 0.0), 0.0)
        yield good


def _viterbi(
    rows: Iterator[Floats], paused: npt.NDArray[np.bool_], away: Floats, step_s: float, beat_s: float
) -> tuple[Ints, Ints]:
    """Best offset for each row, and 1 where the path jumped to get there.

    `rows`: goodness of each offset; `paused`: rows after a beat without any hit; `away`: price of each offset.
    """
    count, size = len(paused), len(away)
    total = next(rows) - away
    offsets = np.arange(size)
    most = round(DRIFT_MOST_S / step_s)
    jump = most + 1
    steps = np.zeros((count, size), dtype=np.int8)
    sources = np.zeros(count, dtype=np.int64)
    for row, good in enumerate(rows, start=1):
        sources[row] = int(np.argmax(total))
        farther = FARTHER_COST * np.log1p(step_s / beat_s / NEARBY_BEATS * np.abs(offsets - sources[row]))
        relief = PAUSE_RELIEF * (paused[row] & (offsets < sources[row]))
        best = total[sources[row]] - JUMP_COST + relief - farther
        step = np.full(size, jump, dtype=np.int8)
        for drift in sorted(range(-most, most + 1), key=abs):
            low, high = max(drift, 0), size + min(drift, 0)
            moved = total[low - drift : high - drift] - DRIFT_COST * abs(drift) * step_s / FINE_S
            better = moved > best[low:high]
            best[low:high][better] = moved[better]
            step[low:high][better] = drift
        total = best + good
        steps[row] = step
    path = np.zeros(count, dtype=np.int64)
    jumped = np.zeros(count, dtype=np.int64)
    path[-1] = int(np.argmax(total))
    for row in range(count - 1, 0, -1):
        drift = int(steps[row, path[row]])
        jumped[row] = int(drift == jump)
        path[row - 1] = sources[row] if drift == jump else path[row] - drift
    return path, jumped


def _stretches(
    path: Ints, jumped: Ints, rows: Ints, at: Floats, ratio: float, first: int, lattice: _Lattice
) -> tuple[Stretch, ...]:
    """Hits grouped by the jumps between them; an empty beat after a jump belongs to what follows."""
    part = np.cumsum(jumped)[rows]
    written_s = lattice.start_s + (first + path[rows]) * lattice.step_s + ratio * at
    found = []
    for number in np.unique(part):
        inside = np.flatnonzero(part == number)
        found.append(Stretch(int(inside[0]), int(inside[-1]), written_s[inside]))
    return tuple(found)
