"""What can be played but is awkward: costs of one limb striking one note from where it is.

In fidelity units, so that comfort and what is left out can be weighed against each other. Order after the trade's
sticking rules: beyond what the player keeps up, crossing, travel, away from its usual post, one hand twice, off the
beat's own hand.
"""

from dataclasses import dataclass
from typing import Final

from fourlimb.model import Limb
from fourlimb.model.sounds import TOMS

from .layout import Spot
from .note import Note
from .pair import Moves, Pair, Place

BROKEN: Final = 1e6
"""Cost of a limit broken by a teacher's stroke."""
NEVER: Final = float("inf")
"""Cost of what a hard limit forbids."""


@dataclass(frozen=True)
class Comfort:
    """Costs of what can be played but is awkward, in fidelity units (ours; order from the trade's sticking rules)."""

    strain: float = 6.0
    travel: float = 2.0
    crossing: float = 2.5
    away_from_home: float = 1.6
    away_on_eighth: float = 2.5
    away_alone: float = 6.0
    away_between: float = 0.8
    same_hand: float = 1.0
    weak_double: float = 0.3
    off_lead: float = 0.6
    side: float = 0.4
    change: float = 0.8
    bounce: float = 0.9
    bounce_on_strong: float = 0.4
    bounce_strain: float = 1.2
    bounce_on_tom: float = 0.6
    grace: float = 0.5
    accent_turn: float = 2.5
    accent_prepared: float = 0.8
    closing: float = 0.3
    other_manner: float = 3.0


COMFORT: Final = Comfort()
DOUBLE_BELOW_US: Final = 120_000
"""Two strokes of one hand closer than this bounce as a double; slower ones are two strokes (ours: 16ths at 125)."""


def home(place: Place, note: Note, limb: Limb, pair: Pair) -> float:
    """How far a limb is from what it usually does at this place."""
    kit, piece = pair.kit, note.piece
    if pair.feet:
        own = kit.hat_foot if piece == "hat_pedal" or note.second else kit.kick_foot
        return 0.0 if limb == own else COMFORT.away_from_home
    lead = limb == kit.lead_hand
    if place.due in ("lead", "other"):
        return 0.0 if lead == (place.due == "lead") else COMFORT.away_alone
    if piece in place.time:
        hats = piece in ("hat_closed", "hat_open")
        if lead != (kit.open_handed and hats):
            return 0.0
        if place.between and place.due is None:
            return COMFORT.away_between
        return COMFORT.away_on_eighth if len(place.notes) > 1 else COMFORT.away_alone
    cost = 0.0
    if piece in ("snare", "rim") and place.keeps_time:
        timekeeping_lead = not (
            kit.open_handed and any(n.piece in ("hat_closed", "hat_open") for _, n in place.notes)
        )
        cost += COMFORT.away_from_home if lead == timekeeping_lead else 0.0
    elif not place.keeps_time and not place.phrase:
        cost += _off_lead(place, lead)
    side = pair.x[note.spot] * (1 if limb == "right hand" else -1)
    return cost + (COMFORT.side if side < -30 else 0.0)


def _off_lead(place: Place, lead: bool) -> float:
    """The leading hand takes the beats and their halves, the other what lies between."""
    if lead == (place.on_beat or place.off_eighth):
        return 0.0
    return COMFORT.off_lead * (1.0 if place.on_beat else 0.5)


def leading(led: int, limb: int, note: Note, place: Place) -> float:
    """In a phrase on one drum accents take turns, and the hand that led the last one leads until the next.

    Accents on the & stay with the hand that leads: sixteenths with these are singles (a train beat).
    """
    led = -1 if led >= BETWEEN else led
    if note.accent and led >= 0 and not place.off_eighth:
        return COMFORT.accent_turn if led % 2 == limb else 0.0
    lead = 0 if led < 0 else led if led < 2 else 3 - led
    return _off_lead(place, limb == lead) if place.on_beat or not place.odd else 0.0


BETWEEN: Final = 4
"""What stands in a `State` for who plays between the eighths: this for the first hand, one more for the second."""


def manner(led: int, limb: int, note: Note, place: Place) -> float:
    """Time is kept by one hand or by both in turn: who played between the eighths goes on doing so."""
    if led < BETWEEN or note.piece not in place.time or place.due is not None:
        return 0.0
    return COMFORT.other_manner if led - BETWEEN != limb else 0.0


def kept_by(led: int, place: Place, first: Note | None, second: Note | None) -> int:
    """Who has kept time between the eighths, after a place there."""
    by_first = first is not None and first.piece in place.time
    by_second = second is not None and second.piece in place.time
    return led if by_first == by_second else BETWEEN + by_second


def led_by(led: int, place: Place, first: bool, second: bool) -> int:
    """Who leads after a place: the limb of its accent, told apart by where in the beat it stood (see `State`)."""
    if not place.phrase or first == second:
        return led
    return (0 if first else 1) + (0 if place.on_beat or place.off_eighth else 2)


def way(
    moves: Moves, at: Spot | None, others: Moves, note: Note, to: Spot, place: Place, pair: Pair, limb: int
) -> float:
    """Cost of one limb striking one note from where it is; infinite when a hard limit forbids it."""
    if moves and at is not None:
        if not pair.free(moves, at, place.now, to):
            return BROKEN if note.pinned and note.piece in pair.can[limb] else NEVER
        in_turn = not place.keeps_time and bool(others) and others[-1] > moves[-1]
        cost = _effort(moves, at, place.now, to, place, pair, in_turn)
    else:
        cost = 0.0
    if pair.feet or place.keeps_time:
        return cost
    return cost + _taking_turns(moves, others, note, place, pair, limb)


def _effort(moves: Moves, at: Spot, now: int, piece: Spot, place: Place, pair: Pair, in_turn: bool) -> float:
    """Strain of one limb against what this player keeps up.

    `in_turn`: the other hand was last. How long a run goes on tires both hands alike, whether they take turns singly
    or by twos: it must not make them change in the middle of one.
    """
    gap, need = now - moves[-1], pair.soft[at, piece]
    if not pair.feet and not place.keeps_time and at == piece and _bounces(moves, gap):
        return COMFORT.bounce_strain * max(1.0 - gap / need, 0.0)
    cost = 0.0
    if gap < need:
        cost += (COMFORT.strain if at == piece else COMFORT.travel) * (1.0 - gap / need)
    burst = (now - moves[-2]) / pair.easy_burst if len(moves) > 1 else 1.0
    kept_up = (now - moves[-4]) / (4 * pair.easy_sustained) if len(moves) > 3 and not in_turn else 1.0
    slower = min(burst, kept_up) if not pair.feet or burst >= 1.0 else burst
    return cost + COMFORT.strain * max(1.0 - slower, 0.0)


def _taking_turns(moves: Moves, others: Moves, note: Note, place: Place, pair: Pair, limb: int) -> float:
    """Hands alternate; a quick second stroke bounces; past singles, doubles take over; graces want rest."""
    now = place.now
    other_last = bool(others) and (not moves or others[-1] >= moves[-1])
    if other_last:
        gap = now - others[-1]
        cost = COMFORT.strain * max(1.0 - gap / pair.easy_turns, 0.0) + (COMFORT.bounce if place.split else 0.0)
        if note.grace and gap < NEAR_US:
            cost += COMFORT.grace * GRACE_STROKES[note.grace]
        return cost
    if not moves or now - moves[-1] >= NEAR_US:
        return 0.0
    if place.phrase:
        return _second_of_two(moves, note, place)
    if _bounces(moves, now - moves[-1]):
        return 0.0 if place.split else _bounce(note, place)
    return COMFORT.same_hand + (COMFORT.weak_double if pair.limbs[limb] == pair.kit.other_hand else 0.0)


def _second_of_two(moves: Moves, note: Note, place: Place) -> float:
    """The same hand again in a phrase on one drum: either hand alike, best right before an accent, never onto one."""
    cost = COMFORT.accent_prepared if note.accent else 0.0
    if _bounces(moves, place.now - moves[-1]):
        return cost + (0.0 if place.split else _bounce(note, place))
    return cost + COMFORT.same_hand - (COMFORT.closing if place.closes else 0.0)


def _bounce(note: Note, place: Place) -> float:
    """The second stroke of a double: begun on the stronger place, and on a snare, whose head throws a stick back."""
    strong = COMFORT.bounce_on_strong if place.strong else 0.0
    return COMFORT.bounce + strong + (COMFORT.bounce_on_tom if note.piece in TOMS else 0.0)


NEAR_US: Final = 400_000
"""Strokes farther apart than this do not care which hand came before (ours)."""
GRACE_STROKES: Final = {"flam": 1, "drag": 5, "ruff": 5, "long_ruff": 5}
"""How much a grace asks of the hand that has just played (two strokes in one movement count five: ours)."""


def _bounces(moves: Moves, gap: int) -> bool:
    """True when this stroke would be the second of a double: quick, after a longer gap."""
    return gap < DOUBLE_BELOW_US and (len(moves) < 2 or 2 * (moves[-1] - moves[-2]) >= 3 * gap)


def crossed(first: Spot, second: Spot, pair: Pair) -> float:
    """Right hand left of the left hand. The lead hand over the other one on the hat is the usual way to sit."""
    right, left = (first, second) if pair.right_first else (second, first)
    if pair.x[right] >= pair.x[left] - 5:
        return 0.0
    lead = right if pair.kit.handed == "right" else left
    usual = lead in ("hat_closed", "hat_open") and not pair.kit.open_handed
    return 0.0 if usual else COMFORT.crossing
