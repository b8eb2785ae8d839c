"""The kit: which pieces there are, who plays, and where each sound stands on the staff.

The key is data: everything that prints or writes notes reads `Kit.key`, one row per sound, with presets by school.
"""

from typing import Final, Literal

import msgspec

from .sounds import SOUNDS, Sound

Handed = Literal["right", "left"]
Limb = Literal["right hand", "left hand", "right foot", "left foot"]
Letter = Literal["R", "L"]
Head = Literal["normal", "x", "circle-x", "diamond", "triangle", "plus", "slash"]
Voice = Literal["hands", "feet"]

HANDS: Final[tuple[Limb, Limb]] = ("right hand", "left hand")
FEET: Final[tuple[Limb, Limb]] = ("right foot", "left foot")
LETTERS: Final[dict[Limb, Letter]] = {"right hand": "R", "left hand": "L"}
"""The letter written for each hand."""
LIMBS: Final[tuple[Limb, ...]] = (*HANDS, *FEET)


class StaffPlace(msgspec.Struct, frozen=True, kw_only=True):
    """Where a sound stands. `line`: steps above the bottom line (0 = bottom line, 1 = first space, 8 = top line)."""

    line: int
    head: Head = "normal"
    voice: Voice = "hands"


def _key(rows: dict[Sound, tuple[int, Head, Voice]]) -> dict[Sound, StaffPlace]:
    return {sound: StaffPlace(line=line, head=head, voice=voice) for sound, (line, head, voice) in rows.items()}


FIVE_PIECE_KEY: Final = _key(
    {
        "kick": (1, "normal", "feet"),
        "snare": (5, "normal", "hands"),
        "rim": (5, "x", "hands"),
        "clap": (4, "x", "hands"),
        "hat_closed": (9, "x", "hands"),
        "hat_open": (9, "x", "hands"),
        "hat_pedal": (-1, "x", "feet"),
        "tom_high": (7, "normal", "hands"),
        "tom_mid": (6, "normal", "hands"),
        "tom_floor": (3, "normal", "hands"),
        "crash": (10, "x", "hands"),
        "ride": (8, "x", "hands"),
        "ride_bell": (8, "diamond", "hands"),
        "china": (11, "circle-x", "hands"),
        "splash": (11, "diamond", "hands"),
        "cowbell": (7, "triangle", "hands"),
        "tambourine": (4, "triangle", "hands"),
        "shaker": (4, "plus", "hands"),
    }
)
"""The five-piece tradition (W3C MusicXML 4.0 percussion tutorial for kick, snare and hat; tutors' published keys for
the toms, crash and ride; the rest common practice, no source)."""

MIDDLE_LINE_KEY: Final = FIVE_PIECE_KEY | _key(
    {
        "snare": (4, "normal", "hands"),
        "rim": (4, "x", "hands"),
        "tom_high": (7, "normal", "hands"),
        "tom_mid": (5, "normal", "hands"),
        "tom_floor": (3, "normal", "hands"),
        "clap": (6, "x", "hands"),
        "tambourine": (6, "triangle", "hands"),
        "shaker": (6, "plus", "hands"),
    }
)
"""The school with the snare on the middle line and the drums in the spaces (published tutors differ; see the key
printed on every chart)."""

SECOND_KEY: Final = _key(
    {
        "kick": (0, "normal", "feet"),
        "tom_floor": (2, "normal", "hands"),
        "crash": (11, "x", "hands"),
        "ride": (8, "slash", "hands"),
    }
)
"""Where the second of a kind stands: the other kick drum on the bottom line, the lower floor tom on line 2, the other
crash over its ledger line (common practice, no source; the second ride ours)."""

KEYS: Final[dict[str, dict[Sound, StaffPlace]]] = {
    "five-piece": FIVE_PIECE_KEY,
    "middle line": MIDDLE_LINE_KEY,
}

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
