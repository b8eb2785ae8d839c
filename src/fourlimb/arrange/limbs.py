"""Which limb plays what, and what must give way: a beam search over limb states.

Hands and feet are solved apart (they meet only at the hi-hat, see `hands_and_feet`). For each pair of limbs the
search walks through the places of a bar; a state holds, per limb, when it struck last (up to sixteen strokes
back) and where it is. At each place every way of giving the notes to the two limbs, or leaving some out, is
tried; what breaks a hard limit is refused, what strains the player costs comfort, what is left out costs its
fidelity weight. States that end alike are merged, the cheapest kept. With a handful of states this is exact for
all but very dense bars.

Teacher's strokes are never left out: a limit they break costs more than all other strokes together, so others
give way. Times are whole microseconds from the bar line. The checker shares none of this.
"""

from typing import Final, NamedTuple

from fourlimb.model import Limb

from .comfort import COMFORT, NEVER, crossed, home, kept_by, leading, led_by, manner, way
from .layout import Spot
from .limits import SUSTAINED_GAPS
from .note import Note
from .pair import Pair, Place, State

BEAM: Final = 8
"""States kept at each place (more changed no result on human grooves; ours)."""


Choice = tuple[int, int]
"""Index of the note each limb plays at a place, -1 for none."""


class Trail(NamedTuple):
    """Choices made so far, the last one first."""

    before: "Trail | None"
    choice: Choice


def solve(
    places: list[Place], entry: State, pair: Pair, prefer: dict[int, Limb] | None = None
) -> tuple[dict[int, Limb], State]:
    """Limbs of the notes that are kept (by index in the bar), and the state at the end."""
    beam: list[Reached] = [(0.0, entry, None)]
    extras: dict[int, Limb] = {}
    for place in places:
        notes = _contenders(place, extras, pair)
        spots = [note.spot for _, note in notes]
        options = _options(notes, spots, _static_costs(place, notes, pair, prefer), pair)
        found: dict[tuple[object, ...], Candidate] = {}
        for reached in beam:
            _spread(reached, place, notes, spots, options, pair, found)
        best = sorted(found.values(), key=lambda item: item[0])[:BEAM]
        beam = [_arrive(candidate, place.now, notes, spots) for candidate in best]
    kept: dict[int, Limb] = dict(extras)
    _, state, trail = beam[0]
    while trail is not None:
        for limb, index in zip(pair.limbs, trail.choice, strict=True):
            if index >= 0:
                kept[index] = limb
        trail = trail.before
    return kept, state


def _contenders(place: Place, extras: dict[int, Limb], pair: Pair) -> list[tuple[int, Note]]:
    """At most three notes worth trying at one place; a teacher's third and further get a limb outright."""
    playable = [(i, n) for i, n in place.notes if n.piece in pair.can[0] or n.piece in pair.can[1]]
    able: list[frozenset[int]] = []
    for index, note in place.notes:
        if note.pinned:
            limbs = frozenset(k for k in (0, 1) if note.piece in pair.can[k])
            if _matched([*able, limbs]):
                able.append(limbs)
            else:
                extras[index] = pair.limbs[min(limbs, default=0)]
    ranked = sorted((p for p in playable if p[0] not in extras), key=lambda p: (-p[1].weight, p[0]))
    return ranked[:3]


def _matched(able: list[frozenset[int]]) -> bool:
    """True when each of these notes can have a limb of its own."""
    return len(able) <= 2 and all(able) and (len(able) < 2 or len(able[0] | able[1]) == 2)


def _static_costs(
    place: Place, notes: list[tuple[int, Note]], pair: Pair, prefer: dict[int, Limb] | None
) -> list[tuple[float, float]]:
    """Cost of each note on the first and on the second limb, whatever the state; infinite where it cannot be."""
    rows = []
    for index, note in notes:
        row = []
        for limb, can in zip(pair.limbs, pair.can, strict=True):
            cost = home(place, note, limb, pair) if note.piece in can else float("inf")
            if prefer is not None and prefer.get(index, limb) != limb:
                cost += COMFORT.change
            row.append(cost)
        rows.append((row[0], row[1]))
    return rows


def _options(
    notes: list[tuple[int, Note]], spots: list[Spot], static: list[tuple[float, float]], pair: Pair
) -> list[tuple[int, int, float]]:
    """Every way to give the notes to two limbs: (row for the first, row for the second, cost)."""
    count, lost = len(notes), sum(n.weight for _, n in notes)
    options = [(-1, -1, lost)]
    for a in range(-1, count):
        for b in range(-1, count):
            if a == b:
                continue
            cost = lost
            if a >= 0:
                cost += static[a][0] - notes[a][1].weight
            if b >= 0:
                cost += static[b][1] - notes[b][1].weight
            if a >= 0 and b >= 0 and not pair.feet:
                cost += crossed(spots[a], spots[b], pair)
            if cost != float("inf"):
                options.append((a, b, cost))
    options.sort(key=lambda o: o[2])
    return options


Reached = tuple[float, State, Trail | None]
"""A state in the beam: what it has cost, the state, the choices that led to it."""
Candidate = tuple[float, int, int, int, Reached]
"""A successor not yet made: cost, rows of the first and of the second limb (-1 none), who led, where it came from."""


def _spread(
    reached: Reached,
    place: Place,
    notes: list[tuple[int, Note]],
    spots: list[Spot],
    options: list[tuple[int, int, float]],
    pair: Pair,
    found: dict[tuple[object, ...], Candidate],
) -> None:
    """All feasible successors of one state, the cheapest of those that end alike."""
    cost, (first, at_first, second, at_second, led), _ = reached
    rows = list(zip(notes, spots, strict=True))
    ways_a = [way(first, at_first, second, note, to, place, pair, 0) for (_, note), to in rows]
    ways_b = [way(second, at_second, first, note, to, place, pair, 1) for (_, note), to in rows]
    phrase = place.phrase and not pair.feet
    if phrase:
        ways_a = [one + leading(led, 0, note, place) for one, (_, note) in zip(ways_a, notes, strict=True)]
        ways_b = [one + leading(led, 1, note, place) for one, (_, note) in zip(ways_b, notes, strict=True)]
    turn = place.turn and not pair.feet
    if turn:
        ways_a = [one + manner(led, 0, note, place) for one, (_, note) in zip(ways_a, notes, strict=True)]
        ways_b = [one + manner(led, 1, note, place) for one, (_, note) in zip(ways_b, notes, strict=True)]
    last_a, last_b = first[-1:], second[-1:]
    now = (place.now,)
    for a, b, base in options:
        total = cost + base + (ways_a[a] if a >= 0 else 0.0) + (ways_b[b] if b >= 0 else 0.0)
        if total == NEVER:
            continue
        leads = led
        if phrase:
            leads = led_by(led, place, a >= 0 and notes[a][1].accent, b >= 0 and notes[b][1].accent)
        if turn:
            leads = kept_by(led, place, notes[a][1] if a >= 0 else None, notes[b][1] if b >= 0 else None)
        key = (
            now if a >= 0 else last_a, spots[a] if a >= 0 else at_first,
            now if b >= 0 else last_b, spots[b] if b >= 0 else at_second, leads,
        )  # fmt: skip
        old = found.get(key)
        if old is None or total < old[0] - 1e-9:
            found[key] = (total, a, b, leads, reached)


def _arrive(candidate: Candidate, now: int, notes: list[tuple[int, Note]], spots: list[Spot]) -> Reached:
    total, a, b, led, (_, (first, at_first, second, at_second, _), trail) = candidate
    state: State = (
        (*first, now)[-SUSTAINED_GAPS:] if a >= 0 else first,
        spots[a] if a >= 0 else at_first,
        (*second, now)[-SUSTAINED_GAPS:] if b >= 0 else second,
        spots[b] if b >= 0 else at_second,
        led,
    )
    return total, state, Trail(trail, (notes[a][0] if a >= 0 else -1, notes[b][0] if b >= 0 else -1))


def walk(places: list[Place], limbs: dict[int, Limb], entry: State, pair: Pair) -> State | None:
    """The state after a bar as decided, or None where a hard limit stops it (never at a teacher's stroke)."""
    first, at_first, second, at_second, led = entry
    for place in places:
        if place.turn and not pair.feet:
            led = kept_by(led, place, *(_of(place, limbs, limb) for limb in pair.limbs))
        for index, note in place.notes:
            limb = limbs.get(index)
            if limb in pair.limbs and place.phrase and note.accent:
                led = led_by(led, place, limb == pair.limbs[0], limb == pair.limbs[1])
            if limb == pair.limbs[0]:
                if not pair.free(first, at_first, place.now, note.spot) and not note.pinned:
                    return None
                first, at_first = (*first, place.now)[-SUSTAINED_GAPS:], note.spot
            elif limb == pair.limbs[1]:
                if not pair.free(second, at_second, place.now, note.spot) and not note.pinned:
                    return None
                second, at_second = (*second, place.now)[-SUSTAINED_GAPS:], note.spot
    return first, at_first, second, at_second, led


def stumbles(places: list[Place], limbs: dict[int, Limb], pair: Pair) -> tuple[int, ...]:
    """Where limbs from rest cannot go on: the note that comes too soon, and the two before it of its limb.

    Notes by their index, the last one first; none where all can be played. A teacher's strokes stop nobody.
    """
    for limb in pair.limbs:
        moves: tuple[int, ...] = ()
        at: Spot | None = None
        own: tuple[int, ...] = ()
        for place in places:
            for index, note in place.notes:
                if limbs.get(index) != limb:
                    continue
                if not note.pinned and not pair.free(moves, at, place.now, note.spot):
                    return (index, *own[:2])
                moves, at, own = (*moves, place.now)[-SUSTAINED_GAPS:], note.spot, (index, *own)
    return ()


def _of(place: Place, limbs: dict[int, Limb], limb: Limb) -> Note | None:
    """What a limb plays at a place."""
    return next((note for index, note in place.notes if limbs.get(index) == limb), None)
