"""Two limbs of one player: what each can play, how fast, and where they are."""

from typing import Final, Literal

import msgspec

from fourlimb.model import FEET, Kit, Limb, Sound
from fourlimb.model.sounds import FOOT, SOUNDS, TIMEKEEPERS

from .layout import Spot, spots, travel_table
from .limits import SUSTAINED_GAPS, Player, limit_us
from .note import Note

TRAVEL_EDGE: Final = 0.7
"""A player's travel times are comfortable ones; this share of them is the edge, where strokes give way (ours)."""

Moves = tuple[int, ...]
"""Times of a limb's last strokes, microseconds, oldest first, at most sixteen."""
State = tuple[Moves, Spot | None, Moves, Spot | None, int]
"""First limb's moves and place, second limb's moves and place, and which of them (0, 1) struck the last accent of a
phrase on one drum (2, 3: the same, between the halves of the beat; -1: none yet); 4, 5: which of them plays what lies
between the leading hand's strokes where time is kept."""
REST: Final[State] = ((), None, (), None, -1)


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


Due = Literal["lead", "other", "one hand"]
"""Who strikes at a place: the leading hand, the other one; or the leading hand alone keeps the time there."""


class Place(msgspec.Struct, frozen=True, gc=False):
    """Notes that share one place: `now` microseconds from the bar line, `notes` with their index in the bar.

    `split`: this place halves a quick note of the pulse around it, so both halves fall to one hand. `strong`: it lies
    on a coarser division of the beat than the place before it, where doubles begin rather than end. `phrase`: all
    that the hands do in the bar is one phrase on one drum, whose accents take turns. `odd`: neither on a half nor on
    a quarter of the beat. `closes`: an accent comes next. `between`: where both hands keep time in turn, this is the
    other hand's; `turn`: the hands run evenly here. `time`: what the bar's hands keep time on. `due`: who strikes,
    where that is decided (`turns`).
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
    between: bool = False
    turn: bool = False
    time: frozenset[Sound] = TIMEKEEPERS
    due: Due | None = None

    def only(self, notes: tuple[tuple[int, Note], ...]) -> "Place":
        """The same place with some of its notes."""
        return Place(
            self.now, notes, self.on_beat, self.off_eighth, self.keeps_time, self.split, self.strong, self.phrase,
            self.odd, self.closes, self.between, self.turn, self.time, self.due,
        )  # fmt: skip


def shift(state: State, bar_us: int) -> State:
    """The same state seen from the next bar line."""
    first, at_first, second, at_second, led = state
    return tuple(t - bar_us for t in first), at_first, tuple(t - bar_us for t in second), at_second, led
