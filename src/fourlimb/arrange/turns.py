"""Who keeps a running line: one hand, or both in turn. Decided by limits before limbs are searched.

Where sixteenths run on a hat and a drum falls among them, one hand can keep the line (the other has the drum, the hat
sounds with it) or both take turns (the hand whose turn it is comes over to the drum, and the hat has no stroke there:
common practice, no source). One hand keeps it where it is fast enough: where nothing in the run passes the player's
`hand_repeat` and `hand_burst`, and the bar played over and over does not pass `hand_sustained` with those places left
out at which a drum gives it a rest. That is asked of the line without the strokes that would go, so that bars which
are written alike are played alike, whether or not a hat was heard with the backbeat.
"""

from collections.abc import Container
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import Final

from fourlimb.model import HANDS, Kit, Level, Sound
from fourlimb.model.places import bar_length
from fourlimb.model.sounds import FOOT, SAY

from .limits import SUSTAINED_GAPS, Player, limit_us
from .memory import Book, Memory
from .note import Bars, Ledger, Note, time_kept, time_surfaces
from .pair import Due
from .timing import Ticks

LONGEST_STEP: Final = Fraction(1, 8)
"""A line runs where its strokes stand closer than this: an eighth and more is one hand's (common practice)."""
LEAST_RUN: Final = 3
"""Strokes in a run, fewer are no run (ours: three show whose turn it is)."""
RULE: Final = "hands in turn"

Dues = tuple[tuple[Fraction, Due], ...]
"""Whose turn it is at places of a bar; nothing is said of the others."""


@dataclass(frozen=True, slots=True)
class Shared:
    """Bars as their hands share them: what is played, what has gone for it, and whose turn it is where.

    `gone` are strokes of the line: at a level where one hand keeps it they come back. `lost` are drums softer than
    the line they fell on: they do not.
    """

    bars: Bars
    gone: Bars = field(default_factory=dict)
    lost: Bars = field(default_factory=dict)
    dues: dict[int, Dues] = field(default_factory=dict)


def share(level: Level, bars: Bars, kit: Kit, player: Player, memory: Memory) -> Shared:
    """Every bar with its time-keeping given to one hand or to both."""
    if not all(hand in kit.limbs for hand in HANDS):
        return Shared(bars)
    shared = Shared({})
    clock = memory.clock
    for bar, notes in bars.items():
        meter, pace = clock.grid.meter(bar), clock.pace_us(bar)
        key = ("share", level, bar)
        shared.bars[bar], gone, lost, dues = memory.recall(key, _share_bar, notes, meter, pace, kit, player)
        if gone:
            shared.gone[bar] = gone
        if lost:
            shared.lost[bar] = lost
        if dues:
            shared.dues[bar] = dues
    return shared


def explain(
    gone: Bars, shared: Shared, bars: Container[int], levels: tuple[Level, ...], book: Book, memory: Memory
) -> None:
    """A reason for every note that has gone from these bars."""
    for bar, notes in gone.items():
        if bar in bars:
            key = ("turns", levels, bar)
            book.add(bar, memory.recall(key, _reasons, bar, notes, shared.bars[bar], levels))


def _reasons(bar: int, gone: tuple[Note, ...], kept: tuple[Note, ...], levels: tuple[Level, ...]) -> Ledger:
    ledger = Ledger()
    for note in gone:
        ledger.note(levels, "dropped", bar, note, _why(note, kept), RULE)
    return ledger


def _why(gone: Note, kept: tuple[Note, ...]) -> str:
    """In plain words: what both hands do here, and what the one that is due plays instead."""
    beside = [n.piece for n in kept if n.position == gone.position and n.piece not in FOOT]
    here = SAY[beside[0]] if beside else "other drum"
    time = time_surfaces(n.piece for n in kept)
    if gone.piece in time:
        return f"both hands take turns on the {SAY[gone.piece]}, and the one due here plays the {here}"
    return f"both hands take turns on the {here}: neither is free for the softer {SAY[gone.piece]} here"


def _share_bar(
    notes: tuple[Note, ...], meter: str, pace: int, kit: Kit, player: Player
) -> tuple[tuple[Note, ...], tuple[Note, ...], tuple[Note, ...], Dues]:
    """What is played, goes and is lost (see `Shared`), and whose turn it is; `pace`: microseconds of a whole note."""
    time = time_kept(notes, meter)
    if sum(n.piece in time for n in notes) < LEAST_RUN:
        return notes, (), (), ()
    ticks = Ticks(meter, (n.position for n in notes))
    runs = [run for run in _runs(notes, ticks) if run.mixes(time)]
    if not runs:
        return notes, (), (), ()
    losing = {id(note) for run in runs for note in run.losing(time)}
    line = sorted({ticks.of(n.position) for n in notes if n.piece in time and id(n) not in losing})
    length, pace_of = ticks.of(bar_length(meter)), Fraction(pace, ticks.whole)
    tired = _passes(line, length, limit_us("hand_sustained", player) / pace_of)
    gone: dict[int, Note] = {}
    dues: dict[Fraction, Due] = {}
    for run in runs:
        own = run.losing(time)
        left = [at for at in line if run.first <= at <= run.last]
        if tired or _hurries(left, player, pace_of):
            gone.update((id(n), n) for n in own)
            dues.update(run.turns(kit, time))
        elif own:
            dues.update((n.position, "one hand") for at in run.notes for n in at if n.piece in time)
    kept = tuple(n for n in notes if id(n) not in gone)
    lost = tuple(n for n in gone.values() if n.piece not in time)
    return kept, tuple(n for n in gone.values() if n.piece in time), lost, tuple(sorted(dues.items()))


def _passes(line: list[int], length: int, least: Fraction) -> bool:
    """True when one hand that plays this line bar after bar strikes closer than `least` ticks all in all."""
    again = [at + turn * length for turn in range(2 + SUSTAINED_GAPS // max(len(line), 1)) for at in line]
    spans = (after - before for before, after in zip(again, again[SUSTAINED_GAPS:], strict=False))
    return any(span < SUSTAINED_GAPS * least for span in spans)


def _hurries(line: list[int], player: Player, pace: Fraction) -> bool:
    """True when two or three strokes of this line follow too soon for one hand; `pace`: microseconds of a tick."""
    repeat, burst = limit_us("hand_repeat", player) / pace, 2 * limit_us("hand_burst", player) / pace
    pairs = any(after - before < repeat for before, after in pairwise(line))
    return pairs or any(after - before < burst for before, after in zip(line, line[2:], strict=False))


@dataclass(frozen=True, slots=True)
class Run:
    """Even strokes of the hands, place by place, from tick to tick; `odd`: the first lies between."""

    first: int
    last: int
    notes: tuple[tuple[Note, ...], ...]
    odd: int

    def mixes(self, time: frozenset[Sound]) -> bool:
        """True when time is kept at both hands' places and something else is struck among it."""
        sides = {at % 2 for at, notes in enumerate(self.notes) if any(n.piece in time for n in notes)}
        return len(sides) == 2 and any(n.piece not in time for notes in self.notes for n in notes)

    def losing(self, time: frozenset[Sound]) -> list[Note]:
        """What cannot sound with the rest where hands take turns: time under a drum, or a drum lighter than it."""
        found = []
        for at, notes in enumerate(self.notes):
            line = [n for n in notes if n.piece in time]
            drums = [n for n in notes if n.piece not in time]
            taught = any(n.pinned for n in line)
            beside = (*self.notes[max(at - 1, 0) : at], *self.notes[at + 1 : at + 2])
            if line and drums and not taught and any(n.piece in time for place in beside for n in place):
                lighter = max(n.weight for n in drums) < max(n.weight for n in line)
                found += drums if lighter else line
        return found

    def turns(self, kit: Kit, time: frozenset[Sound]) -> dict[Fraction, Due]:
        """Which hand is due at each place: the one that keeps time on the beats, the other between."""
        line = [n.piece for notes in self.notes for n in notes if n.piece in time]
        hats = 2 * sum(piece in ("hat_closed", "hat_open") for piece in line) > len(line)
        hands: tuple[Due, Due] = ("other", "lead") if kit.open_handed and hats else ("lead", "other")
        return {notes[0].position: hands[(at + self.odd) % 2] for at, notes in enumerate(self.notes)}


def _runs(notes: tuple[Note, ...], ticks: Ticks) -> list[Run]:
    """All even runs of the hands in a bar, longest stretches, at least `LEAST_RUN` strokes."""
    at: dict[int, list[Note]] = {}
    for note in notes:
        if note.piece not in FOOT:
            at.setdefault(ticks.of(note.position), []).append(note)
    places = sorted(at)
    runs, first = [], 0
    for last in range(1, len(places)):
        step = places[last] - places[last - 1]
        if last + 1 == len(places) or places[last + 1] - places[last] != step:
            odd = _odd(places[first : last + 1], step, ticks)
            if last - first + 1 >= LEAST_RUN and step < LONGEST_STEP * ticks.whole and odd is not None:
                run = tuple(tuple(at[place]) for place in places[first : last + 1])
                runs.append(Run(places[first], places[last], run, odd))
            first = last
    return runs


def _odd(places: list[int], step: int, ticks: Ticks) -> int | None:
    """Whether a run's first place is between those of the beats' hand (1) or not (0); None where beats disagree."""
    found = set()
    for index, place in enumerate(places):
        steps, rest = divmod(place - ticks.beat(place), step)
        if rest:
            return None
        found.add((steps + index) % 2)
    return found.pop() if len(found) == 1 else None
