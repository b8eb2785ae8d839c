"""Placed hits -> charts at three levels that one drummer can play, with a reason for every change.

Method: `gather` turns hits into notes and settles layers and missing pieces; `play` chooses what is kept and
which limb plays it; `levels` takes named steps down; `difficulty` judges every bar, and a bar of a lower level
that came out harder than the bar above is replaced by it. Full is what can be played at all (ceiling) with the
comfort of the given player; steady keeps within that player's limits, bones within a beginner's. Same input, same
charts.

What this cannot do: it hears nothing (wrong hits in, wrong strokes out), and it judges style only by its tables.
"""

from dataclasses import dataclass
from typing import Final

import msgspec

from fourlimb.model import (
    HANDS,
    LEVELS,
    Chart,
    ChartBar,
    Grid,
    InputError,
    Kit,
    Level,
    Limb,
    Listening,
    Progress,
    Reason,
    Sound,
    Stroke,
    silent,
)
from fourlimb.model.kit import LETTERS
from fourlimb.model.sounds import FOOT, SAY

from .difficulty import Judge, content_of, grade, together
from .gather import gather
from .graces import settle_graces
from .levels import STEPS, Deed, Step, View, simplify
from .limits import PLAYERS, Player
from .note import Bars, Ledger, Note
from .play import Clock, Part, Players, even_out, play, play_below
from .ways import settle_ways

BONES_PLAYER: Final[Player] = "beginner"


@dataclass(frozen=True)
class Arrangement:
    """Charts by level, and the reasons for what is not as it was heard, in song order."""

    charts: dict[Level, Chart]
    reasons: tuple[Reason, ...]


def arrange(
    listening: Listening, kit: Kit, *, player: Player = "intermediate", progress: Progress = silent
) -> Arrangement:
    """Charts at all levels. Never fails on odd hits: what cannot be written has a reason.

    Raises InputError when the player is unknown or the kit has a piece in no place at all.
    """
    if player not in PLAYERS:
        raise InputError(f'player "{player}" is not known: use one of {", ".join(PLAYERS)}')
    grid, ledger = listening.grid, Ledger()
    clock = Clock(grid)
    progress("sorting what was heard", 0.0)
    notes = even_out(gather(listening, kit, ledger), clock)
    judge = Judge(clock, kit)
    ceiling = Players(kit, "ceiling", player)
    progress("the full part", 0.2)
    part = play(notes, clock, ceiling)
    _explain(notes, part, LEVELS, kit, ledger)
    parts: dict[Level, Part] = {"full": _settled(part, clock, kit, LEVELS, ledger)}
    steps: dict[Level, tuple[str, ...]] = {"full": ()}
    lower: tuple[tuple[Level, Level, Player, float], ...] = (
        ("steady", "full", player, 0.5),
        ("bones", "steady", BONES_PLAYER, 0.75),
    )
    for level, above, hard, share in lower:
        progress(f"the {level} part", share)
        players = Players(_single_pedal(kit), hard, hard)
        parts[level], used = _lower(level, parts[above], listening, kit, clock, players, ceiling, judge, ledger)
        steps[level] = steps[above] + used
    charts: dict[Level, Chart] = {}
    most = 8.0
    for level in LEVELS:
        charts[level] = _chart(parts[level], grid, judge, steps[level], most)
        most = charts[level].grade
    progress("the parts are written", 1.0)
    return Arrangement(charts=charts, reasons=ledger.reasons())


def _settled(part: Part, clock: Clock, kit: Kit, levels: tuple[Level, ...], ledger: Ledger) -> Part:
    return settle_ways(settle_graces(part, clock, kit, levels, ledger), clock, kit, levels, ledger)


def _single_pedal(kit: Kit) -> Kit:
    return msgspec.structs.replace(kit, double_pedal=False)


def _lower(
    level: Level,
    upper: Part,
    listening: Listening,
    kit: Kit,
    clock: Clock,
    players: Players,
    ceiling: Players,
    judge: Judge,
    ledger: Ledger,
) -> tuple[Part, tuple[str, ...]]:
    """One level down: named steps, then what this player can reach; reasons for both."""
    levels = LEVELS[LEVELS.index(level) :]
    starts = {section.from_bar for section in listening.sections}
    simpler: Bars = {}
    deeds: dict[int, list[tuple[Step, Deed]]] = {}
    numbers = list(upper)
    for bar, after in zip(numbers, [*numbers[1:], None], strict=True):
        played, at = upper[bar], clock.grid.at(bar)
        kick_next = after is not None and any(n.piece == "kick" and n.position == 0 for n, _ in upper[after])
        view = View(bar, at.meter, at.tempo_bpm, bar in starts, kit, kick_next)
        simpler[bar], deeds[bar] = simplify(tuple(note for note, _ in played), view, level)
    part, taken = play_below(simpler, upper, clock, players, ceiling, lambda b, p: judge.bar(b, p).value)
    used: set[str] = set()
    for bar, done in deeds.items():
        for step, deed in done if bar not in taken else ():
            ledger.note(levels, deed.what, bar, deed.note, deed.why, step.name, deed.to)
            used.add(step.name)
    kept = {bar: notes for bar, notes in simpler.items() if bar not in taken}
    _explain(kept, part, levels, kit, ledger)
    part = _settled(part, clock, kit, levels, ledger)
    return part, tuple(step.name for step in STEPS if step.name in used)


def _explain(bars: Bars, part: Part, levels: tuple[Level, ...], kit: Kit, ledger: Ledger) -> None:
    """A reason for every note that no limb was found for."""
    hands = sum(limb in kit.limbs for limb in HANDS)
    for bar, notes in bars.items():
        played = part[bar]
        if len(played) == len(notes):
            continue
        kept = {(note.position, note.piece, note.second) for note, _ in played}
        for note in notes:
            if (note.position, note.piece, note.second) in kept:
                continue
            beside = [n.piece for n, limb in played if n.position == note.position and limb in HANDS]
            why, rule = _why_left_out(note, beside, hands)
            if note.hits or rule:
                ledger.note(levels, "dropped", bar, note, why, rule)


def _why_left_out(note: Note, beside: list[Sound], hands: int) -> tuple[str, str]:
    say = SAY[note.piece]
    if note.piece not in FOOT and len(beside) >= max(hands, 1):
        others = " and ".join(SAY[piece] for piece in beside)
        return (
            f"{'two hands' if hands == 2 else 'one hand'} already play {others}: the {say} is left out",
            "two hands",
        )
    if note.piece == "hat_pedal":
        return "the hi-hat foot cannot be there: the hat is open, or the foot is too fast", "hi-hat foot"
    if note.piece == "kick":
        return "too soon after the last kick for one foot at this tempo", "one foot"
    return f"no hand reaches the {say} in time at this tempo", "hand speed"


def _chart(part: Part, grid: Grid, judge: Judge, steps: tuple[str, ...], most: float) -> Chart:
    """One level's chart; a level never has more to remember than the one above, so its grade is at most `most`."""
    rows = {bar: tuple(_stroke(bar, note, limb) for note, limb in played) for bar, played in part.items()}
    judged = {bar: judge.bar(bar, part[bar]) for bar in grid.numbers}
    bars = tuple(ChartBar(bar=bar, figure="", difficulty=judged[bar].value, count="") for bar in grid.numbers)
    all_bars = together([judged[bar] for bar in grid.numbers], [content_of(rows[bar]) for bar in grid.numbers])
    strokes = tuple(stroke for row in rows.values() for stroke in row)
    return Chart(strokes=strokes, bars=bars, grade=min(grade(all_bars.value), most), steps=steps)


def _stroke(bar: int, note: Note, limb: Limb) -> Stroke:
    return Stroke(
        bar=bar,
        position=note.position,
        piece=note.piece,
        limb=limb,
        letter=LETTERS.get(limb),
        accent=note.accent,
        ghost=note.ghost,
        grace=note.grace,
        struck=note.struck,
        second=note.second,
        velocity=note.velocity,
        hits=tuple(sorted(note.hits)),
        by="teacher" if note.pinned else "arranger",
    )
