"""Bars of notes -> bars of strokes: every figure solved once, then walked through the song.

One figure, one part, one sticking: bars with the same content share one decision, made at the fastest tempo at
which they occur (whatever is playable there is playable slower). Then the song is walked from its first bar,
carrying where each limb is; only where a bar line joins two bars that no hand could join is a bar solved again
from where the limbs are, leaning towards the figure's own sticking. Cost is linear in bars.
"""

from collections import defaultdict
from dataclasses import dataclass
from itertools import takewhile, zip_longest
from typing import Final

import msgspec

from fourlimb.model import Kit, Limb, Sound
from fourlimb.model.sounds import FOOT, TIMEKEEPERS

from .limbs import solve, stumbles, walk
from .limits import SUSTAINED_GAPS, Player, limit_us
from .memory import Memory
from .note import Bars, Note
from .pair import REST, Pair, Place, State, shift
from .placing import every_second, in_turns, places_of
from .timing import TEMPO_CLASS, Clock
from .turns import Shared

FAR_PAST: Final = -(10**12)

Played = tuple[Note, Limb]
Part = dict[int, tuple[Played, ...]]
"""Notes with their limbs, by bar."""


def _landing(ahead: tuple[Note, ...], first: int, now: int) -> list[Place]:
    """The next bar line as one more place of this bar, its notes numbered from `first`."""
    notes = tuple((first + i, note) for i, note in enumerate(ahead))
    return [Place(now, notes, True, False, any(n.piece in TIMEKEEPERS for n in ahead))]


@dataclass(frozen=True, slots=True)
class Body:
    """Where all limbs are at a bar line, and when the hat was last struck open."""

    hands: State = REST
    feet: State = REST
    opened: int = FAR_PAST

    def next_bar(self, bar_us: int) -> "Body":
        """The same, seen from the next bar line."""
        return Body(shift(self.hands, bar_us), shift(self.feet, bar_us), self.opened - bar_us)


class Players:
    """The two pairs of limbs of one player on one kit."""

    def __init__(self, kit: Kit, hard: Player, soft: Player) -> None:
        self.of, self.turns = hard, limit_us("alternating", hard)
        self.hands = Pair(kit, (kit.lead_hand, kit.other_hand), hard, soft)
        self.feet = Pair(kit, (kit.kick_foot, kit.hat_foot), hard, soft)
        self.hat_close = limit_us("hat_close", hard)


def play(shared: Shared, players: Players, memory: Memory) -> Part:
    """Which notes are played, by which limb, so that nothing breaks the hard limits of `players`."""
    bars = shared.bars
    own = decide("full", shared, players, memory)
    part: Part = {}
    body = Body()
    ahead = lines_ahead(bars)
    clock = memory.clock
    for bar, notes in bars.items():
        places = bar_places("full", bar, shared, memory)
        part[bar], body = memory.recall(
            ("play", bar), _play_bar, bar, notes, places, own.get(bar, {}), body, ahead[bar], clock, players
        )
    return part


def _play_bar(
    bar: int,
    notes: tuple[Note, ...],
    places: list[Place],
    limbs: dict[int, Limb],
    body: Body,
    ahead: tuple[Note, ...],
    clock: Clock,
    players: Players,
) -> tuple[tuple[Played, ...], Body]:
    played, after = join_places(bar, notes, places, limbs, body, clock, players, ahead)
    return played, after.next_bar(clock.length_us(bar))


def bar_places(level: str, bar: int, shared: Shared, memory: Memory) -> list[Place]:
    """The places of one bar at one level, remembered."""
    return memory.recall(
        ("places", level, bar), places_of, bar, shared.bars[bar], memory.clock, shared.dues.get(bar, ())
    )


def lines_ahead(bars: Bars) -> dict[int, tuple[Note, ...]]:
    """The notes on the next bar line, for each bar."""
    numbers = list(bars)
    return {
        bar: _on_the_line(bars[after]) if after is not None else ()
        for bar, after in zip_longest(numbers, numbers[1:])
    }


def _on_the_line(notes: tuple[Note, ...]) -> tuple[Note, ...]:
    """A bar's notes on its first place; notes are sorted, so only the first few are looked at."""
    return tuple(takewhile(lambda n: n.position == 0, notes))


def decide(level: str, shared: Shared, players: Players, memory: Memory) -> dict[int, dict[int, Limb]]:
    """Limbs of each bar's kept notes (by index), one decision per figure, made as if the figure stood alone."""
    own: dict[int, dict[int, Limb]] = {}
    bars, clock = shared.bars, memory.clock
    for key, numbers in figures(level, bars, memory).items():
        fastest = min(numbers, key=lambda bar: (clock.length_us(bar), bar))
        places = bar_places(level, fastest, shared, memory)
        decided = memory.recall(
            ("decide", level, key), _decide_one, fastest, bars[fastest], places, clock, players,
            len(numbers) > 1, level != "full",
        )  # fmt: skip
        own.update((bar, decided) for bar in numbers)
    return own


def _decide_one(
    bar: int,
    notes: tuple[Note, ...],
    places: list[Place],
    clock: Clock,
    players: Players,
    returns: bool,
    below: bool,
) -> dict[int, Limb]:
    """`returns`: the bar comes again, mostly after itself: it is played three times, and the second one counts.

    `below`: at a lower level feet must be able to go on in every bar, so that what they cannot keep up is left out
    alike in bars that are not the same.
    """
    own = places
    if returns and any(place.turn and place.due is None for place in places):
        places = [
            msgspec.structs.replace(place, now=place.now + turn * clock.length_us(bar), notes=numbered)
            for turn in range(3)
            for place in places
            for numbered in [tuple((i + (turn + 2) % 3 * len(notes), note) for i, note in place.notes)]
        ]
    elif places[0].phrase and places[0].now == 0 and any(n.accent for _, n in places[0].notes):
        turn = [(i + len(notes), note) for i, note in places[0].notes]
        places = [*places, msgspec.structs.replace(places[0], now=clock.length_us(bar), notes=tuple(turn))]
    decided, _ = _solve_evenly(places, Body(), players, None)
    decided = {index: limb for index, limb in decided.items() if index < len(notes)}
    for pair in [*[players.hands] * returns, *[players.feet] * (returns or below)]:
        decided = _kept_up(notes, own, decided, clock.length_us(bar), pair, evenly=below and pair.feet)
    return decided


def _kept_up(
    notes: tuple[Note, ...], places: list[Place], decided: dict[int, Limb], bar_us: int, pair: Pair, evenly: bool
) -> dict[int, Limb]:
    """What limbs can play bar after bar: where that is less than they can play once, each time the same is left out.

    All that only one limb could play is tried; where it stumbles, the lightest of the last three strokes goes, of
    equal ones that on the weakest place; `evenly`: and with it those that stand as weakly.
    """
    count = sum(limb in pair.limbs for limb in decided.values())
    if not count:
        return decided
    places = _half(places, pair.feet)
    times = range(max(3, min(SUSTAINED_GAPS, 2 + SUSTAINED_GAPS // count)))
    again = [msgspec.structs.replace(place, now=place.now + n * bar_us) for n in times for place in places]
    if not stumbles(again, decided, pair):
        return decided
    kept = dict(decided)
    for index, note in enumerate(notes):
        able = [limb for limb, can in zip(pair.limbs, pair.can, strict=True) if note.piece in can]
        if len(able) == 1:
            kept.setdefault(index, able[0])
    while stopped := stumbles(again, kept, pair):
        loose = [index for index in stopped if not notes[index].pinned]
        gone = min(loose, key=lambda i: (round(notes[i].weight / 5), -weakness(notes[i]), -notes[i].position, i))
        alike = [i for i in kept if evenly and kept[i] in pair.limbs and _stands_alike(notes[i], notes[gone])]
        for index in {gone, *alike}:
            del kept[index]
    return kept


def _stands_alike(one: Note, other: Note) -> bool:
    return not one.pinned and one.piece == other.piece and weakness(one) == weakness(other)


def weakness(note: Note) -> int:
    """How weak a place is in its bar: 1 on the first beat, more on finer divisions of a whole note."""
    return note.position.denominator


def join(
    bar: int,
    notes: tuple[Note, ...],
    limbs: dict[int, Limb],
    body: Body,
    clock: Clock,
    players: Players,
    ahead: tuple[Note, ...] = (),
) -> tuple[tuple[Played, ...], Body]:
    """One bar as decided, or solved again where it cannot follow what came before.

    `ahead` are the notes on the next bar line: where they could not all follow, the bar is solved together with them,
    so that the lighter of two strokes gives way, not the later.
    """
    return join_places(bar, notes, places_of(bar, notes, clock), limbs, body, clock, players, ahead)


def join_places(
    bar: int,
    notes: tuple[Note, ...],
    places: list[Place],
    limbs: dict[int, Limb],
    body: Body,
    clock: Clock,
    players: Players,
    ahead: tuple[Note, ...],
) -> tuple[tuple[Played, ...], Body]:
    """The same, where the bar's places are known."""
    after = walk_bar(places, limbs, body, players)
    if after is None:
        limbs, after = _solve_evenly(places, body, players, limbs)
    if ahead and notes:
        bar_us = clock.length_us(bar)
        if lands(ahead, after, bar_us, players) < lands(ahead, Body(), bar_us, players):
            landing = _landing(ahead, len(notes), bar_us)
            both, _ = _solve_evenly([*places, *landing], body, players, limbs)
            limbs = {i: limb for i, limb in both.items() if i < len(notes)}
            again = walk_bar(places, limbs, body, players)
            assert again is not None, "what was solved can be walked"
            after = again
    return tuple((note, limbs[i]) for i, note in enumerate(notes) if i in limbs), after


def lands(ahead: tuple[Note, ...], body: Body, bar_us: int, players: Players) -> int:
    """How many of the notes on the next bar line can be played from where the limbs are."""
    return len(_solve_bar(_landing(ahead, 0, bar_us), body, players, None)[0]) if ahead else 0


def figures(level: str, bars: Bars, memory: Memory) -> dict[tuple[str, int, int], list[int]]:
    """Bars with the same content at about the same tempo, grouped: (meter, content, class of tempo) -> bars."""
    clock = memory.clock
    groups: dict[tuple[str, int], list[int]] = defaultdict(list)
    for bar, notes in bars.items():
        if notes:
            number = memory.recall(("content", level, bar), _numbered, notes, memory)
            groups[clock.grid.meter(bar), number].append(bar)
    split: dict[tuple[str, int, int], list[int]] = {}
    for (meter, number), numbers in groups.items():
        base, count = 0, 0
        for bar in sorted(numbers, key=lambda b: (clock.length_us(b), b)):
            if clock.length_us(bar) > TEMPO_CLASS * base:
                base, count = clock.length_us(bar), count + 1
            split.setdefault((meter, number, count), []).append(bar)
    return split


def _numbered(notes: tuple[Note, ...], memory: Memory) -> int:
    return memory.number(content(notes))


def content(notes: tuple[Note, ...]) -> tuple[object, ...]:
    """What makes two bars one figure for the limbs."""
    return tuple((n.position, n.piece, n.grace, n.pinned, n.ghost, n.accent, n.struck, n.second) for n in notes)


def _half(places: list[Place], feet: bool) -> list[Place]:
    """The same places with only what feet, or hands, may play."""
    halves = []
    for place in places:
        notes = tuple((i, n) for i, n in place.notes if (n.piece in FOOT) == feet)
        if notes:
            halves.append(place.only(notes))
    return halves


def _solve_bar(
    places: list[Place], body: Body, players: Players, prefer: dict[int, Limb] | None
) -> tuple[dict[int, Limb], Body]:
    hands, hand_state = solve(_half(places, feet=False), body.hands, players.hands, prefer)
    opened = [place.now for place in places for i, n in place.notes if n.opens and i in hands]
    feet_places = _without_clashes(_half(places, feet=True), [body.opened, *opened], players.hat_close)
    feet, foot_state = solve(feet_places, body.feet, players.feet, prefer)
    return hands | feet, Body(hand_state, foot_state, opened[-1] if opened else body.opened)


def _solve_evenly(
    places: list[Place], body: Body, players: Players, prefer: dict[int, Limb] | None
) -> tuple[dict[int, Limb], Body]:
    """The same; a fill that is too fast for this player loses every second stroke, not one here and one there.

    And quick runs are singles or doubles, not both.
    """
    limbs, after = _solve_bar(places, body, players, prefer)
    slower = every_second(places, limbs, players.turns) if players.of != "ceiling" else None
    other = slower or in_turns(places, limbs, players.hands.limbs[0])
    if other is None:
        return limbs, after
    again, then = _solve_bar(other, body, players, prefer)
    asked = [i for place in other for i, n in place.notes if n.piece not in FOOT]
    whole = all(i in again for i in asked) if slower else again.keys() >= limbs.keys() & {*asked}
    return (again, then) if whole else (limbs, after)


def _without_clashes(places: list[Place], opened: list[int], need: int) -> list[Place]:
    """Foot places without chicks that would fall on an open hat or too soon after it."""
    kept = []
    for place in places:
        blocked = any(0 <= place.now - at < need for at in opened)
        notes = tuple((i, n) for i, n in place.notes if n.pinned or not (blocked and n.piece == "hat_pedal"))
        if notes:
            kept.append(place.only(notes))
    return kept


def walk_bar(places: list[Place], limbs: dict[int, Limb], body: Body, players: Players) -> Body | None:
    """Where the limbs are after a bar as decided, or None where it cannot follow what came before."""
    hands = walk(places, limbs, body.hands, players.hands)
    feet = walk(places, limbs, body.feet, players.feet) if hands is not None else None
    if hands is None or feet is None:
        return None
    opened = body.opened
    for place in places:
        played: set[Sound] = {n.piece for i, n in place.notes if i in limbs}
        if any(n.opens for i, n in place.notes if i in limbs):
            opened = place.now
        if "hat_pedal" in played and place.now - opened < players.hat_close:
            pinned = any(n.pinned for _, n in place.notes if n.piece == "hat_pedal")
            if not pinned:
                return None
    return Body(hands, feet, opened)
