"""Where the pieces stand, and how long a hand needs between them.

Points are centimetres for a right-handed player: origin on the floor under the middle of the snare, x to the
right, y away from the player, z up. A left-handed kit is the mirror image. A kit may bring its own points as
`kit.extra["points_cm"] = {"ride": [40, 50, 90], ...}`.

Travel follows the line through Fitts's (1954) sixteen means for reciprocal tapping with a 1-oz stylus, as
reprinted by MacKenzie: MT = 12.8 + 94.7 log2(2A/W) ms, A the distance and W how large a good hit is. W per player
is ours: a beginner wants the middle of the drum, an advanced player is content with the head. The ceiling is a
share of the advanced time. What this cannot do: bodies differ, and stick tips swing, so hands travel less than
the points say.
"""

from functools import lru_cache
from math import dist, log2
from typing import Final

from fourlimb.model import InputError, Kit, Sound

from .limits import Player

Point = tuple[float, float, float]

POINTS_CM: Final[dict[Sound, Point]] = {
    "snare": (0, 0, 64),
    "rim": (0, 0, 64),
    "clap": (0, -10, 90),
    "hat_closed": (-38, 18, 86),
    "hat_open": (-38, 18, 86),
    "tom_high": (-14, 36, 80),
    "tom_mid": (20, 36, 80),
    "tom_floor": (46, 2, 64),
    "crash": (-42, 52, 112),
    "ride": (58, 34, 92),
    "ride_bell": (58, 34, 92),
    "china": (84, 30, 108),
    "splash": (2, 58, 104),
    "cowbell": (8, 50, 88),
    "tambourine": (-38, 18, 100),
    "shaker": (-20, -5, 95),
}
"""Five-piece kit (ours, from teachers' advice on setting up; a clap and a shaker are held in the hands)."""

SECOND_CM: Final[dict[Sound, Point]] = {
    "crash": (34, 66, 114),
    "ride": (-52, 40, 100),
    "tom_floor": (66, -14, 62),
    "snare": (-52, -4, 64),
}
"""The second of a kind, where the kit has one (ours): a crash on the ride side, a ride over the hat, a lower floor
tom beyond the first, a side snare by the hat."""

Spot = str
"""A place that a hand goes to: a sound, or `SECOND` and a sound."""
SECOND: Final = "second "

FITTS_A_MS, FITTS_B_MS = 12.8, 94.7
WIDTH_CM: Final[dict[Player, float]] = {"beginner": 10, "intermediate": 15, "advanced": 25, "ceiling": 25}
CEILING_SHARE: Final = 0.34
"""Ceiling travel time as a share of the advanced one (fitted to 1,021 human performances of the Groove MIDI Dataset,
CC BY 4.0: the quickest moves there are possible with it; 95 of 100 take the advanced time or more)."""


def spot(piece: Sound, second: bool) -> Spot:
    """The place of a stroke."""
    return SECOND + piece if second else piece


def has_second(kit: Kit, piece: Sound) -> bool:
    """True when the kit has a second of this kind.

    `kit.extra["seconds"]` names them (["crash"]); `kit.extra["second_crash"]` = true is short for a second crash; a
    second kick is a double pedal's.
    """
    if piece == "kick":
        return kit.double_pedal
    named = kit.extra.get("seconds")
    listed = piece in named if isinstance(named, list | tuple) else False
    return piece in SECOND_CM and (listed or (piece == "crash" and kit.extra.get("second_crash") is True))


def points(kit: Kit) -> dict[Sound, Point]:
    """Where each hand piece stands on this kit, mirrored for a left-handed one. Raises InputError on a bad point."""
    side = 1.0 if kit.handed == "right" else -1.0
    found = {piece: (x * side, y, z) for piece, (x, y, z) in POINTS_CM.items()}
    own = kit.extra.get("points_cm")
    for piece, at in own.items() if isinstance(own, dict) else ():
        if piece in found:
            found[piece] = _read_point(piece, at)
    return found


def travel_table(kit: Kit, player: Player) -> dict[tuple[Spot, Spot], float]:
    """Shortest time for one hand between any two spots of this kit, milliseconds; 0 on the same spot."""
    places = spots(kit)
    return {(a, b): fitts_ms(dist(places[a], places[b]), player) for a in places for b in places}


def spots(kit: Kit) -> dict[Spot, Point]:
    """All places of this kit that hands go to, the second of a kind among them."""
    side = 1.0 if kit.handed == "right" else -1.0
    found: dict[Spot, Point] = {spot(piece, False): at for piece, at in points(kit).items()}
    seconds = {SECOND + piece: (x * side, y, z) for piece, (x, y, z) in SECOND_CM.items() if has_second(kit, piece)}
    return found | seconds


@lru_cache(maxsize=4096)
def fitts_ms(distance_cm: float, player: Player) -> float:
    """Movement time over a distance, milliseconds (0 within half the width of a good hit)."""
    width = WIDTH_CM[player]
    if distance_cm <= width / 2:
        return 0.0
    share = CEILING_SHARE if player == "ceiling" else 1.0
    return share * (FITTS_A_MS + FITTS_B_MS * log2(2 * distance_cm / width))


def _read_point(piece: str, at: object) -> Point:
    numbers = [n for n in at if isinstance(n, int | float)] if isinstance(at, list | tuple) else []
    if len(numbers) != 3:
        raise InputError(f"the kit's place of {piece} is {at!r}: give three numbers in centimetres, x y z")
    x, y, z = (float(number) for number in numbers)
    return (x, y, z)
