"""What changes from one bar to another, as data that can be applied.

`apply_changes(a, compare(a, b)) == b`, always. Method: strokes both bars have are set aside (a change of mark among
them is a *strike*); of the rest, two pieces of the same limbs at the same place are a *swap*, two places of the same
piece up to a quarter note apart are a *move* (nearest first), and what is left is a *drop* or an *add*.

Only bars of one meter can be compared. Chains of moves are found pairwise: nothing notices that a whole bar is late.
"""

from collections.abc import Callable, Iterable
from fractions import Fraction

from fourlimb.model import Change, Sound
from fourlimb.model.places import QUARTER
from fourlimb.model.sounds import CYMBALS, FOOT, HATS, ORDER, PERCUSSION, TOMS

from .content import PLAIN, Content, Mark, Place, from_places

MOVE_MOST = QUARTER
"""Furthest that a stroke is said to move (whole notes); further apart it is left out here and added there (ours)."""

_BACKBEAT: frozenset[Sound] = frozenset({"snare", "rim", "clap"})

KINDRED: tuple[frozenset[Sound], ...] = (
    HATS,
    _BACKBEAT,
    TOMS,
    CYMBALS | HATS | PERCUSSION,
    _BACKBEAT | TOMS,
)
"""Pieces that stand in for each other, closest kin first."""

Key = Callable[[Place], object]
Cost = Callable[[Place, Place], Fraction | None]
Make = Callable[[Place, Place], Change]


def compare(a: Content, b: Content) -> tuple[Change, ...]:
    """The changes that turn `a` into `b`, in the order of the bar. ValueError when they are counted differently."""
    if a.counted != b.counted:
        raise ValueError(f"a bar of {a.meter} cannot be told from a bar of {b.meter}")
    before, after = a.places, b.places
    changes = [_strike(place, after[place]) for place in before if place in after and before[place] != after[place]]
    gone = {place: mark for place, mark in before.items() if place not in after}
    come = {place: mark for place, mark in after.items() if place not in before}
    changes += _pair(gone, come, lambda place: (place[0], place[1] in FOOT), _swap_cost, _swap)
    changes += _pair(gone, come, lambda place: place[1], _move_cost, _move)
    changes += [Change(what="drop", piece=piece, from_=at) for at, piece in gone]
    changes += [_add(place, mark) for place, mark in come.items()]
    return tuple(sorted(changes, key=change_key))


def apply_changes(a: Content, changes: Iterable[Change]) -> Content:
    """`a` with the changes made: first what goes, then what comes, then how it is struck."""
    places = a.places
    todo = sorted(changes, key=lambda change: _TURN[change.what])
    carried: dict[int, Mark] = {}
    for index, change in enumerate(todo):
        if change.from_ is not None and change.what in ("move", "swap", "drop"):
            carried[index] = places.pop((change.from_, change.piece), PLAIN)
    for index, change in enumerate(todo):
        if change.to is None:
            continue
        place = change.to, change.to_piece or change.piece
        if change.what in ("move", "swap"):
            places[place] = carried[index]
        else:
            places[place] = mark_of(change)
    return from_places(a.meter, places, a.skipped)


def mark_of(change: Change) -> Mark:
    """How the stroke is struck after an add or a strike."""
    return Mark(
        change.accent,
        change.ghost,
        change.grace,
        change.struck,
        change.second,
        change.roll,
        change.lasts,
        change.tied,
    )


def change_key(change: Change) -> tuple[Fraction, int, str]:
    """Order of the bar: where it happens, then the fixed order of sounds."""
    at = change.from_ if change.from_ is not None else change.to
    return at or Fraction(0), ORDER[change.piece], change.what


_TURN = {"drop": 0, "move": 1, "swap": 1, "add": 2, "strike": 3}


def _strike(place: Place, mark: Mark) -> Change:
    at, piece = place
    return Change(what="strike", piece=piece, from_=at, to=at, **mark._asdict())


def _add(place: Place, mark: Mark) -> Change:
    at, piece = place
    return Change(what="add", piece=piece, to=at, **mark._asdict())


def _swap(old: Place, new: Place) -> Change:
    return Change(what="swap", piece=old[1], from_=old[0], to=new[0], to_piece=new[1])


def _move(old: Place, new: Place) -> Change:
    return Change(what="move", piece=old[1], from_=old[0], to=new[0])


def _swap_cost(old: Place, new: Place) -> Fraction | None:
    kin = next((n for n, family in enumerate(KINDRED) if old[1] in family and new[1] in family), None)
    return None if kin is None else Fraction(kin)


def _move_cost(old: Place, new: Place) -> Fraction | None:
    distance = abs(old[0] - new[0])
    return distance if distance <= MOVE_MOST else None


def _pair(gone: dict[Place, Mark], come: dict[Place, Mark], key: Key, cost: Cost, make: Make) -> list[Change]:
    """Pairs what went with what came under the same key, cheapest first, and takes the pairs out of both.

    A stroke whose mark differs afterwards is also a strike at its new place.
    """
    keyed: dict[object, list[Place]] = {}
    for new in come:
        keyed.setdefault(key(new), []).append(new)
    costs = [(cost(old, new), old, new) for old in gone for new in keyed.get(key(old), ())]
    ranked = sorted(
        ((price, old, new) for price, old, new in costs if price is not None),
        key=lambda row: (row[0], row[1][0], row[2][0], ORDER[row[1][1]], ORDER[row[2][1]]),
    )
    changes = []
    for _, old, new in ranked:
        if old in gone and new in come:
            changes.append(make(old, new))
            if gone[old] != come[new]:
                changes.append(_strike(new, come[new]))
            del gone[old], come[new]
    return changes
