"""Placed hits -> charts at three levels that one drummer can play, with a reason for every change.

Method: `gather` turns hits into notes and settles layers and missing pieces; `play` chooses what is kept and
which limb plays it; `levels` takes named steps down; `difficulty` judges every bar, and a bar of a lower level
that came out harder than the bar above is replaced by it. Full is what can be played at all (ceiling) with the
comfort of the given player; steady keeps within that player's limits, bones within a beginner's. Same input, same
charts.

What this cannot do: it hears nothing (wrong hits in, wrong strokes out), and it judges style only by its tables.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import takewhile, zip_longest
from types import MappingProxyType
from typing import Final

import msgspec

from fourlimb.model import (
    HANDS,
    LEVELS,
    Chart,
    ChartBar,
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
from fourlimb.model.sounds import FOOT, SAY, TOMS

from .below import play_below
from .difficulty import Difficulty, Judge, content_of, grade, together
from .evening import Force, even_out
from .gather import gather
from .graces import settle_graces
from .levels import STEPS, View, simplify
from .limits import PLAYERS, Player
from .lines import one_line
from .memory import Book, Memory
from .note import Bars, Ledger, Note
from .play import Part, Played, Players, play
from .roles import Toms, groove_toms
from .turns import Shared, explain, share
from .ways import settle_ways

BONES_PLAYER: Final[Player] = "beginner"


@dataclass(frozen=True)
class Arrangement:
    """Charts by level, and the reasons for what is not as it was heard, in song order."""

    charts: dict[Level, Chart]
    reasons: tuple[Reason, ...]


def arrange(
    listening: Listening,
    kit: Kit,
    *,
    player: Player = "intermediate",
    progress: Progress = silent,
    memory: Memory | None = None,
) -> Arrangement:
    """Charts at all levels. Never fails on odd hits: what cannot be written has a reason.

    `memory`, kept by the caller from one call to the next, makes a song of which one bar has changed cost that bar.
    Raises InputError when the player is unknown or the kit has a piece in no place at all.
    """
    if player not in PLAYERS:
        raise InputError(f'player "{player}" is not known: use one of {", ".join(PLAYERS)}')
    memory = memory if memory is not None else Memory()
    memory.begin(listening.grid, kit, player)
    work = memory.recall("work", _Work, kit, player, memory)
    return work.arrange(listening, progress)


class _Work:
    """What stays the same while a song is arranged: kit, players, judge, memory."""

    def __init__(self, kit: Kit, player: Player, memory: Memory) -> None:
        self.kit, self.player, self.memory, self.clock = kit, player, memory, memory.clock
        self.hands = sum(limb in kit.limbs for limb in HANDS)
        self.judge = Judge(self.clock, kit)
        self.ceiling = Players(kit, "ceiling", player)
        single = _single_pedal(kit)
        self.below: tuple[tuple[Level, Level, Players, float], ...] = (
            ("steady", "full", Players(single, player, player), 0.5),
            ("bones", "steady", Players(single, BONES_PLAYER, BONES_PLAYER), 0.75),
        )

    def arrange(self, listening: Listening, progress: Progress) -> Arrangement:
        """All levels of one song."""
        book = Book()
        progress("sorting what was heard", 0.0)
        notes, force = even_out(gather(listening, self.kit, book, self.memory), self.memory)
        notes = one_line(notes, book, self.memory)
        progress("the full part", 0.2)
        shared = share("full", notes, self.kit, self.player, self.memory)
        explain(shared.gone, shared, shared.bars, LEVELS[:1], book, self.memory)
        explain(shared.lost, shared, shared.bars, LEVELS, book, self.memory)
        part = play(shared, self.ceiling, self.memory)
        self._explain(shared.bars, part, LEVELS, book)
        parts: dict[Level, Part] = {"full": self._settled(part, LEVELS, book)}
        steps: dict[Level, tuple[str, ...]] = {"full": ()}
        for level, above, players, done in self.below:
            progress(f"the {level} part", done)
            parts[level], used, shared = self._lower(level, parts[above], shared, listening, players, book)
            steps[level] = steps[above] + used
        charts: dict[Level, Chart] = {}
        most = HIGHEST_GRADE
        for level in LEVELS:
            charts[level] = self._chart(level, parts[level], force, steps[level], most)
            most = charts[level].grade
        progress("the parts are written", 1.0)
        return Arrangement(charts=charts, reasons=self._reasons(book))

    def _settled(self, part: Part, levels: tuple[Level, ...], book: Book) -> Part:
        plain = settle_graces(part, self.kit, levels, book, self.memory)
        return settle_ways(plain, self.kit, levels, book, self.memory)

    def _lower(
        self, level: Level, upper: Part, above: Shared, listening: Listening, players: Players, book: Book
    ) -> tuple[Part, tuple[str, ...], Shared]:
        """One level down: named steps, then what this player can reach; reasons for both.

        What hands in turn had no room for above comes back first: where one hand keeps time, there is room.
        """
        levels = LEVELS[LEVELS.index(level) :]
        simpler, told = self._stepped(level, levels, upper, above, listening)
        shared = share(level, simpler, self.kit, players.of, self.memory)
        part, taken, eased = play_below(level, shared, upper, players, self.ceiling, self._hardness, self.memory)
        own = shared.bars.keys() - taken
        explain(above.gone, above, taken, levels[:1], book, self.memory)
        explain(shared.gone, shared, own, levels[:1], book, self.memory)
        explain(shared.lost, shared, own, levels, book, self.memory)
        used: set[str] = set()
        for bar, (ledger, names) in told.items():
            if bar not in taken:
                book.add(bar, ledger)
                used.update(names)
        kept = {bar: notes for bar, notes in shared.bars.items() if bar not in taken}
        self._explain(kept, part, levels, book, eased)
        part = self._settled(part, levels, book)
        gone = {bar: notes for bar, notes in shared.gone.items() if bar in own}
        gone.update((bar, notes) for bar, notes in above.gone.items() if bar in taken)
        bars = {bar: notes if bar in own else above.bars[bar] for bar, notes in shared.bars.items()}
        return part, tuple(step.name for step in STEPS if step.name in used), Shared(bars, gone)

    def _stepped(
        self, level: Level, levels: tuple[Level, ...], upper: Part, above: Shared, listening: Listening
    ) -> "tuple[Bars, Told]":
        """Every bar after the named steps of one level, and what they did."""
        starts = {section.from_bar for section in listening.sections}
        toms = {bar: self.memory.recall(("groove", level, bar), _toms, played) for bar, played in upper.items()}
        grooves = groove_toms(toms)
        simpler: Bars = {}
        told: Told = {}
        numbers = list(upper)
        for bar, after in zip_longest(numbers, numbers[1:]):
            kick_next = after is not None and _kick_on_1(upper[after])
            back = above.gone.get(bar, ())
            simpler[bar], ledger, names = self.memory.recall(
                ("simpler", level, bar), self._simpler,
                level, levels, bar, upper[bar], back, bar in starts, kick_next, bar in grooves,
            )  # fmt: skip
            told[bar] = ledger, names
        return simpler, told

    def _simpler(
        self,
        level: Level,
        levels: tuple[Level, ...],
        bar: int,
        played: tuple[Played, ...],
        back: tuple[Note, ...],
        section_start: bool,
        kick_next: bool,
        groove: bool,
    ) -> tuple[tuple[Note, ...], Ledger, tuple[str, ...]]:
        at = self.clock.grid.at(bar)
        view = View(bar, at.meter, at.tempo_bpm, section_start, self.kit, kick_next, groove)
        heard = (*(note for note, _ in played), *back)
        notes, deeds = simplify(tuple(sorted(heard, key=lambda n: n.sort_key)), view, level)
        ledger = Ledger()
        for step, deed in deeds:
            ledger.note(levels, deed.what, bar, deed.note, deed.why, step.name, deed.to)
        return notes, ledger, tuple(step.name for step, _ in deeds)

    def _hardness(self, bar: int, played: tuple[Played, ...]) -> float:
        return self.judge.bar(bar, played).value

    def _explain(
        self,
        bars: Bars,
        part: Part,
        levels: tuple[Level, ...],
        book: Book,
        eased: Mapping[int, tuple[Note, ...]] = MappingProxyType({}),
    ) -> None:
        """A reason for every note that no limb was found for, or that was left out to make its bar easier."""
        for bar, notes in bars.items():
            if len(part[bar]) != len(notes):
                ledger = self.memory.recall(
                    ("explain", levels[0], bar),
                    _left_out,
                    bar,
                    notes,
                    part[bar],
                    eased.get(bar, ()),
                    levels,
                    self.hands,
                )
                book.add(bar, ledger)

    def _chart(self, level: Level, part: Part, force: dict[int, Force], steps: tuple[str, ...], most: float) -> Chart:
        """One level's chart; a level never has more to remember than the one above: its grade is at most `most`."""
        rows = [
            self.memory.recall(("chart", level, bar), self._written, bar, part[bar], force.get(bar, {}))
            for bar in part
        ]
        whole = together([row.judged for row in rows], [row.content for row in rows])
        strokes = tuple(stroke for row in rows for stroke in row.strokes)
        bars = tuple(row.bar for row in rows)
        return Chart(strokes=strokes, bars=bars, grade=min(grade(whole.value), most), steps=steps)

    def _written(self, bar: int, played: tuple[Played, ...], force: Force) -> "_Row":
        strokes = tuple(_stroke(bar, note, limb, force) for note, limb in played)
        judged = self.judge.bar(bar, played)
        content = self.memory.number(("written", content_of(strokes))) if strokes else 0
        return _Row(strokes, ChartBar(bar=bar, figure="", difficulty=judged.value, count=""), judged, content)

    def _reasons(self, book: Book) -> tuple[Reason, ...]:
        return tuple(
            reason for bar, parts in book.parts() for reason in self.memory.recall(("reasons", bar), _merged, parts)
        )


HIGHEST_GRADE: Final = 8.0
Told = dict[int, tuple[Ledger, tuple[str, ...]]]
"""What the steps of a level did in each bar, and the names of those that did something."""


@dataclass(frozen=True, slots=True)
class _Row:
    """One bar as written: its strokes, its line in the chart, its difficulty, a number for what it holds."""

    strokes: tuple[Stroke, ...]
    bar: ChartBar
    judged: Difficulty
    content: int


def _merged(parts: tuple[Ledger, ...]) -> tuple[Reason, ...]:
    whole = Ledger()
    for part in parts:
        whole.take(part)
    return whole.reasons()


def _toms(played: tuple[Played, ...]) -> Toms:
    return frozenset((note.position, note.piece) for note, _ in played if note.piece in TOMS)


def _kick_on_1(played: tuple[Played, ...]) -> bool:
    return any(n.piece == "kick" for n, _ in takewhile(lambda p: p[0].position == 0, played))


def _single_pedal(kit: Kit) -> Kit:
    return msgspec.structs.replace(kit, double_pedal=False)


def _left_out(
    bar: int,
    notes: tuple[Note, ...],
    played: tuple[Played, ...],
    eased: tuple[Note, ...],
    levels: tuple[Level, ...],
    hands: int,
) -> Ledger:
    kept = {(note.position, note.piece, note.second) for note, _ in played}
    ledger = Ledger()
    for note in notes:
        if (note.position, note.piece, note.second) in kept:
            continue
        beside = [n.piece for n, limb in played if n.position == note.position and limb in HANDS]
        why, rule = (EASED, NO_HARDER) if note in eased else _why_left_out(note, beside, hands)
        ledger.note(levels, "dropped", bar, note, why, rule)
    return ledger


EASED: Final = "with it this bar would be harder than in the part above: left for later"
NO_HARDER: Final = "no harder than above"


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


def _stroke(bar: int, note: Note, limb: Limb, force: Force) -> Stroke:
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
        velocity=force.get(note.hits[0], note.velocity) if note.hits else note.velocity,
        hits=tuple(sorted(note.hits)),
        by="teacher" if note.pinned else "arranger",
    )
