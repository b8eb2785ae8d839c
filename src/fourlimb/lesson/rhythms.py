"""Rolls and words that the teacher writes, laid over the charts after arranging."""

from collections.abc import Sequence
from fractions import Fraction

import msgspec

from fourlimb.model import LEVELS, Chart, CorrectionError, Grid, Kit, Level, Reason, Stroke
from fourlimb.model.kit import LETTERS
from fourlimb.model.sounds import FOOT

from .rhythm_orders import NotRolled, RhythmOrder, Rolled, Words

Charts = dict[Level, Chart]


def apply_rhythm(charts: Charts, order: RhythmOrder, grid: Grid, kit: Kit) -> list[Reason]:
    """Changes the charts that an order is about (all, or its level's); returns what had to go for it.

    Raises CorrectionError when a bar is gone or too short, or words have more syllables than there are places.
    """
    if lost := [bar for bar in order.bars if not grid.has(bar)]:
        raise CorrectionError(f"there is no bar {lost[0]} any more")
    levels = [order.level] if order.level else [level for level in LEVELS if level in charts]
    if isinstance(order, Words):
        said = _places(charts[levels[0]], order)
        for level in levels:
            charts[level] = _with_words(charts[level], order, said)
        return []
    reasons: list[Reason] = []
    for level in levels:
        if isinstance(order, NotRolled):
            charts[level] = _single(charts[level], order)
            continue
        charts[level], gone = _rolling(charts[level], order, grid, kit)
        reasons += [msgspec.structs.replace(_reason(stroke), levels=(level,)) for stroke in gone]
    return reasons


def _rolling(chart: Chart, order: Rolled, grid: Grid, kit: Kit) -> tuple[Chart, list[Stroke]]:
    strokes = list(chart.strokes)
    gone: list[Stroke] = []
    for bar in order.bars:
        if order.end > grid.length(bar):
            raise CorrectionError(f"bar {bar} is too short for it")
        inside = [s for s in strokes if s.bar == bar and order.start <= s.position < order.end]
        own = [s for s in inside if s.piece == order.piece and not s.second]
        busy = [s for s in inside if s not in own and s.piece not in FOOT] if order.piece not in FOOT else []
        first = next((s for s in own if s.position == order.start), None)
        gone += busy
        strokes = [s for s in strokes if s not in own and s not in busy]
        strokes.append(_roll(first, bar, order, kit))
    return _with(chart, strokes), gone


def _roll(first: Stroke | None, bar: int, order: Rolled, kit: Kit) -> Stroke:
    limb = (kit.kick_foot if order.piece == "kick" else kit.hat_foot) if order.piece in FOOT else kit.lead_hand
    begun = first or Stroke(bar=bar, position=order.start, piece=order.piece, limb=limb, letter=LETTERS.get(limb))
    return msgspec.structs.replace(
        begun,
        roll=order.roll,
        struck=None if order.roll else "buzz",
        lasts=order.end - order.start,
        tied=order.tied and order.start == 0,
        ghost=False,
        grace=None,
        by="teacher",
    )


def _reason(stroke: Stroke) -> Reason:
    return Reason(
        what="dropped", bar=stroke.bar, position=stroke.position, sound=stroke.piece, hits=stroke.hits,
        why="both hands are in the roll that the teacher wrote", rule="a roll takes both hands",
    )  # fmt: skip


def _single(chart: Chart, order: NotRolled) -> Chart:
    def single(stroke: Stroke) -> Stroke:
        if stroke.bar not in order.bars or not stroke.rolls or order.piece not in (None, stroke.piece):
            return stroke
        struck = None if stroke.struck == "buzz" else stroke.struck
        return msgspec.structs.replace(stroke, roll=0, lasts=Fraction(0), tied=False, struck=struck, by="teacher")

    return _with(chart, [single(stroke) for stroke in chart.strokes])


def _places(chart: Chart, order: Words) -> dict[tuple[int, Fraction], str]:
    """Where each syllable is said."""
    struck = sorted({(s.bar, s.position) for s in chart.strokes if _concerns(s, order)})
    if len(order.syllables) > len(struck):
        raise CorrectionError(
            f"{len(order.syllables)} syllables, but only {len(struck)} places are struck there: "
            "name more bars or fewer words"
        )
    return dict(zip(struck, order.syllables, strict=False))


def _concerns(stroke: Stroke, order: Words) -> bool:
    return stroke.bar in order.bars and order.piece in (None, stroke.piece)


def _with_words(chart: Chart, order: Words, said: dict[tuple[int, Fraction], str]) -> Chart:
    """Each syllable to one stroke of its place, a hand's before a foot's; what was said in these bars before goes."""
    bearer: dict[tuple[int, Fraction], Stroke] = {}
    for stroke in sorted(chart.strokes, key=lambda s: (s.piece in FOOT, s.sort_key)):
        if _concerns(stroke, order):
            bearer.setdefault((stroke.bar, stroke.position), stroke)
    strokes = [
        msgspec.structs.replace(s, word=said.get((s.bar, s.position), "") if _is_bearer(s, bearer) else "")
        if s.bar in order.bars
        else s
        for s in chart.strokes
    ]
    return _with(chart, strokes)


def _is_bearer(stroke: Stroke, bearer: dict[tuple[int, Fraction], Stroke]) -> bool:
    return bearer.get((stroke.bar, stroke.position)) is stroke


def _with(chart: Chart, strokes: Sequence[Stroke]) -> Chart:
    return msgspec.structs.replace(chart, strokes=tuple(sorted(strokes, key=lambda s: s.sort_key)))
