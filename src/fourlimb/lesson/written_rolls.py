"""Rolls that a file writes, kept in the charts.

The arranger deals in single strokes; a roll that stands in a MusicXML source is laid over the stroke it begins with.
The bones have no rolls: there it is one plain stroke, and what only goes on from the bar before is not struck.
"""

from collections.abc import Iterable, Mapping
from fractions import Fraction

import msgspec

from fourlimb.model import Chart, Grid, Hit, Level, Reason, Stroke
from fourlimb.model.rolls import beat_ends, roll_ends
from fourlimb.model.sounds import FOOT, ORDER, SAY

Key = tuple[int, Fraction, int, bool]


def with_written_rolls(charts: dict[Level, Chart], hits: Iterable[Hit], grid: Grid) -> list[Reason]:
    """Changes the charts whose source has rolls; returns what became plain, and what both hands have no time for."""
    rolled = {hit.id: hit for hit in hits if hit.roll is not None}
    reasons: list[Reason] = []
    for level, chart in charts.items() if rolled else ():
        own = {_key(s): hit for s in chart.strokes if (hit := _rolled(s, rolled)) is not None}
        if level == "bones":
            charts[level], told = _plain(chart, own)
        else:
            charts[level], told = _rolling(chart, own, grid)
        reasons += [msgspec.structs.replace(reason, levels=(level,)) for reason in told]
    return reasons


def _rolled(stroke: Stroke, rolled: Mapping[int, Hit]) -> Hit | None:
    """The roll that a stroke was read from, where it is still on the piece that was written."""
    found = [rolled[n] for n in stroke.hits if n in rolled and rolled[n].sound == stroke.piece]
    if not found or stroke.by == "teacher":
        return None
    buzz_went = found[0].struck == "buzz" and stroke.struck != "buzz"  # the arranger has said why
    return None if buzz_went else found[0]


def _key(stroke: Stroke) -> Key:
    return stroke.bar, stroke.position, ORDER[stroke.piece], stroke.second


def _plain(chart: Chart, own: Mapping[Key, Hit]) -> tuple[Chart, list[Reason]]:
    kept, told = [], []
    for stroke in chart.strokes:
        hit = own.get(_key(stroke))
        if hit is not None and hit.roll is not None:
            told.append(_dropped(stroke, f"the {SAY[stroke.piece]} roll is played as one plain stroke", "texture"))
            if hit.roll.tied:
                continue
        kept.append(stroke)
    return msgspec.structs.replace(chart, strokes=tuple(kept)), told


def _rolling(chart: Chart, own: Mapping[Key, Hit], grid: Grid) -> tuple[Chart, list[Reason]]:
    strokes = [_with_roll(s, own[_key(s)]) if _key(s) in own else s for s in chart.strokes]
    busy: list[Stroke] = []
    for bar in sorted({key[0] for key in own}):
        inside = tuple(s for s in strokes if s.bar == bar)
        ends = roll_ends(grid.meter(bar), inside) | beat_ends(grid.meter(bar), inside)
        for index, end in ends.items():
            roll = inside[index]
            if roll.piece not in FOOT:
                busy += [s for s in inside if roll.position < s.position < end and _other_hand(s, roll)]
    told = [_dropped(s, "both hands are in the roll that the file writes", "a roll takes both hands") for s in busy]
    return msgspec.structs.replace(chart, strokes=tuple(s for s in strokes if s not in busy)), told


def _with_roll(stroke: Stroke, hit: Hit) -> Stroke:
    assert hit.roll is not None
    return msgspec.structs.replace(
        stroke,
        roll=hit.roll.notes,
        lasts=hit.roll.lasts,
        tied=hit.roll.tied and stroke.position == 0,
    )


def _other_hand(stroke: Stroke, roll: Stroke) -> bool:
    return stroke.piece not in FOOT and stroke.piece != roll.piece and stroke.by != "teacher"


def _dropped(stroke: Stroke, why: str, rule: str) -> Reason:
    return Reason(
        what="dropped", bar=stroke.bar, position=stroke.position, sound=stroke.piece, hits=stroke.hits,
        why=why, rule=rule,
    )  # fmt: skip
