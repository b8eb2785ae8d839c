"""What a sound that one drummer or this kit cannot give is written as: a table a teacher can edit.

Two questions per sound. Is it another player's or a machine's (a *layer*)? Then its *role* decides: a role that
the drummer already fills in this section is not given to the layer (it is left out or merged); an empty role is
taken over by the piece named. Is the piece missing on the kit? Then the first piece of `to` that the kit has is
used.
"""

from dataclasses import dataclass
from typing import Final, Literal

from fourlimb.model import Layer, Sound

Role = Literal["time", "backbeat", "low"]

ROLE_SAYS: Final[dict[Role, str]] = {
    "time": "keeps time",
    "backbeat": "has the backbeat",
    "low": "has the low drum",
}


@dataclass(frozen=True, slots=True)
class Substitution:
    """One row: a sound, the pieces it may be written as (first one on the kit), and why. All common practice."""

    sound: Sound
    to: tuple[Sound, ...]
    why: str


MISSING: Final[tuple[Substitution, ...]] = (
    Substitution("kick", ("tom_floor",), "no foot or no kick: the lowest drum by hand"),
    Substitution("snare", ("rim", "tom_high", "tom_mid", "tom_floor"), "no snare: the highest drum"),
    Substitution("rim", ("snare", "tom_high"), "no cross-stick: the snare itself"),
    Substitution("clap", ("snare", "rim", "tom_high"), "hands that clap are no part of the kit"),
    Substitution("hat_closed", ("ride", "hat_open", "cowbell"), "no hi-hat: the ride keeps time"),
    Substitution("hat_open", ("hat_closed", "ride", "crash"), "no open hat: the nearest cymbal"),
    Substitution("hat_pedal", (), "no foot on a hi-hat"),
    Substitution("tom_high", ("tom_mid", "tom_floor", "snare"), "nearest tom"),
    Substitution("tom_mid", ("tom_high", "tom_floor", "snare"), "nearest tom"),
    Substitution("tom_floor", ("tom_mid", "tom_high", "snare"), "nearest tom"),
    Substitution("crash", ("china", "splash", "ride", "hat_open"), "no crash: the nearest cymbal"),
    Substitution("ride", ("hat_closed", "crash"), "no ride: the hat keeps time"),
    Substitution("ride_bell", ("ride", "cowbell", "hat_closed"), "no bell: the nearest cymbal"),
    Substitution("china", ("crash", "splash", "ride"), "no china: the nearest cymbal"),
    Substitution("splash", ("crash", "china", "ride"), "no splash: the nearest cymbal"),
    Substitution("cowbell", ("ride_bell", "ride", "hat_closed"), "no cowbell: the nearest metal"),
    Substitution("tambourine", ("hat_closed", "ride"), "no tambourine on this kit: the hat"),
    Substitution("shaker", ("hat_closed", "ride"), "no shaker on this kit: the hat"),
)
MISSING_ROW: Final[dict[Sound, Substitution]] = {row.sound: row for row in MISSING}

SOUND_ROLE: Final[dict[Sound, Role]] = {
    "kick": "low",
    "snare": "backbeat",
    "rim": "backbeat",
    "clap": "backbeat",
    "hat_closed": "time",
    "hat_open": "time",
    "ride": "time",
    "ride_bell": "time",
    "tambourine": "time",
    "shaker": "time",
    "cowbell": "time",
}
"""The role a sound plays; others (toms, crashes, the foot's hat) have none."""

EXTRA_SOUNDS: Final[frozenset[Sound]] = frozenset({"shaker", "tambourine", "clap"})
"""Sounds that are taken as another player's unless the kit holds them (common practice)."""


@dataclass(frozen=True, slots=True)
class LayerRow:
    """What becomes of a layer: the piece it takes over, when its role is empty. None: the sound's own piece."""

    layer: Layer
    to: Sound | None
    keeps: bool
    why: str


LAYERS: Final[dict[Layer, LayerRow]] = {
    row.layer: row
    for row in (
        LayerRow("programmed", None, False, "a machine's part beside the drummer's"),
        LayerRow("hand percussion", "hat_closed", False, "another player's hands"),
        LayerRow("second snare", "snare", False, "a second snare beside the drummer's own"),
        LayerRow("stacked kick", "kick", True, "one foot cannot be two drums"),
    )
}
"""`keeps`: written even where the role is filled (at a place of its own), because it carries the line."""
