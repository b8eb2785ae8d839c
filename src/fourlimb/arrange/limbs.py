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

from dataclasses import dataclass
from typing import Final, NamedTuple

from fourlimb.model import FEET, Kit, Limb, Sound
from fourlimb.model.sounds import FOOT, SOUNDS, TIMEKEEPERS

from .layout import Spot, spots, travel_table
from .limits import SUSTAINED_GAPS, Player, limit_us
from .note import Note

BEAM: Final = 8
"""States kept at each place (more changed no result on human grooves; ours)."""
BROKEN: Final = 1e6
"""Cost of a limit broken by a teacher's stroke."""

TRAVEL_EDGE: Final = 0.7
"""A player's travel times are comfortable ones; this share of them is the edge, where strokes give way (ours)."""

Moves = tuple[int, ...]
"""Times of a limb's last strokes, microseconds, oldest first, at most sixteen."""
State = tuple[Moves, Spot | None, Moves, Spot | None, int]
"""First limb's moves and place, second limb's moves and place, and which of them (0, 1) struck the last accent of a
phrase on one drum (2, 3: the same, between the halves of the beat; -1: none yet)."""
REST: Final[State] = ((), None, (), None, -1)


@dataclass(frozen=True)
class Comfort:
    """Costs of what can be played but is awkward, in fidelity units (ours; order from the trade's sticking rules)."""

    strain: float = 6.0
    travel: float = 2.0
    crossing: float = 2.5
    away_from_home: float = 1.6
    away_on_eighth: float = 2.5
    away_between: float = 0.8
    same_hand: float = 1.0
    weak_double: float = 0.3
    off_lead: float = 0.6
    side: float = 0.4
    change: float = 0.8
    bounce: float = 0.9
    bounce_on_strong: float = 0.4
    bounce_strain: float = 1.2
    grace: float = 0.5
    accent_turn: float = 2.5
    accent_prepared: float = 0.8
    closing: float = 0.3


COMFORT: Final = Comfort()
DOUBLE_BELOW_US: Final = 120_000
"""Two strokes of one hand closer than this bounce as a double; slower ones are two strokes (ours: 16ths at 125)."""


class Pair:
    """Two limbs, what each can play, and how fast: hard limits of one player, comfort of another."""

    def __init__(self, kit: Kit, limbs: tuple[Limb, Limb], hard: Player, soft: Player) -> None:
        self.kit, self.limbs = kit, limbs
        self.feet = limbs[0] in FEET
        edge = 1.0 if hard == "ceiling" else TRAVEL_EDGE
        self.need, self.soft = _needs(kit, hard, self.feet, edge), _needs(kit, soft, self.feet)
        kind = "foot" if self.feet else "hand"
        self.burst = 2 * limit_us(f"{kind}_burst", hard)
        self.sustained = SUSTAINED_GAPS * limit_us(f"{kind}_sustained", hard)
        self.easy_burst = 2 * limit_us(f"{kind}_burst", soft)
        self.easy_sustained = limit_us(f"{kind}_sustained", soft)
        self.easy_turns = limit_us("alternating", soft)
        self.can = tuple(frozenset(p for p in SOUNDS if _can(kit, limb, p)) for limb in limbs)
        self.x = {piece: at[0] for piece, at in spots(kit).items()}
        self.right_first = limbs[0] == "right hand"

    def free(self, moves: Moves, at: Spot | None, now: int, piece: Spot) -> bool:
        """True when a limb with these last moves can strike `piece` (a spot) at `now`."""
        if not moves or at is None:
            return True
        if now - moves[-1] < self.need[at, piece]:
            return False
        if len(moves) > 1 and now - moves[-2] < self.burst:
            return False
        return len(moves) < SUSTAINED_GAPS or now - moves[-SUSTAINED_GAPS] >= self.sustained


def _needs(kit: Kit, player: Player, feet: bool, edge: float = 1.0) -> dict[tuple[Spot, Spot], int]:
    """Shortest time from one piece to another for one limb, microseconds."""
    if feet:
        change = limit_us("pedal_change", player)
        return {
            ("kick", "kick"): limit_us("foot_repeat", player),
            ("hat_pedal", "hat_pedal"): limit_us("hat_foot_repeat", player),
            ("kick", "hat_pedal"): change,
            ("hat_pedal", "kick"): change,
        }
    least, rim = limit_us("hand_repeat", player), limit_us("cross_stick", player)
    table: dict[tuple[Spot, Spot], int] = {
        pair: max(least, round(edge * ms * 1000) + 1) for pair, ms in travel_table(kit, player).items()
    }
    for pair in (("rim", "snare"), ("snare", "rim")):
        table[pair] = max(table[pair], rim)
    return table


def _can(kit: Kit, limb: Limb, piece: Sound) -> bool:
    if limb not in kit.limbs or (piece in FOOT) != (limb in FEET):
        return False
    if piece == "hat_pedal":
        return limb == kit.hat_foot
    if piece == "kick" and limb == kit.hat_foot:
        return kit.double_pedal or kit.kick_foot not in kit.limbs
    return True


@dataclass(frozen=True, slots=True)
class Place:
    """Notes that share one place: `now` microseconds from the bar line, `notes` with their index in the bar.

    `split`: this place halves a quick note of the pulse around it, so both halves fall to one hand. `strong`: it lies
    on a coarser division of the beat than the place before it, where doubles begin rather than end. `phrase`: all
    that the hands do in the bar is one phrase on one drum, whose accents take turns. `odd`: neither on a half nor on
    a quarter of the beat. `closes`: an accent comes next.
    """

    now: int
    notes: tuple[tuple[int, Note], ...]
    on_beat: bool
    off_eighth: bool
    keeps_time: bool
    split: bool = False
    strong: bool = False
    phrase: bool = False
    odd: bool = False
    closes: bool = False

    def only(self, notes: tuple[tuple[int, Note], ...]) -> "Place":
        """The same place with some of its notes."""
        return Place(
            self.now, notes, self.on_beat, self.off_eighth, self.keeps_time, self.split, self.strong, self.phrase,
            self.odd, self.closes,
        )  # fmt: skip


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
            cost = _home(place, note, limb, pair) if note.piece in can else float("inf")
            if prefer is not None and prefer.get(index, limb) != limb:
                cost += COMFORT.change
            row.append(cost)
        rows.append((row[0], row[1]))
    return rows


def _home(place: Place, note: Note, limb: Limb, pair: Pair) -> float:
    """How far a limb is from what it usually does at this place."""
    kit, piece = pair.kit, note.piece
    if pair.feet:
        own = kit.hat_foot if piece == "hat_pedal" or note.second else kit.kick_foot
        return 0.0 if limb == own else COMFORT.away_from_home
    lead = limb == kit.lead_hand
    if piece in TIMEKEEPERS:
        hats = piece in ("hat_closed", "hat_open")
        if lead != (kit.open_handed and hats):
            return 0.0
        return COMFORT.away_on_eighth if place.on_beat or place.off_eighth else COMFORT.away_between
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
                cost += _crossed(spots[a], spots[b], pair)
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
    ways_a = [_way(first, at_first, second, note, to, place, pair, 0) for (_, note), to in rows]
    ways_b = [_way(second, at_second, first, note, to, place, pair, 1) for (_, note), to in rows]
    phrase = place.phrase and not pair.feet
    if phrase:
        ways_a = [way + _leading(led, 0, note, place) for way, (_, note) in zip(ways_a, notes, strict=True)]
        ways_b = [way + _leading(led, 1, note, place) for way, (_, note) in zip(ways_b, notes, strict=True)]
    last_a, last_b = first[-1:], second[-1:]
    now = (place.now,)
    for a, b, base in options:
        total = cost + base + (ways_a[a] if a >= 0 else 0.0) + (ways_b[b] if b >= 0 else 0.0)
        if total == _NEVER:
            continue
        leads = led
        if phrase:
            leads = _led(led, place, a >= 0 and notes[a][1].accent, b >= 0 and notes[b][1].accent)
        key = (
            now if a >= 0 else last_a, spots[a] if a >= 0 else at_first,
            now if b >= 0 else last_b, spots[b] if b >= 0 else at_second, leads,
        )  # fmt: skip
        old = found.get(key)
        if old is None or total < old[0] - 1e-9:
            found[key] = (total, a, b, leads, reached)


_NEVER: Final = float("inf")


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


def _leading(led: int, limb: int, note: Note, place: Place) -> float:
    """In a phrase on one drum accents take turns, and the hand that led the last one leads until the next."""
    if note.accent and led >= 0:
        return COMFORT.accent_turn if led % 2 == limb else 0.0
    lead = 0 if led < 0 else led if led < 2 else 3 - led
    return _off_lead(place, limb == lead) if place.on_beat or not place.odd else 0.0


def _led(led: int, place: Place, first: bool, second: bool) -> int:
    if not place.phrase or first == second:
        return led
    return (0 if first else 1) + (0 if place.on_beat or place.off_eighth else 2)


def _way(
    moves: Moves, at: Spot | None, others: Moves, note: Note, to: Spot, place: Place, pair: Pair, limb: int
) -> float:
    """Cost of one limb striking one note from where it is; infinite when a hard limit forbids it."""
    if moves and at is not None:
        if not pair.free(moves, at, place.now, to):
            return BROKEN if note.pinned and note.piece in pair.can[limb] else _NEVER
        cost = _effort(moves, at, place.now, to, place, pair)
    else:
        cost = 0.0
    if pair.feet or place.keeps_time:
        return cost
    return cost + _taking_turns(moves, others, note, place, pair, limb)


def _effort(moves: Moves, at: Spot, now: int, piece: Spot, place: Place, pair: Pair) -> float:
    """Strain of one limb against what this player keeps up."""
    gap, need = now - moves[-1], pair.soft[at, piece]
    if not pair.feet and not place.keeps_time and at == piece and _bounces(moves, gap):
        return COMFORT.bounce_strain * max(1.0 - gap / need, 0.0)
    cost = 0.0
    if gap < need:
        cost += (COMFORT.strain if at == piece else COMFORT.travel) * (1.0 - gap / need)
    if len(moves) > 1 and now - moves[-2] < pair.easy_burst:
        cost += COMFORT.strain * (1.0 - (now - moves[-2]) / pair.easy_burst)
    elif len(moves) > 3 and now - moves[-4] < 4 * pair.easy_sustained:
        cost += COMFORT.strain * (1.0 - (now - moves[-4]) / (4 * pair.easy_sustained))
    return cost


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
        return 0.0 if place.split else COMFORT.bounce + (COMFORT.bounce_on_strong if place.strong else 0.0)
    return COMFORT.same_hand + (COMFORT.weak_double if pair.limbs[limb] == pair.kit.other_hand else 0.0)


def _second_of_two(moves: Moves, note: Note, place: Place) -> float:
    """The same hand again in a phrase on one drum: either hand alike, best right before an accent, never onto one."""
    cost = COMFORT.accent_prepared if note.accent else 0.0
    if _bounces(moves, place.now - moves[-1]):
        return cost + (0.0 if place.split else COMFORT.bounce + (COMFORT.bounce_on_strong if place.strong else 0.0))
    return cost + COMFORT.same_hand - (COMFORT.closing if place.closes else 0.0)


NEAR_US: Final = 400_000
"""Strokes farther apart than this do not care which hand came before (ours)."""
GRACE_STROKES: Final = {"flam": 1, "drag": 5, "ruff": 5, "long_ruff": 5}
"""How much a grace asks of the hand that has just played (two strokes in one movement count five: ours)."""


def _bounces(moves: Moves, gap: int) -> bool:
    """True when this stroke would be the second of a double: quick, after a longer gap."""
    return gap < DOUBLE_BELOW_US and (len(moves) < 2 or 2 * (moves[-1] - moves[-2]) >= 3 * gap)


def _crossed(first: Spot, second: Spot, pair: Pair) -> float:
    """Right hand left of the left hand. The lead hand over the other one on the hat is the usual way to sit."""
    right, left = (first, second) if pair.right_first else (second, first)
    if pair.x[right] >= pair.x[left] - 5:
        return 0.0
    lead = right if pair.kit.handed == "right" else left
    usual = lead in ("hat_closed", "hat_open") and not pair.kit.open_handed
    return 0.0 if usual else COMFORT.crossing


def walk(places: list[Place], limbs: dict[int, Limb], entry: State, pair: Pair) -> State | None:
    """The state after a bar as decided, or None where a hard limit stops it (never at a teacher's stroke)."""
    first, at_first, second, at_second, led = entry
    for place in places:
        for index, note in place.notes:
            limb = limbs.get(index)
            if limb in pair.limbs and place.phrase and note.accent:
                led = _led(led, place, limb == pair.limbs[0], limb == pair.limbs[1])
            if limb == pair.limbs[0]:
                if not pair.free(first, at_first, place.now, note.spot) and not note.pinned:
                    return None
                first, at_first = (*first, place.now)[-SUSTAINED_GAPS:], note.spot
            elif limb == pair.limbs[1]:
                if not pair.free(second, at_second, place.now, note.spot) and not note.pinned:
                    return None
                second, at_second = (*second, place.now)[-SUSTAINED_GAPS:], note.spot
    return first, at_first, second, at_second, led


def shift(state: State, bar_us: int) -> State:
    """The same state seen from the next bar line."""
    first, at_first, second, at_second, led = state
    return tuple(t - bar_us for t in first), at_first, tuple(t - bar_us for t in second), at_second, led
