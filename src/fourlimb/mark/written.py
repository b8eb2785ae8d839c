"""The written strokes on a time line: what a take is compared with.

Written time is seconds of the song as its grid has them, swing played out; only differences and order matter, the
take may be at any tempo.
"""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from fourlimb.model import Chart, Grid, InputError, Sound, Stroke
from fourlimb.model.sounds import TIMEKEEPERS

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

WEIGHT_TIMEKEEPER: Final = 0.6
WEIGHT_OTHER: Final = 1.2
"""How much a stroke tells of where we are: the running pattern is the same everywhere, kicks and drums are not
(ours)."""


class Written(NamedTuple):
    """Strokes in song order. `time_s`, `weight`: shape (n,); `beat_s`: length of a felt beat (median, seconds).

    `lines_s`: where bars begin, increasing.
    """

    strokes: tuple[Stroke, ...]
    time_s: Floats
    weight: Floats
    beat_s: float
    start_s: float
    end_s: float
    lines_s: Floats


def write_out(chart: Chart, grid: Grid, from_bar: int, to_bar: int) -> Written:
    """The strokes of bars `from_bar` to `to_bar`. Raises InputError when these bars hold none."""
    strokes = tuple(
        stroke
        for stroke in sorted(chart.strokes, key=lambda s: s.sort_key)
        if from_bar <= stroke.bar <= to_bar and grid.has(stroke.bar)
    )
    if not strokes:
        raise InputError(f"bars {from_bar}-{to_bar} of this chart hold no strokes: choose bars where the drums play")
    times = np.array([grid.time_at(stroke.bar, stroke.position, swung=True) for stroke in strokes])
    order = np.argsort(times, kind="stable")
    strokes, times = tuple(strokes[index] for index in order), times[order]
    tempi = [bar.tempo_bpm for bar in grid.bars if from_bar <= bar.bar <= to_bar and bar.tempo_bpm > 0]
    return Written(
        strokes=strokes,
        time_s=times,
        weight=np.array([weight(stroke.piece) for stroke in strokes]),
        beat_s=60.0 / float(np.median(tempi)) if tempi else 0.5,
        start_s=grid.at(strokes[0].bar).start_s,
        end_s=grid.end(strokes[-1].bar),
        lines_s=np.array([bar.start_s for bar in grid.bars]),
    )


def weight(piece: Sound) -> float:
    """How much hearing this piece tells of the place in the song."""
    return WEIGHT_TIMEKEEPER if piece in TIMEKEEPERS or piece == "hat_pedal" else WEIGHT_OTHER
