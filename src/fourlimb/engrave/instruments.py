"""Which sound each instrument of a MusicXML part is.

The General MIDI key decides (`midi-unpitched`, which counts from 1), else the instrument's name, else its standard
sound. Some programs count from 0: where the names of at least two instruments agree with that and fewer agree with
the standard, the part is read so, and the reader says it. In files of our own the id names the sound, because a
teacher's key may give it any MIDI number.
"""

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping
from typing import Final

from fourlimb.model import Sound
from fourlimb.model.kit import SECOND_KEY
from fourlimb.model.sounds import FROM_GENERAL_MIDI, GENERAL_MIDI, SECOND_GENERAL_MIDI, SOUNDS

from .xmlnotes import INSTRUMENT_SOUND, PART

Element = ElementTree.Element

NAMES: Final[tuple[tuple[str, Sound], ...]] = (
    (r"side.?stick|cross.?stick|rim.?(click|knock)|\brim\b", "rim"),
    (r"(open|half).*(hat)|hat.*(open|half)", "hat_open"),
    (r"(pedal|foot).*hat|hat.*(pedal|foot)", "hat_pedal"),
    (r"hi.?hat|\bhat\b|charley", "hat_closed"),
    (r"bass.?drum|\bkick\b|grosse caisse|gran cassa", "kick"),
    (r"snare|caisse claire|\bsd\b", "snare"),
    (r"(mid|low.?mid|hi.?mid).*tom|tom.?2", "tom_mid"),
    (r"floor.*tom|(low|tom.?(3|4)).*tom|low.*floor|tom.?3|low tom", "tom_floor"),
    (r"(high|hi|rack).*tom|tom.?1|\btom", "tom_high"),
    (r"ride.*bell|bell.*ride|cup", "ride_bell"),
    (r"ride", "ride"),
    (r"china|chinese", "china"),
    (r"splash", "splash"),
    (r"crash|cymbal", "crash"),
    (r"cow.?bell", "cowbell"),
    (r"tambourine", "tambourine"),
    (r"shaker|maraca|cabasa", "shaker"),
    (r"clap", "clap"),
)
"""Instrument names as programs write them, first match wins."""


class Instruments:
    """The instruments that a part declares: sound and name by id.

    `foreign`: ids whose own key says that they are no drum of ours; `seconds`: those on the second of a kind.
    """

    def __init__(self, root: Element, part: str) -> None:
        self.sounds: dict[str, Sound | None] = {}
        self.names: dict[str, str] = {}
        self.foreign: set[str] = set()
        self.seconds: set[str] = set()
        self.from_zero = False
        declared = next((p for p in root.iter("score-part") if p.get("id") == part), None)
        if declared is None:
            return
        self._read_names(declared)
        if _text(root, "identification/encoding/software") == "fourlimb":
            self._read_ours()
            return
        keys = self._read_keys(declared)
        struck = {i.get("id", "") for p in root.iter("part") if p.get("id") == part for i in p.iter("instrument")}
        self.seconds = self._second_of_their_kind(keys, struck)

    def of(self, note: Element) -> str:
        """The id of a note's instrument; the only one there is when the note names none."""
        instrument = note.find("instrument")
        name = instrument.get("id", "") if instrument is not None else ""
        return next(iter(self.sounds)) if not name and len(self.sounds) == 1 else name

    def _read_names(self, part: Element) -> None:
        for instrument in part.iter("score-instrument"):
            name, said = instrument.get("id", ""), _text(instrument, "instrument-name")
            self.names[name] = said or name
            self.sounds[name] = _by_name(said) or _by_sound(f"{said} {_text(instrument, 'instrument-sound')}")

    def _read_ours(self) -> None:
        for name in self.names:
            piece = name.removeprefix(f"{PART}-").removesuffix("-2")
            if piece in SOUNDS:
                self.sounds[name] = piece
            if name.endswith("-2"):
                self.seconds.add(name)

    def _read_keys(self, part: Element) -> dict[str, int]:
        """General MIDI keys by id, counted from 0."""
        given = {i.get("id", ""): _text(i, "midi-unpitched") for i in part.iter("midi-instrument")}
        keys = {name: int(key) - 1 for name, key in given.items() if key.isdigit()}
        if self._agree(keys, 1) > max(self._agree(keys, 0), 1):
            self.from_zero = True
            keys = {name: key + 1 for name, key in keys.items()}
        for name, key in keys.items():
            self.sounds[name] = FROM_GENERAL_MIDI.get(key) or self.sounds.get(name)
            if self.sounds[name] is None:
                self.foreign.add(name)
        return keys

    def _agree(self, keys: Mapping[str, int], more: int) -> int:
        """Instruments whose name says what their key, and `more`, says."""
        named = [(self.sounds.get(name), FROM_GENERAL_MIDI.get(key + more)) for name, key in keys.items()]
        return sum(said is not None and said == meant for said, meant in named)

    def _second_of_their_kind(self, keys: Mapping[str, int], struck: set[str]) -> set[str]:
        """Instruments on the other crash (or kick drum ...), where both are struck in this part."""
        firsts = {
            sound for name in struck & set(keys) if (sound := self.sounds[name]) and keys[name] == GENERAL_MIDI[sound]
        }
        return {
            name
            for name, key in keys.items()
            if (sound := self.sounds[name])
            and sound in SECOND_KEY
            and sound in firsts
            and key == SECOND_GENERAL_MIDI.get(sound)
        }


def _text(element: Element, path: str) -> str:
    return (element.findtext(path) or "").strip()


def _by_name(name: str) -> Sound | None:
    low = name.lower().replace("_", " ")
    return next((sound for pattern, sound in NAMES if re.search(pattern, low)), None)


def _by_sound(text: str) -> Sound | None:
    return next((sound for sound, code in INSTRUMENT_SOUND.items() if code in text), None)
