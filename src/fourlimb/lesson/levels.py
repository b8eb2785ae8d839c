"""Corrections that concern charts, not what was heard, applied after arranging."""

from fractions import Fraction
from typing import Any

import msgspec

from fourlimb.model import Chart, CorrectionError, Grid, InputError, Kit, Level, Limb, Reason, Section, Sound, Stroke
from fourlimb.model.count import Way
from fourlimb.model.kit import LETTERS
from fourlimb.model.sounds import FOOT

from . import orders as o
from . import rhythm_orders as r
from .rhythms import apply_rhythm


def apply_level_orders(
    charts: dict[Level, Chart],
    orders: list[tuple[int, o.Order]],
    grid: Grid,
    kit: Kit,
    sections: tuple[Section, ...] = (),
) -> tuple[dict[Level, Chart], dict[int, dict[str, Any]], list[Reason]]:
    """The charts with each order applied; for each order that does not fit, its new state and why; new reasons."""
    from fourlimb import arrange

    charts = dict(charts)
    states: dict[int, dict[str, Any]] = {}
    reasons: list[Reason] = []
    for number, order in orders:
        try:
            if isinstance(order, o.Exactly) and order.level:
                charts[order.level] = _exactly(charts[order.level], order, grid, kit)
            elif isinstance(order, o.Silent) and order.level:
                charts[order.level] = _without(charts[order.level], order.bars)
            elif isinstance(order, o.AsBar) and order.level:
                charts[order.level] = _as_bar(charts[order.level], order, grid)
            elif isinstance(order, o.AsLevel):
                lifts = [(first, last, order.source) for first, last in _runs(order.bars)]
                charts[order.level], seams = arrange.lift(charts, order.level, lifts, grid, kit)
                reasons.extend(seams)
            elif isinstance(order, r.Rolled | r.NotRolled | r.Words):
                reasons.extend(apply_rhythm(charts, order, grid, kit))
            elif isinstance(order, o.AimedAt):
                aimed, _, told = arrange.aim(
                    order.target, charts[order.level], grid, kit, sections, level=order.level
                )
                charts[order.level] = aimed
                reasons.extend(told)
        except (CorrectionError, InputError) as error:
            states[number] = {"state": "unfit", "why": str(error)}
    return charts, states, reasons


def _with(chart: Chart, strokes: list[Stroke]) -> Chart:
    return msgspec.structs.replace(chart, strokes=tuple(sorted(strokes, key=lambda s: s.sort_key)))


def _without(chart: Chart, bars: tuple[int, ...]) -> Chart:
    return _with(chart, [s for s in chart.strokes if s.bar not in bars])


def _exactly(chart: Chart, order: o.Exactly, grid: Grid, kit: Kit) -> Chart:
    strokes = list(chart.strokes)
    for bar in order.bars:
        for piece, positions, way in order.told:
            if any(position >= grid.length(bar) for position in positions):
                raise CorrectionError(f"bar {bar} is too short for it")
            old = {s.position: s for s in strokes if s.bar == bar and s.piece == piece}
            strokes = [s for s in strokes if s not in old.values() or (any(way) and s.position not in positions)]
            for position in positions:
                stroke = _stroke(chart, old.get(position), bar, position, piece, kit, strokes)
                strokes.append(_in_way(stroke, way))
    return _with(chart, strokes)


def _in_way(stroke: Stroke, way: Way) -> Stroke:
    """The stroke as it is said to be struck; what is not said stays."""
    said = way.stress is not None
    return msgspec.structs.replace(
        stroke,
        struck=way.struck or stroke.struck,
        second=way.second or stroke.second,
        ghost=way.stress == "ghost" if said else stroke.ghost,
        accent=way.stress == "accent" if said else stroke.accent,
        grace=way.grace if way.grace or way.stress == "plain" else stroke.grace,
    )


def _stroke(
    chart: Chart, old: Stroke | None, bar: int, position: Fraction, piece: Sound, kit: Kit, others: list[Stroke]
) -> Stroke:
    if old is not None:
        return msgspec.structs.replace(old, by="teacher")
    limb = _limb(chart, bar, position, piece, kit, others)
    return Stroke(bar=bar, position=position, piece=piece, limb=limb, letter=LETTERS.get(limb), by="teacher")


def _limb(chart: Chart, bar: int, position: Fraction, piece: Sound, kit: Kit, others: list[Stroke]) -> Limb:
    """The limb that strikes this piece elsewhere in the chart, unless it is busy here; else the free one."""
    if piece in FOOT:
        return kit.kick_foot if piece == "kick" else kit.hat_foot
    busy = {s.limb for s in others if s.bar == bar and s.position == position}
    usual = [s.limb for s in chart.strokes if s.piece == piece]
    wanted: list[Limb] = [max(sorted(set(usual)), key=usual.count)] if usual else []
    for limb in (*wanted, kit.lead_hand, kit.other_hand):
        if limb not in busy:
            return limb
    raise CorrectionError(f"bar {bar}: both hands are busy there; leave something out in the same correction")


def _as_bar(chart: Chart, order: o.AsBar, grid: Grid) -> Chart:
    if any(grid.length(bar) != grid.length(order.source) for bar in order.bars):
        raise CorrectionError(f"these bars are not as long as bar {order.source}")
    model = chart.by_bar.get(order.source, ())
    others = [bar for bar in order.bars if bar != order.source]
    copied = [msgspec.structs.replace(s, bar=bar, by="teacher", hits=()) for bar in others for s in model]
    return _with(chart, [s for s in chart.strokes if s.bar not in others] + copied)


def _runs(bars: tuple[int, ...]) -> list[tuple[int, int]]:
    """Bars as runs of neighbours: (1, 2, 3, 7) -> [(1, 3), (7, 7)]."""
    runs: list[tuple[int, int]] = []
    for bar in bars:
        if runs and runs[-1][1] == bar - 1:
            runs[-1] = (runs[-1][0], bar)
        else:
            runs.append((bar, bar))
    return runs
