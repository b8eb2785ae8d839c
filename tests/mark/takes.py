"""Takes made from charts: played exactly, then spoiled in one known way."""

import random
from collections.abc import Callable, Sequence

import msgspec

from fourlimb.model import Chart, Grid, Hit, Stroke
from fourlimb.model.count import read_line
from fourlimb.model.grid import regular

GROOVE = "hat every 8th; snare 2 4; kick 1 2& 3"
OTHER = "ride every 4th; snare 3; kick 1 1& 3a 4&"
FILL = "hat 1 1& 2 2&; snare 2 3 3e 3& 3a; high tom 4 4e; floor tom 4& 4a; kick 1 2&"
LANDING = "crash 1; hat 1& 2 2& 3 3& 4 4&; snare 2 4; kick 1 2& 3"


def chart_of(bars: Sequence[str], tempo: float = 120.0) -> tuple[Chart, Grid]:
    strokes = []
    for bar, text in enumerate(bars, start=1):
        for line in (part.strip() for part in text.split(";") if part.strip()):
            ghost = line.startswith("ghost ")
            piece, places = read_line("4/4", line.removeprefix("ghost "))
            strokes += [Stroke(bar=bar, position=at, piece=piece, limb="right hand", ghost=ghost) for at in places]
    ordered = tuple(sorted(strokes, key=lambda s: s.sort_key))
    return Chart(strokes=ordered, bars=(), grade=1.0), regular(["4/4"] * len(bars), tempo)


def play(
    chart: Chart,
    grid: Grid,
    *,
    ratio: float = 1.0,
    start_s: float = 3.0,
    from_bar: int = 1,
    to_bar: int = 10_000,
    jitter_ms: float = 6.0,
    seed: int = 1,
    late_ms: Callable[[Stroke], float] = lambda stroke: 0.0,
    leave: Callable[[Stroke], bool] = lambda stroke: False,
) -> list[Hit]:
    """The chart played at `ratio` times its tempo; ghosts 12 dB down; `late_ms` and `leave` spoil single strokes."""
    rng = random.Random(seed)
    zero = grid.time_at(from_bar, chart.strokes[0].position * 0)
    hits = []
    for stroke in chart.strokes:
        off = rng.gauss(0.0, jitter_ms) / 1000
        if not from_bar <= stroke.bar <= to_bar or leave(stroke):
            continue
        due = (grid.time_at(stroke.bar, stroke.position, swung=True) - zero) / ratio
        hits.append(
            Hit(
                id=len(hits),
                time_s=start_s + due + off + late_ms(stroke) / 1000,
                sound=stroke.piece,
                loudness_db=-18.0 if stroke.ghost else -6.0,
                confidence=1.0,
            )
        )
    return hits


def joined(*parts: Sequence[Hit]) -> list[Hit]:
    """Takes one after the other in one recording, numbered anew."""
    return [msgspec.structs.replace(hit, id=n) for n, hit in enumerate(hit for part in parts for hit in part)]
