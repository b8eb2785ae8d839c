"""The mixing table of the kit: how loud, from which side, how much room, what stops what.

A teacher may want to change any of it; all of it is here.
"""

from dataclasses import dataclass, replace
from typing import Final

from ..model import Sound


@dataclass(frozen=True)
class Place:
    """Where a sound stands in the mix.

    `level_db`: loudest 10 ms of a full stroke against the kick's. `side`: -1 left to 1 right as a right-handed player
    sits (listeners in front hear it mirrored). `room_db`: level into the room.
    """

    level_db: float
    side: float
    room_db: float


PLACES: Final[dict[Sound, Place]] = {
    "kick": Place(0.0, 0.0, -24.0),
    "snare": Place(-1.0, -0.05, -13.0),
    "rim": Place(-6.0, -0.05, -13.0),
    "clap": Place(-7.0, 0.1, -10.0),
    "hat_closed": Place(-13.0, -0.45, -16.0),
    "hat_open": Place(-10.0, -0.45, -15.0),
    "hat_pedal": Place(-15.0, -0.45, -16.0),
    "tom_high": Place(-2.0, -0.25, -14.0),
    "tom_mid": Place(-2.0, 0.1, -14.0),
    "tom_floor": Place(-1.5, 0.4, -15.0),
    "crash": Place(-7.0, -0.3, -14.0),
    "ride": Place(-12.0, 0.5, -15.0),
    "ride_bell": Place(-10.0, 0.5, -15.0),
    "china": Place(-8.0, 0.6, -14.0),
    "splash": Place(-10.0, 0.0, -14.0),
    "cowbell": Place(-10.0, 0.2, -15.0),
    "tambourine": Place(-13.0, 0.35, -13.0),
    "shaker": Place(-17.0, -0.35, -14.0),
}
"""Balance by ear and by common practice (no source): kick and snare lead, hats and ride well under them."""


@dataclass(frozen=True)
class Second:
    """The second of a kind against the first: how high (1: the same), and from which side."""

    pitch: float
    side: float


SECONDS: Final[dict[Sound, Second]] = {
    "crash": Second(0.84, 0.45),
    "kick": Second(1.06, 0.08),
    "tom_floor": Second(0.84, 0.6),
}
"""A larger crash (three half steps lower) on the other side, a kick drum a half step higher, a larger floor tom;
by ear."""

OTHER_SECOND_PITCH: Final = 0.92
"""The second of any other kind, on the first one's side (ours)."""


def second_of(sound: Sound) -> Second:
    """How the second of a kind differs."""
    return SECONDS.get(sound) or Second(OTHER_SECOND_PITCH, PLACES[sound].side)


def place_of(sound: Sound, *, second: bool = False) -> Place:
    """Where a sound, or the second of its kind, stands."""
    place = PLACES[sound]
    return replace(place, side=second_of(sound).side) if second else place


DYNAMIC_POWER: Final = 1.7
"""Level follows velocity to this power: a ghost (30) lies 20 dB under an accent (115). General MIDI's
recommendation is 2 (from memory); recorded drum sets come out between 1.3 and 2."""

STOPS: Final[dict[Sound, tuple[Sound, ...]]] = {
    "hat_closed": ("hat_open", "hat_closed", "hat_pedal"),
    "hat_pedal": ("hat_open", "hat_closed"),
    "hat_open": ("hat_open", "hat_closed", "hat_pedal"),
    "ride_bell": (),
    "ride": (),
}
"""What a new stroke silences: one pair of hats cannot ring open and closed at once."""

CLOSE_S: Final = 0.035
"""How long an open hat takes to die when it is closed (fade, seconds; by ear)."""
