"""A lower level, bar by bar, after its steps down: who plays what, and no bar harder than the bar above.

A bar that came out harder is tried, in this order: with the limbs of the bar above; at bones without kicks and
snares between the beats, fewest first, so that its time-keeping stays as plain as in the bars around it; as the bar
above; and where that cannot follow the bar before, or the next bar line cannot follow it, with strokes left out,
lightest first.
"""

from collections.abc import Callable
from typing import Final, NamedTuple

from fourlimb.model import Level, Limb, Sound
from fourlimb.model.places import beat_of

from .memory import Memory
from .note import Note
from .pair import Place
from .placing import places_of
from .play import Body, Part, Played, Players, bar_places, decide, join_places, lands, lines_ahead, walk_bar, weakness
from .timing import Clock
from .turns import Shared

Hardness = Callable[[int, tuple[Played, ...]], float]

BETWEEN_BEATS: Final[frozenset[Sound]] = frozenset({"kick", "snare", "rim"})
"""What may go at bones where it stands between the beats."""


class Lower(NamedTuple):
    """A level below: what is played; bars taken over from above; what was left out so that a bar is no harder."""

    part: Part
    taken: set[int]
    eased: dict[int, tuple[Note, ...]]


class _Tried(NamedTuple):
    """One bar of a lower level, and where the limbs are at its end."""

    played: tuple[Played, ...]
    after: Body
    from_above: bool = False
    eased: tuple[Note, ...] = ()


def play_below(
    level: Level, shared: Shared, upper: Part, players: Players, ceiling: Players, hardness: Hardness, memory: Memory
) -> Lower:
    """Which notes of a lower level are played, by which limb."""
    own = decide(level, shared, players, memory)
    lower = Lower({}, set(), {})
    body = Body()
    ahead = lines_ahead(shared.bars)
    for bar, notes in shared.bars.items():
        tried = memory.recall(
            ("below", level, bar), _play_bar,
            level, bar, notes, bar_places(level, bar, shared, memory), own.get(bar, {}), body, ahead[bar], upper[bar],
            memory.clock, players, ceiling, hardness,
        )  # fmt: skip
        lower.part[bar], body = tried.played, tried.after
        if tried.from_above:
            lower.taken.add(bar)
        if tried.eased:
            lower.eased[bar] = tried.eased
    return lower


def _play_bar(
    level: Level,
    bar: int,
    notes: tuple[Note, ...],
    places: list[Place],
    limbs: dict[int, Limb],
    body: Body,
    ahead: tuple[Note, ...],
    upper: tuple[Played, ...],
    clock: Clock,
    players: Players,
    ceiling: Players,
    hardness: Hardness,
) -> _Tried:
    tried = _Tried(*join_places(bar, notes, places, limbs, body, clock, players, ahead))
    bound = hardness(bar, upper)
    if hardness(bar, tried.played) > bound:
        hands = {(note.position, note.spot): limb for note, limb in upper}
        lean = {i: hands[n.position, n.spot] for i, n in enumerate(notes) if (n.position, n.spot) in hands}
        others = _Tried(*join_places(bar, notes, places, lean, body, clock, players, ahead)) if lean else tried
        if others.played and hardness(bar, others.played) <= bound and len(others.played) >= len(tried.played):
            tried = others
        else:
            plainer = _plainer(bar, tried, bound, body, clock, players, hardness) if level == "bones" else None
            tried = plainer or _easier(bar, tried, upper, bound, body, ahead, clock, players, ceiling, hardness)
    return tried._replace(after=tried.after.next_bar(clock.length_us(bar)))


def _plainer(
    bar: int, tried: _Tried, bound: float, body: Body, clock: Clock, players: Players, hardness: Hardness
) -> _Tried | None:
    """The bar without as few kicks and snares between its beats as make it easy; None where that does not help."""
    meter, left = clock.grid.meter(bar), tried.played
    while hardness(bar, left) > bound:
        loose = [p for p in left if _between_beats(p[0], meter)]
        if not loose:
            return None
        rests = [(tuple(p for p in left if p is not one), one[0]) for one in loose]
        left, _ = min(rests, key=lambda r: (hardness(bar, r[0]), r[1].weight, -weakness(r[1]), -r[1].position))
    after = _walked(bar, left, body, clock, players)
    return None if after is None else _Tried(left, after, eased=_without(tried.played, left))


def _between_beats(note: Note, meter: str) -> bool:
    return note.piece in BETWEEN_BEATS and not note.pinned and beat_of(meter, note.position)[1] != 0


def _easier(
    bar: int,
    tried: _Tried,
    upper: tuple[Played, ...],
    bound: float,
    body: Body,
    ahead: tuple[Note, ...],
    clock: Clock,
    players: Players,
    ceiling: Players,
    hardness: Hardness,
) -> _Tried:
    """The bar above where it can follow and be followed; else strokes are left out."""
    bar_us = clock.length_us(bar)
    again = _walked(bar, upper, body, clock, ceiling)
    if again is not None and lands(ahead, again, bar_us, players) >= lands(ahead, tried.after, bar_us, players):
        return _Tried(upper, again, from_above=True)
    left = list(tried.played)
    while True:
        after = _walked(bar, tuple(left), body, clock, ceiling)
        if after is not None and hardness(bar, tuple(left)) <= bound:
            return _Tried(tuple(left), after, eased=_without(tried.played, tuple(left)))
        left.remove(min(left, key=lambda p: (p[0].weight, -p[0].position, p[0].piece)))


def _walked(bar: int, played: tuple[Played, ...], body: Body, clock: Clock, players: Players) -> Body | None:
    notes = tuple(note for note, _ in played)
    return walk_bar(places_of(bar, notes, clock), {i: limb for i, (_, limb) in enumerate(played)}, body, players)


def _without(played: tuple[Played, ...], left: tuple[Played, ...]) -> tuple[Note, ...]:
    return tuple(one[0] for one in played if one not in left)
