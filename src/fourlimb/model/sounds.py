"""The eighteen sounds that are heard, written and played.

A *sound* is what the ear hears ("open hat"); a *piece* is what is struck. Both use the same names here:
the foot and the stick make different sounds on one hi-hat, and every output (General MIDI, MusicXML
instruments, noteheads) wants them apart, so a stroke's `piece` is one of these names too, and
`INSTRUMENT` says which thing on the floor it is.
"""

from typing import Final, Literal, get_args

Sound = Literal[
    "kick",
    "snare",
    "rim",
    "clap",
    "hat_closed",
    "hat_open",
    "hat_pedal",
    "tom_high",
    "tom_mid",
    "tom_floor",
    "crash",
    "ride",
    "ride_bell",
    "china",
    "splash",
    "cowbell",
    "tambourine",
    "shaker",
]

SOUNDS: Final[tuple[Sound, ...]] = get_args(Sound)
"""All sounds, in the fixed order that every table and tie-break uses."""

ORDER: Final[dict[Sound, int]] = {sound: index for index, sound in enumerate(SOUNDS)}

HATS: Final[frozenset[Sound]] = frozenset({"hat_closed", "hat_open", "hat_pedal"})
TOMS: Final[frozenset[Sound]] = frozenset({"tom_high", "tom_mid", "tom_floor"})
CYMBALS: Final[frozenset[Sound]] = frozenset({"crash", "ride", "ride_bell", "china", "splash"})
PERCUSSION: Final[frozenset[Sound]] = frozenset({"clap", "cowbell", "tambourine", "shaker"})
FOOT: Final[frozenset[Sound]] = frozenset({"kick", "hat_pedal"})
"""Sounds that a foot makes; all others are struck by a hand."""

TIMEKEEPERS: Final[frozenset[Sound]] = frozenset(
    {"hat_closed", "hat_open", "ride", "ride_bell", "shaker", "tambourine", "cowbell"}
)
"""Sounds that usually carry the running pattern of one hand."""

INSTRUMENT: Final[dict[Sound, str]] = {
    "kick": "kick drum",
    "snare": "snare drum",
    "rim": "snare drum",
    "clap": "hands",
    "hat_closed": "hi-hat",
    "hat_open": "hi-hat",
    "hat_pedal": "hi-hat",
    "tom_high": "high tom",
    "tom_mid": "mid tom",
    "tom_floor": "floor tom",
    "crash": "crash cymbal",
    "ride": "ride cymbal",
    "ride_bell": "ride cymbal",
    "china": "china cymbal",
    "splash": "splash cymbal",
    "cowbell": "cowbell",
    "tambourine": "tambourine",
    "shaker": "shaker",
}
"""The thing on the floor that makes the sound."""

SAY: Final[dict[Sound, str]] = {
    "kick": "kick",
    "snare": "snare",
    "rim": "cross-stick",
    "clap": "clap",
    "hat_closed": "hat",
    "hat_open": "open hat",
    "hat_pedal": "foot hat",
    "tom_high": "high tom",
    "tom_mid": "mid tom",
    "tom_floor": "floor tom",
    "crash": "crash",
    "ride": "ride",
    "ride_bell": "ride bell",
    "china": "china",
    "splash": "splash",
    "cowbell": "cowbell",
    "tambourine": "tambourine",
    "shaker": "shaker",
}
"""What a drummer calls the sound, for sentences, legends and corrections."""

GENERAL_MIDI: Final[dict[Sound, int]] = {
    "kick": 36,
    "snare": 38,
    "rim": 37,
    "clap": 39,
    "hat_closed": 42,
    "hat_open": 46,
    "hat_pedal": 44,
    "tom_high": 50,
    "tom_mid": 47,
    "tom_floor": 43,
    "crash": 49,
    "ride": 51,
    "ride_bell": 53,
    "china": 52,
    "splash": 55,
    "cowbell": 56,
    "tambourine": 54,
    "shaker": 70,
}
"""General MIDI Level 1 percussion key (0-based) written for each sound. Level 1 has no shaker (82 is Level 2):
70, maracas, is the nearest."""

SECOND_GENERAL_MIDI: Final[dict[Sound, int]] = {
    "kick": 35,
    "snare": 40,
    "tom_floor": 41,
    "tom_mid": 45,
    "tom_high": 48,
    "crash": 57,
    "ride": 59,
}
"""General MIDI Level 1 key (0-based) of the second of a kind, for the sounds of which the map has two."""


def midi_key(sound: Sound, *, second: bool = False) -> int:
    """General MIDI key (0-based) of a sound, or of the second of its kind."""
    return SECOND_GENERAL_MIDI.get(sound, GENERAL_MIDI[sound]) if second else GENERAL_MIDI[sound]


def say_sound(sound: Sound, *, second: bool = False) -> str:
    """What a drummer calls it: "crash", "second crash"."""
    return f"second {SAY[sound]}" if second else SAY[sound]


FROM_GENERAL_MIDI: Final[dict[int, Sound]] = {
    35: "kick", 36: "kick", 37: "rim", 38: "snare", 39: "clap", 40: "snare",
    41: "tom_floor", 42: "hat_closed", 43: "tom_floor", 44: "hat_pedal", 45: "tom_mid", 46: "hat_open",
    47: "tom_mid", 48: "tom_high", 49: "crash", 50: "tom_high", 51: "ride", 52: "china", 53: "ride_bell",
    54: "tambourine", 55: "splash", 56: "cowbell", 57: "crash", 59: "ride",
    69: "shaker", 70: "shaker", 82: "shaker",
}  # fmt: skip
"""General MIDI percussion key (0-based) read as a sound; keys not here are unknown and reported, never guessed."""
