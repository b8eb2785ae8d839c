"""The kit: which pieces there are, who plays, and where each sound stands on the staff.

The key is data: everything that prints or writes notes reads `Kit.key`, one row per sound, with presets by school
(`keys`).
"""

from typing import Final, Literal

import msgspec

from .keys import FIVE_PIECE_KEY, KEYS, MIDDLE_LINE_KEY, SECOND_KEY, Head, StaffPlace, Voice
from .sounds import SOUNDS, Sound, midi_key

__all__ = [
    "FEET", "FIVE_PIECE_KEY", "HANDS", "KEYS", "LETTERS", "LIMBS", "MIDDLE_LINE_KEY", "SECOND_KEY", "STANDARD_PIECES",
    "Handed", "Head", "Kit", "Letter", "Limb", "StaffPlace", "Voice", "sorted_pieces",
]  # fmt: skip

Handed = Literal["right", "left"]
Limb = Literal["right hand", "left hand", "right foot", "left foot"]
Letter = Literal["R", "L"]

HANDS: Final[tuple[Limb, Limb]] = ("right hand", "left hand")
FEET: Final[tuple[Limb, Limb]] = ("right foot", "left foot")
LETTERS: Final[dict[Limb, Letter]] = {"right hand": "R", "left hand": "L"}
"""The letter written for each hand."""
LIMBS: Final[tuple[Limb, ...]] = (*HANDS, *FEET)


STANDARD_PIECES: Final[tuple[Sound, ...]] = (
    "kick",
    "snare",
    "rim",
    "hat_closed",
    "hat_open",
    "hat_pedal",
    "tom_high",
    "tom_mid",
    "tom_floor",
    "crash",
    "ride",
    "ride_bell",
)
"""A five-piece kit with hi-hat, crash and ride: what most students sit at (common practice, no source)."""


class Kit(msgspec.Struct, frozen=True, kw_only=True):
    """One kit and its player. `open_handed`: the hand on the hat's own side keeps time, nothing crosses.

    `limbs` are those the player uses (adaptive players may have fewer); `double_pedal`: the other foot can kick too.
    """

    handed: Handed = "right"
    pieces: tuple[Sound, ...] = STANDARD_PIECES
    open_handed: bool = False
    double_pedal: bool = False
    limbs: tuple[Limb, ...] = LIMBS
    key: dict[Sound, StaffPlace] = msgspec.field(default_factory=lambda: dict(FIVE_PIECE_KEY))
    second_key: dict[Sound, StaffPlace] = msgspec.field(default_factory=lambda: dict(SECOND_KEY))
    extra: dict[str, object] = {}

    def place(self, sound: Sound, *, second: bool = False) -> StaffPlace:
        """Where a sound stands on this kit's staff; the five-piece place when the kit's own key lacks it.

        `second`: the place of the second of its kind, where the key has one.
        """
        found = self.second_key.get(sound) if second else None
        return found or self.key.get(sound, FIVE_PIECE_KEY[sound])

    def midi(self, sound: Sound, *, second: bool = False) -> int:
        """The MIDI percussion key (0-based) that files carry for a sound: the key's own, else General MIDI's."""
        table = self.second_key if second else self.key
        own = table[sound].midi if sound in table else None
        return midi_key(sound, second=second) if own is None else own

    @property
    def kick_foot(self) -> Limb:
        """The foot on the kick pedal."""
        return "right foot" if self.handed == "right" else "left foot"

    @property
    def hat_foot(self) -> Limb:
        """The foot on the hi-hat pedal."""
        return "left foot" if self.handed == "right" else "right foot"

    @property
    def lead_hand(self) -> Limb:
        """The stronger hand."""
        return "right hand" if self.handed == "right" else "left hand"

    @property
    def other_hand(self) -> Limb:
        """The other hand."""
        return "left hand" if self.handed == "right" else "right hand"


def sorted_pieces(pieces: set[Sound] | frozenset[Sound]) -> tuple[Sound, ...]:
    """Pieces in the fixed order of `SOUNDS`."""
    return tuple(sound for sound in SOUNDS if sound in pieces)
