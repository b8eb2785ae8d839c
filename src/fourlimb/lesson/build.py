"""The engines in order: a listening and the teacher's corrections -> a lesson as data. Touches no disk."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

import msgspec

from fourlimb import __version__
from fourlimb.model import (
    LEVELS,
    Chart,
    Correction,
    Grid,
    Kit,
    Lesson,
    Level,
    Listening,
    Plan,
    Printing,
    Progress,
    Reason,
    Sheet,
    Stroke,
    silent,
)
from fourlimb.model.sounds import SAY

from .learning import OnlyAt
from .levels import apply_level_orders
from .replay import SAME_PLACE_S, replay
from .written_rolls import with_written_rolls

if TYPE_CHECKING:
    from fourlimb.arrange import Memory


LONGEST_PLAYED_S: Final = 30 * 60.0
"""A longer song's charts are not played as sound: that takes some 90 MB a minute (docs/ears.md)."""


def build(
    heard: Listening,
    *,
    kit: Kit | None = None,
    corrections: tuple[Correction, ...] = (),
    printing: Printing | None = None,
    progress: Progress = silent,
    memory: "Memory | None" = None,
) -> Lesson:
    """The whole lesson. The same listening and corrections always give the same lesson.

    A program that corrects bar after bar keeps one `memory` and passes it every time: only what changed is arranged.
    """
    from fourlimb import arrange

    kit, printing = kit or Kit(), printing or Printing()
    done = replay(heard, corrections)
    progress("Arranging for two hands and two feet", 0.0)
    arranged = arrange.arrange(done.heard, kit, progress=progress, memory=memory)
    charts, reasons = _obey(dict(arranged.charts), list(arranged.reasons), done.only, done.heard)
    reasons.extend(with_written_rolls(charts, done.heard.hits, done.heard.grid))
    charts, states, seams = apply_level_orders(charts, done.level_orders, done.heard.grid, kit, done.heard.sections)
    reasons.extend(seams)
    listed = tuple(msgspec.structs.replace(x, **states.get(x.n, {})) for x in done.corrections)
    progress("Finding what is the same and what changes", 0.0)
    plans = {level: plan_of(chart, done.heard, kit, printing) for level, chart in charts.items()}
    charts = {level: _told(chart, plans[level]) for level, chart in charts.items()}
    full = plans["full"]
    return Lesson(
        song=done.heard.song,
        grid=done.heard.grid,
        hits=done.heard.hits,
        sections=done.heard.sections,
        landmarks=done.heard.landmarks,
        kit=kit,
        charts={level: charts[level] for level in LEVELS},
        reasons=tuple(reasons),
        figures=full.figures,
        differences=full.differences,
        running_order=full.running_order,
        printing=printing,
        corrections=listed,
        doubts=done.heard.doubts,
        notes=(*done.heard.notes, *_length_said(done.heard.grid)),
        made_by=f"fourlimb {__version__}",
        extra=dict(heard.extra),
    )


def is_played(grid: Grid) -> bool:
    """Whether the song is short enough for its charts to be played as sound."""
    return grid.end_s <= LONGEST_PLAYED_S


def _length_said(grid: Grid) -> tuple[str, ...]:
    if is_played(grid):
        return ()
    return (
        f"this recording is {grid.end_s / 60:.0f} minutes long: it has charts, but they are not played as sound; "
        "cut out one song to have both",
    )


def plan_of(chart: Chart, heard: Listening | Lesson, kit: Kit, printing: Printing) -> Plan:
    """What `teach` makes of one chart."""
    from fourlimb import teach

    return teach.plan(chart, heard.grid, kit, tradition=printing.counting)


def _told(chart: Chart, plan: Plan) -> Chart:
    """The chart with each bar's figure and count line written in."""
    names = {bar: figure.name for figure in plan.figures for bar in figure.bars}
    bars = tuple(
        msgspec.structs.replace(bar, figure=names.get(bar.bar, ""), count=plan.counts.get(bar.bar, ""))
        for bar in chart.bars
    )
    return msgspec.structs.replace(chart, bars=bars)


def _obey(
    charts: dict[Level, Chart], reasons: list[Reason], only: Iterable[OnlyAt], heard: Listening
) -> tuple[dict[Level, Chart], list[Reason]]:
    """Take out what the arranger moved onto a piece where the teacher said exactly where it is struck."""
    rules = list(only)
    if not rules:
        return charts, reasons

    def breaks(stroke: Stroke) -> bool:
        if stroke.by == "teacher":
            return False
        time_s = heard.grid.time_at(stroke.bar, stroke.position, swung=True)
        for rule in rules:
            inside = rule.start_s - SAME_PLACE_S <= time_s < rule.end_s - SAME_PLACE_S
            if inside and stroke.piece == rule.piece:
                return all(abs(time_s - t) > SAME_PLACE_S for t in rule.times_s)
        return False

    obeyed: dict[Level, Chart] = {}
    for level, chart in charts.items():
        gone = [stroke for stroke in chart.strokes if breaks(stroke)]
        kept = tuple(stroke for stroke in chart.strokes if stroke not in gone)
        obeyed[level] = msgspec.structs.replace(chart, strokes=kept)
        reasons.extend(_by_teacher(stroke, level) for stroke in gone)
    return obeyed, reasons


def _by_teacher(stroke: Stroke, level: Level) -> Reason:
    return Reason(
        what="dropped",
        bar=stroke.bar,
        position=stroke.position,
        sound=stroke.piece,
        why=f"the teacher wrote where the {SAY[stroke.piece]} is struck in bar {stroke.bar}",
        levels=(level,),
        hits=stroke.hits,
        rule="teacher",
    )


def marked(lesson: Lesson) -> tuple[int, ...]:
    """Bars that carry a "check me" mark: the first tenth of those worth checking (a mark on every bar marks none)."""
    most = max(2, len(lesson.grid.bars) // 10)
    return tuple(sorted(doubt.bar for doubt in lesson.doubts[:most]))


def sheets(lesson: Lesson) -> dict[Level, Sheet]:
    """One sheet per level: what `engrave`, `sound` and `page` are given."""
    found: dict[Level, Sheet] = {}
    song = msgspec.structs.replace(lesson.song, credits=lesson.printing.rights or lesson.song.credits)
    for level in LEVELS:
        chart = lesson.charts[level]
        found[level] = Sheet(
            song=song,
            level=level,
            chart=chart,
            grid=lesson.grid,
            kit=lesson.kit,
            plan=plan_of(chart, lesson, lesson.kit, lesson.printing),
            sections=lesson.sections,
            landmarks=lesson.landmarks,
            doubts=marked(lesson),
        )
    return found
