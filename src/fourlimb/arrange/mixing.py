"""Levels mixed by section: a stretch of bars taken from another level, with the seams made playable."""

from collections.abc import Iterable, Mapping
from fractions import Fraction

import msgspec

from fourlimb.model import HANDS, Chart, ChartBar, Grid, InputError, Kit, Level, Limb, Reason, Sound, Stroke
from fourlimb.model.kit import LETTERS

from .difficulty import Difficulty, Judge, content_of, grade, together
from .note import Ledger, Note
from .play import Body, Players, join
from .timing import Clock

Lift = tuple[int, int, Level]
"""First bar, last bar (both included), and the level they are taken from. Later ones win."""


def lift(
    charts: Mapping[Level, Chart], base: Level, lifts: Iterable[Lift], grid: Grid, kit: Kit
) -> tuple[Chart, tuple[Reason, ...]]:
    """The chart of `base` with some bars from other levels, and reasons for strokes that a seam does not allow.

    Raises InputError when a level or a stretch of bars does not exist.
    """
    source = dict.fromkeys(grid.numbers, base)
    for first, last, level in lifts:
        if level not in charts or first > last or not any(first <= bar <= last for bar in source):
            raise InputError(
                f"bars {first}-{last} cannot be taken from {level}: name bars of the song and a level it has"
            )
        source.update((bar, level) for bar in source if first <= bar <= last)
    strokes = {bar: charts[level].by_bar.get(bar, ()) for bar, level in source.items()}
    steps = tuple(dict.fromkeys(step for level in dict.fromkeys(source.values()) for step in charts[level].steps))
    return rejoin(strokes, grid, kit, base, steps)


def rejoin(
    strokes: Mapping[int, tuple[Stroke, ...]], grid: Grid, kit: Kit, level: Level, steps: tuple[str, ...] = ()
) -> tuple[Chart, tuple[Reason, ...]]:
    """A chart from bars that may come from anywhere: limbs are kept where they can be, changed where they must."""
    clock, ledger = Clock(grid), Ledger()
    ceiling, judge = Players(kit, "ceiling", "intermediate"), Judge(clock, kit)
    body = Body()
    made: list[Stroke] = []
    bars: list[ChartBar] = []
    judged: list[Difficulty] = []
    for bar in grid.numbers:
        own = tuple(sorted(strokes.get(bar, ()), key=lambda s: s.sort_key))
        notes = tuple(note_of(stroke) for stroke in own)
        played, after = join(bar, notes, {i: s.limb for i, s in enumerate(own)}, body, clock, ceiling)
        limbs: dict[tuple[Fraction, Sound, bool], Limb] = {(n.position, n.piece, n.second): b for n, b in played}
        for stroke, note in zip(own, notes, strict=True):
            limb = limbs.get((stroke.position, stroke.piece, stroke.second))
            if limb is None:
                ledger.note((level,), "dropped", bar, note, "does not join the bar before at this tempo", "seam")
            else:
                made.append(msgspec.structs.replace(stroke, limb=limb, letter=LETTERS.get(limb)))
        judged.append(judge.bar(bar, played))
        bars.append(ChartBar(bar=bar, figure="", difficulty=judged[-1].value, count=""))
        body = after.next_bar(clock.length_us(bar))
    chart = Chart(strokes=tuple(made), bars=tuple(bars), grade=1.0, steps=steps)
    contents = [content_of(chart.by_bar.get(bar, ())) for bar in grid.numbers]
    graded = grade(together(judged, contents).value)
    return Chart(strokes=chart.strokes, bars=chart.bars, grade=graded, steps=steps), ledger.reasons()


def note_of(stroke: Stroke) -> Note:
    """A written stroke as a note again."""
    return Note(
        position=stroke.position,
        piece=stroke.piece,
        heard=stroke.piece,
        weight=float(stroke.velocity),
        velocity=stroke.velocity,
        hits=stroke.hits,
        pinned=stroke.by == "teacher",
        ghost=stroke.ghost,
        accent=stroke.accent,
        grace=stroke.grace if stroke.limb in HANDS else None,
        struck=stroke.struck,
        second=stroke.second,
    )
