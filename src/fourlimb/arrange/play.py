"""Bars of notes -> bars of strokes: every figure solved once, then walked through the song.

One figure, one part, one sticking: bars with the same content share one decision, made at the fastest tempo at
which they occur (whatever is playable there is playable slower). Then the song is walked from its first bar,
carrying where each limb is; only where a bar line joins two bars that no hand could join is a bar solved again
from where the limbs are, leaning towards the figure's own sticking. Cost is linear in bars.
"""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from statistics import fmean
from typing import Final

import msgspec

from fourlimb.model import Grid, Kit, Limb, Sound
from fourlimb.model.places import beat_of
from fourlimb.model.sounds import FOOT, TIMEKEEPERS

from .limbs import DOUBLE_BELOW_US, REST, Pair, Place, State, shift, solve, walk
from .limits import Player, limit_us
from .note import Bars, Note, on_one_drum

TEMPO_CLASS: Final = 1.2
"""Bars of one figure that differ more than this in speed are decided apart (ours)."""
FAR_PAST: Final = -(10**12)

Played = tuple[Note, Limb]
Part = dict[int, tuple[Played, ...]]
"""Notes with their limbs, by bar."""


class Clock:
    """Times of places as played (swung), whole microseconds from their bar line, remembered."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self._at: dict[tuple[int, Fraction], int] = {}
        self._length: dict[int, int] = {}

    def us(self, bar: int, position: Fraction) -> int:
        """Microseconds from the bar line to a position."""
        key = (bar, position)
        found = self._at.get(key)
        if found is None:
            seconds = self.grid.time_at(bar, position, swung=True) - self.grid.at(bar).start_s
            found = self._at[key] = round(seconds * 1e6)
        return found

    def length_us(self, bar: int) -> int:
        """Microseconds from this bar line to the next (at least one)."""
        found = self._length.get(bar)
        if found is None:
            seconds = self.grid.end(bar) - self.grid.at(bar).start_s
            found = self._length[bar] = max(round(seconds * 1e6), 1)
        return found


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
        self.hands = Pair(kit, (kit.lead_hand, kit.other_hand), hard, soft)
        self.feet = Pair(kit, (kit.kick_foot, kit.hat_foot), hard, soft)
        self.hat_close = limit_us("hat_close", hard)


def play(bars: Bars, clock: Clock, players: Players) -> Part:
    """Which notes are played, by which limb, so that nothing breaks the hard limits of `players`."""
    own = decide(bars, clock, players)
    part: Part = {}
    body = Body()
    ahead = _ahead(bars)
    for bar, notes in bars.items():
        part[bar], after = join(bar, notes, own.get(bar, {}), body, clock, players, ahead[bar])
        body = after.next_bar(clock.length_us(bar))
    return part


def _ahead(bars: Bars) -> dict[int, tuple[Note, ...]]:
    """The notes on the next bar line, for each bar."""
    numbers = list(bars)
    return {
        bar: tuple(n for n in bars[after] if n.position == 0) if after is not None else ()
        for bar, after in zip(numbers, [*numbers[1:], None], strict=True)
    }


def play_below(
    bars: Bars,
    upper: Part,
    clock: Clock,
    players: Players,
    ceiling: Players,
    hardness: Callable[[int, tuple[Played, ...]], float],
) -> tuple[Part, set[int]]:
    """The same for a lower level, no bar harder than the one above; also the bars that were taken over from above.

    A bar that came out harder is replaced by the bar above; where that cannot follow the bar before, strokes are
    left out, lightest first, until it is easy enough.
    """
    own = decide(bars, clock, players)
    part: Part = {}
    taken: set[int] = set()
    body = Body()
    ahead = _ahead(bars)
    for bar, notes in bars.items():
        bound = hardness(bar, upper[bar])
        played, after = join(bar, notes, own.get(bar, {}), body, clock, players, ahead[bar])
        if hardness(bar, played) > bound:
            above = tuple(note for note, _ in upper[bar])
            limbs = {i: limb for i, (_, limb) in enumerate(upper[bar])}
            again = _walk_bar(_places(bar, above, clock), limbs, body, ceiling)
            if again is not None:
                played, after = upper[bar], again
                taken.add(bar)
            else:
                played, after = _thin(bar, played, bound, body, clock, ceiling, hardness)
        part[bar] = played
        body = after.next_bar(clock.length_us(bar))
    return part, taken


def _thin(
    bar: int,
    played: tuple[Played, ...],
    bound: float,
    body: Body,
    clock: Clock,
    players: Players,
    hardness: Callable[[int, tuple[Played, ...]], float],
) -> tuple[tuple[Played, ...], Body]:
    left = list(played)
    while True:
        after = _walk_bar(
            _places(bar, tuple(n for n, _ in left), clock), {i: p[1] for i, p in enumerate(left)}, body, players
        )
        if after is not None and hardness(bar, tuple(left)) <= bound:
            return tuple(left), after
        left.remove(min(left, key=lambda p: (p[0].weight, -p[0].position, p[0].piece)))


def decide(bars: Bars, clock: Clock, players: Players) -> dict[int, dict[int, Limb]]:
    """Limbs of each bar's kept notes (by index), one decision per figure, made as if the figure stood alone."""
    own: dict[int, dict[int, Limb]] = {}
    for numbers in figures(bars, clock).values():
        fastest = min(numbers, key=lambda bar: (clock.length_us(bar), bar))
        decided = _decide_one(fastest, bars[fastest], clock, players)
        own.update((bar, decided) for bar in numbers)
    return own


def _decide_one(bar: int, notes: tuple[Note, ...], clock: Clock, players: Players) -> dict[int, Limb]:
    places = _places(bar, notes, clock)
    if places and places[0].phrase and places[0].now == 0 and any(n.accent for _, n in places[0].notes):
        turn = [(i + len(notes), note) for i, note in places[0].notes]
        places.append(replace(places[0], now=clock.length_us(bar), notes=tuple(turn)))
    decided, _ = _solve_bar(places, Body(), players, None)
    return {index: limb for index, limb in decided.items() if index < len(notes)}


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
    places = _places(bar, notes, clock)
    after = _walk_bar(places, limbs, body, players)
    if after is None:
        limbs, after = _solve_bar(places, body, players, limbs)
    if ahead and notes:
        landing = _landing(ahead, len(notes), clock.length_us(bar))
        wanted = len(_solve_bar(landing, Body(), players, None)[0])
        if len(_solve_bar(landing, after, players, None)[0]) < wanted:
            both, _ = _solve_bar([*places, *landing], body, players, limbs)
            limbs = {i: limb for i, limb in both.items() if i < len(notes)}
            again = _walk_bar(places, limbs, body, players)
            assert again is not None, "what was solved can be walked"
            after = again
    return tuple((note, limbs[i]) for i, note in enumerate(notes) if i in limbs), after


def figures(bars: Bars, clock: Clock) -> dict[object, list[int]]:
    """Bars with the same content at about the same tempo, grouped."""
    groups: dict[object, list[int]] = defaultdict(list)
    for bar, notes in bars.items():
        if notes:
            groups[clock.grid.meter(bar), content(notes)].append(bar)
    split: dict[object, list[int]] = {}
    for key, numbers in groups.items():
        base, count = 0, 0
        for bar in sorted(numbers, key=lambda b: (clock.length_us(b), b)):
            if clock.length_us(bar) > TEMPO_CLASS * base:
                base, count = clock.length_us(bar), count + 1
            split.setdefault((key, count), []).append(bar)
    return split


def content(notes: tuple[Note, ...]) -> tuple[object, ...]:
    """What makes two bars one figure for the limbs."""
    return tuple((n.position, n.piece, n.grace, n.pinned, n.ghost, n.accent, n.struck, n.second) for n in notes)


def even_out(bars: Bars, clock: Clock) -> Bars:
    """The same bars, with ghosts, accents, force and weight of each figure's strokes made one: what most bars say."""
    made: Bars = dict(bars)
    groups: dict[object, list[int]] = defaultdict(list)
    for bar, notes in bars.items():
        if notes:
            groups[
                clock.grid.meter(bar),
                tuple((n.position, n.piece, n.grace, n.pinned, n.struck, n.second) for n in notes),
            ].append(bar)
    for numbers in groups.values():
        if len(numbers) < 2:
            continue
        columns = list(zip(*(bars[bar] for bar in numbers), strict=True))
        shared = [_shared(column) for column in columns]
        for bar in numbers:
            made[bar] = tuple(
                msgspec.structs.replace(note, ghost=g, accent=a, velocity=v, weight=w)
                for note, (g, a, v, w) in zip(bars[bar], shared, strict=True)
            )
    return made


def _shared(column: tuple[Note, ...]) -> tuple[bool, bool, int, float]:
    half = len(column) / 2
    return (
        sum(n.ghost for n in column) > half,
        sum(n.accent for n in column) > half,
        round(fmean(n.velocity for n in column)),
        round(fmean(n.weight for n in column), 6),
    )


def _places(bar: int, notes: tuple[Note, ...], clock: Clock) -> list[Place]:
    meter = clock.grid.meter(bar)
    by_position: dict[Fraction, list[tuple[int, Note]]] = {}
    for index, note in enumerate(notes):
        by_position.setdefault(note.position, []).append((index, note))
    running: dict[int, bool] = {}
    beats = {position: beat_of(meter, position) for position in by_position}
    for position, group in by_position.items():
        beat = beats[position][0]
        running[beat] = running.get(beat, False) or any(n.piece in TIMEKEEPERS for _, n in group)
    times = [clock.us(bar, position) for position in by_position]
    divisions = [inside.denominator for _, inside in beats.values()]
    accented = [any(n.accent for _, n in group) for group in by_position.values()]
    phrase = on_one_drum(notes) and sum(n.accent for n in notes) > 1
    return [
        Place(
            now=now,
            notes=tuple(group),
            on_beat=beats[position][1] == 0,
            off_eighth=beats[position][1] == Fraction(1, 2),
            keeps_time=running[beats[position][0]],
            split=_splits(times, index),
            strong=index > 0 and divisions[index] < divisions[index - 1],
            phrase=phrase,
            odd=divisions[index] not in (1, 2, 4),
            closes=phrase and accented[(index + 1) % len(accented)],
        )
        for index, (now, (position, group)) in enumerate(zip(times, by_position.items(), strict=True))
    ]


def _splits(times: list[int], index: int) -> bool:
    """True when a place lies midway between its neighbours, alone: the pulse on both sides is twice as slow."""
    if not 0 < index < len(times) - 1:
        return False
    gap, after = times[index] - times[index - 1], times[index + 1] - times[index]
    if gap >= DOUBLE_BELOW_US or abs(gap - after) > 0.1 * gap:
        return False
    beside = [times[index - 1] - times[index - 2]] if index > 1 else []
    beside += [times[index + 2] - times[index + 1]] if index + 2 < len(times) else []
    return bool(beside) and all(abs(pulse - gap - after) <= 0.2 * gap for pulse in beside)


def _half(places: list[Place], feet: bool) -> list[Place]:
    """The same places with only what feet, or hands, may play."""
    halves = []
    for place in places:
        notes = tuple((i, n) for i, n in place.notes if (n.piece in FOOT) == feet)
        if notes:
            halves.append(replace(place, notes=notes))
    return halves


def _solve_bar(
    places: list[Place], body: Body, players: Players, prefer: dict[int, Limb] | None
) -> tuple[dict[int, Limb], Body]:
    hands, hand_state = solve(_half(places, feet=False), body.hands, players.hands, prefer)
    opened = [place.now for place in places for i, n in place.notes if n.opens and i in hands]
    feet_places = _without_clashes(_half(places, feet=True), [body.opened, *opened], players.hat_close)
    feet, foot_state = solve(feet_places, body.feet, players.feet, prefer)
    return hands | feet, Body(hand_state, foot_state, opened[-1] if opened else body.opened)


def _without_clashes(places: list[Place], opened: list[int], need: int) -> list[Place]:
    """Foot places without chicks that would fall on an open hat or too soon after it."""
    kept = []
    for place in places:
        blocked = any(0 <= place.now - at < need for at in opened)
        notes = tuple((i, n) for i, n in place.notes if n.pinned or not (blocked and n.piece == "hat_pedal"))
        if notes:
            kept.append(replace(place, notes=notes))
    return kept


def _walk_bar(places: list[Place], limbs: dict[int, Limb], body: Body, players: Players) -> Body | None:
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
