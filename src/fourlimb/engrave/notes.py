"""The notes of one MusicXML part: which elements strike what, where, and how."""

import re
import xml.etree.ElementTree as ElementTree
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from typing import Final, cast, get_args

from msgspec.structs import replace

from fourlimb.model import InputError, Kit, Letter, Limb, Sound, Stroke, Struck
from fourlimb.model.chart import Grace
from fourlimb.model.kit import FIVE_PIECE_KEY, LIMBS
from fourlimb.model.places import bar_length
from fourlimb.model.sounds import CYMBALS, FROM_GENERAL_MIDI, HATS

from .instruments import Instruments
from .xmlnotes import NOTEHEAD, TYPES, display, usual_limb

Element = ElementTree.Element

_VALUES: Final = {name: Fraction(1, value) for value, name in TYPES.items()} | {"breve": Fraction(2)}
_GRACES: Final[tuple[Grace, ...]] = ("flam", "drag", "ruff", "long_ruff")


def child(element: Element, path: str) -> Element | None:
    """The first element at a path, or None."""
    return element.find(path)


def text_of(element: Element, path: str) -> str:
    """Stripped text at a path; empty when there is none."""
    return (element.findtext(path) or "").strip()


def drum_parts(root: Element) -> list[str]:
    """Ids of the percussion parts: unpitched notes, a percussion clef, or channel 10."""
    drums = set()
    for part in root.iter("score-part"):
        channels = {text_of(i, "midi-channel") for i in part.iter("midi-instrument")}
        if "10" in channels or any(True for _ in part.iter("midi-unpitched")):
            drums.add(part.get("id", ""))
    for part in root.iter("part"):
        clef = any(text_of(c, "sign").lower() == "percussion" for c in part.iter("clef"))
        if clef or next(part.iter("unpitched"), None) is not None:
            drums.add(part.get("id", ""))
    return [p.get("id", "") for p in root.iter("score-part") if p.get("id", "") in drums]


class NoteReader:
    """Reads the measures of one part in order; divisions and meter carry over from bar to bar."""

    def __init__(self, root: Element, part: str, unknown: Counter[str]) -> None:
        self.meter = "4/4"
        self._divisions = Fraction(1)
        self._unknown = unknown
        self._kit = Kit()
        self._instruments = Instruments(root, part)

    @property
    def counts_from_zero(self) -> bool:
        """True when the part's percussion numbers count from 0, against the standard."""
        return self._instruments.from_zero

    def measure(self, measure: Element, bar: int) -> tuple[list[Stroke], Fraction]:
        """Strokes of a measure (positions from its own start) and its length as filled."""
        self._attributes(measure)
        at = longest = start = Fraction(0)
        graces: list[Sound] = []
        before: list[Sound] = []
        strokes: list[Stroke] = []
        for element in measure:
            if element.tag == "note":
                if child(element, "grace") is not None:
                    graces += filter(None, [self._sound(element)])
                    continue
                chord = child(element, "chord") is not None
                length = self._length(element)
                start = start if chord else at
                if not chord:
                    before, graces = graces, []
                strokes += self._strokes(element, bar, start, before)
                self._hold(element, strokes, start)
                at = at if chord else at + length
            elif element.tag == "backup":
                at = max(Fraction(0), at - self._ticks(element))
            elif element.tag == "forward":
                at += self._ticks(element)
            longest = max(longest, at)
        return _fold(strokes), self._filled(longest)

    def _filled(self, longest: Fraction) -> Fraction:
        """Length of what fills the bar; its meter's when nothing does."""
        return longest or bar_length(self.meter)

    def _attributes(self, measure: Element) -> None:
        for attributes in measure.findall("attributes"):
            divisions = text_of(attributes, "divisions")
            if divisions:
                try:
                    self._divisions = max(Fraction(divisions), Fraction(1, 1000))
                except (ValueError, ZeroDivisionError):
                    raise InputError(
                        f'divisions "{divisions[:20]}" are not a number: export the score again'
                    ) from None
            for time in attributes.findall("time")[:1]:
                beats, unit = text_of(time, "beats"), text_of(time, "beat-type")
                parts = [p for p in beats.split("+") if p.strip().isdigit()]
                if parts and unit.isdigit():
                    meter = f"{'+'.join(str(int(p)) for p in parts)}/{int(unit)}"
                    bar_length(meter)
                    self.meter = meter

    def _ticks(self, element: Element) -> Fraction:
        text = text_of(element, "duration")
        try:
            found = Fraction(text or 0) / self._divisions / 4
        except (ValueError, ZeroDivisionError):
            raise InputError(f'a duration "{text[:20]}" is not a number: export the score again') from None
        return min(max(found, Fraction(0)), Fraction(64))

    def _length(self, note: Element) -> Fraction:
        """Exact length: the type's when the ticks are only a rounding of it."""
        ticks = self._ticks(note)
        value = _VALUES.get(text_of(note, "type"))
        if value is None:
            return ticks
        for _ in note.findall("dot"):
            value += value / 3 if value.numerator == 3 else value / 2
        change = child(note, "time-modification")
        if change is not None:
            actual, normal = text_of(change, "actual-notes"), text_of(change, "normal-notes")
            if actual.isdigit() and normal.isdigit() and int(actual):
                value = value * int(normal) / int(actual)
        return value if abs(value - ticks) * self._divisions * 4 < 1 else ticks

    def _strokes(self, note: Element, bar: int, at: Fraction, graces: Sequence[Sound]) -> list[Stroke]:
        if child(note, "rest") is not None or child(note, "cue") is not None:
            return []
        goes_on = any(tie.get("type") == "stop" for tie in note.findall("tie"))
        if goes_on and (at > 0 or not _rolls(note)):
            return []
        piece = self._piece(note)
        if piece is None:
            return []
        said = {p.get("type", ""): (p.text or "") for p in note.iter("other-play")}
        struck = _struck(note, piece, said)
        letter = _letter(note)
        limb = said.get("limb") if said.get("limb") in LIMBS else usual_limb(piece, letter, self._kit)
        small = graces.count(piece)
        grace = said.get("grace") if said.get("grace") in _GRACES else _GRACES[min(small, 4) - 1] if small else None
        head = child(note, "notehead")
        return [
            Stroke(
                bar=bar,
                position=at,
                piece=piece,
                limb=cast(Limb, limb),
                letter=letter,
                accent=any(True for tag in ("accent", "strong-accent") for _ in note.iter(tag)),
                ghost=head is not None and head.get("parentheses") == "yes",
                grace=cast("Grace | None", grace),
                struck=struck,
                second=self._instruments.of(note) in self._instruments.seconds,
                roll=_roll(note, said),
                lasts=self._lasts(note, said),
                tied=goes_on,
                word=_word(note),
                velocity=_velocity(note),
            )
        ]

    def _lasts(self, note: Element, said: dict[str, str]) -> Fraction:
        """How long a roll is kept up: as its file says, else as long as it is written; 0 for what is no roll."""
        if not _rolls(note):
            return Fraction(0)
        if re.fullmatch(r"\d{1,6}(/[1-9]\d{0,5})?", said.get("lasts", "")):
            return Fraction(said["lasts"])
        return Fraction(0) if said.keys() & {"roll", "struck"} else self._length(note)

    def _hold(self, note: Element, strokes: list[Stroke], at: Fraction) -> None:
        """A roll that began earlier in the bar lasts on through a note tied to it."""
        if at == 0 or not any(tie.get("type") == "stop" for tie in note.findall("tie")):
            return
        second, piece = self._instruments.of(note) in self._instruments.seconds, self._piece(note)
        for index, one in reversed(list(enumerate(strokes))):
            if (one.piece, one.second) == (piece, second):
                if one.lasts and one.position + one.lasts == at:
                    strokes[index] = replace(one, lasts=one.lasts + self._length(note))
                return

    def _piece(self, note: Element) -> Sound | None:
        piece = self._sound(note)
        if piece is None:
            return None
        opened = next(note.iter("open"), None) is not None or next(note.iter("open-string"), None) is not None
        if piece == "hat_closed" and opened:
            return "hat_open"
        head = text_of(note, "notehead")
        if piece == "snare" and head in ("x", "circle-x") and "rim" not in self._instruments.sounds.values():
            return "rim"
        if piece == "ride" and head.startswith("diamond") and "ride_bell" not in self._instruments.sounds.values():
            return "ride_bell"
        return piece

    def _sound(self, note: Element) -> Sound | None:
        known = self._instruments
        name = known.of(note)
        found = known.sounds.get(name)
        if found is not None:
            return found
        foreign = name in known.foreign  # its own key says that it is none of ours
        found = None if foreign else _by_pitch(note) or _by_place(note)
        if found is None:
            self._unknown[known.names.get(name, name) or "a note without instrument"] += 1
        return found


def _fold(strokes: Sequence[Stroke]) -> list[Stroke]:
    """Strokes in order of place."""
    return sorted(strokes, key=lambda s: s.sort_key)


def _by_pitch(note: Element) -> Sound | None:
    pitch = child(note, "pitch")
    if pitch is None:
        return None
    step, octave, alter = text_of(pitch, "step"), text_of(pitch, "octave"), text_of(pitch, "alter") or "0"
    try:
        key = 12 * (int(octave) + 1) + "C D EF G A B".index(step) + round(float(alter))
    except ValueError:
        return None
    return FROM_GENERAL_MIDI.get(key)


_PLACES: Final = {
    (display(place.line), NOTEHEAD[place.head]): sound for sound, place in reversed(FIVE_PIECE_KEY.items())
}


def _by_place(note: Element) -> Sound | None:
    unpitched = child(note, "unpitched")
    if unpitched is None:
        return None
    step, octave = text_of(unpitched, "display-step"), text_of(unpitched, "display-octave")
    if not octave.isdigit():
        return None
    return _PLACES.get(((step, int(octave)), text_of(note, "notehead") or "normal"))


def _struck(note: Element, piece: Sound, said: dict[str, str]) -> Struck | None:
    if said.get("struck") in get_args(Struck):
        return cast(Struck, said["struck"])
    tremolo = next(note.iter("tremolo"), None)
    if tremolo is not None and tremolo.get("type") == "unmeasured":
        return "buzz"
    if any(tied.get("type") == "let-ring" for tied in note.iter("tied")):
        return "let_ring"
    if text_of(note, "notehead") == "slashed" and piece == "snare":
        return "rimshot"
    if piece in HATS and next(note.iter("half-muted"), None) is not None:
        return "half_open"
    if piece == "hat_pedal" and next(note.iter("open"), None) is not None:
        return "foot_splash"
    if piece in CYMBALS and next(note.iter("staccato"), None) is not None:
        return "choke"
    return None


def _roll(note: Element, said: dict[str, str]) -> int:
    """Notes of 1/n that a measured roll is made of: a slash is one flag more than the note has; 0 for none."""
    if said.get("roll", "").isdigit():
        return min(int(said["roll"]), 128)
    tremolo = next(note.iter("tremolo"), None)
    slashes = (tremolo.text or "").strip() if tremolo is not None else ""
    if tremolo is None or tremolo.get("type", "single") != "single" or slashes not in ("1", "2", "3", "4", "5"):
        return 0
    value = _VALUES.get(text_of(note, "type"), Fraction(1, 4))
    return int(max(4, value.denominator) * 2 ** int(slashes))


def _rolls(note: Element) -> bool:
    """True for a note with slashes or the sign of a buzz, and not for a tremolo between two notes."""
    if any(p.get("type") == "roll" or p.text == "buzz" for p in note.iter("other-play")):
        return True
    return any(t.get("type", "single") in ("single", "unmeasured") for t in note.iter("tremolo"))


def _word(note: Element) -> str:
    """The syllable of a verse called "words"; other verses are the song's or a count."""
    for lyric in note.findall("lyric"):
        if lyric.get("name") == "words":
            return text_of(lyric, "text")
    return ""


def _letter(note: Element) -> Letter | None:
    sung = [text for lyric in note.findall("lyric") if not lyric.get("name") for text in lyric.iter("text")]
    for element in (*note.iter("fingering"), *sung):
        if (element.text or "").strip() in ("R", "L"):
            return cast(Letter, (element.text or "").strip())
    return None


def _velocity(note: Element) -> int:
    try:
        return max(1, min(127, round(float(note.get("dynamics") or "") * 0.9)))
    except (ValueError, OverflowError):
        return 80
