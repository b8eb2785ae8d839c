"""One stroke in MusicXML: the tables and signs that the writer and the reader share."""

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterable, Sequence
from typing import Final

from fourlimb.model import Kit, Sound, Stroke
from fourlimb.model.kit import Head

from .notate import Event, place_of
from .words import grace_steps, printable

Element = ElementTree.Element

PART: Final = "P1"
INSTRUMENT_SOUND: Final[dict[Sound, str]] = {
    "kick": "drum.bass-drum",
    "snare": "drum.snare-drum",
    "rim": "drum.snare-drum",
    "clap": "effect.hand-clap",
    "hat_closed": "metal.hi-hat",
    "hat_open": "metal.hi-hat",
    "hat_pedal": "metal.hi-hat",
    "tom_high": "drum.tom-tom",
    "tom_mid": "drum.tom-tom",
    "tom_floor": "drum.tom-tom",
    "crash": "metal.cymbal.crash",
    "ride": "metal.cymbal.ride",
    "ride_bell": "metal.cymbal.ride",
    "china": "metal.cymbal.chinese",
    "splash": "metal.cymbal.splash",
    "cowbell": "metal.bells.cowbell",
    "tambourine": "drum.tambourine",
    "shaker": "rattle.shaker",
}
"""MusicXML 4.0 standard sounds (sounds.xml)."""

NOTEHEAD: Final[dict[Head, str]] = {
    "normal": "normal",
    "x": "x",
    "circle-x": "circle-x",
    "diamond": "diamond",
    "triangle": "triangle",
    "plus": "cross",
    "slash": "slashed",
}

TYPES: Final[dict[int, str]] = {
    1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th", 128: "128th", 256: "256th",
    512: "512th",
}  # fmt: skip


def display(line: int) -> tuple[str, int]:
    """Step and octave of a staff place: a percussion clef reads like a treble clef, bottom line E4 (W3C)."""
    number = 2 + line
    return "CDEFGAB"[number % 7], 4 + number // 7


def place(note: Element, stroke: Stroke, kit: Kit) -> None:
    """Where a stroke stands on the staff."""
    step, octave = display(place_of(kit, stroke).line)
    unpitched = ElementTree.SubElement(note, "unpitched")
    ElementTree.SubElement(unpitched, "display-step").text = step
    ElementTree.SubElement(unpitched, "display-octave").text = str(octave)


def notehead(note: Element, stroke: Stroke, kit: Kit) -> None:
    """The head, when it is not an ordinary one."""
    head = NOTEHEAD[place_of(kit, stroke).head]
    if stroke.struck == "rimshot":
        head = "slashed"
    if head != "normal" or stroke.ghost:
        attributes = {"parentheses": "yes"} if stroke.ghost else {}
        ElementTree.SubElement(note, "notehead", attributes).text = head


def grace_notes(heads: Sequence[Stroke], kit: Kit, number: int) -> Iterable[Element]:
    """Small notes before a note or chord; strokes with fewer of them join at the last."""
    for index, together in enumerate(steps := grace_steps(heads)):
        for chord, stroke in enumerate(together):
            note = Element("note")
            ElementTree.SubElement(note, "grace", {"slash": "yes"} if len(steps) == 1 else {})
            if chord:
                ElementTree.SubElement(note, "chord")
            place(note, stroke, kit)
            ElementTree.SubElement(note, "instrument", {"id": instrument_id(stroke.piece, stroke.second)})
            ElementTree.SubElement(note, "voice").text = str(number)
            ElementTree.SubElement(note, "type").text = "eighth" if len(steps) == 1 else "16th"
            ElementTree.SubElement(note, "stem").text = "up"
            if len(steps) > 1 and not chord:
                state = "begin" if index == 0 else "end" if index == len(steps) - 1 else "continue"
                for level in ("1", "2"):
                    ElementTree.SubElement(note, "beam", {"number": level}).text = state
            yield note


def instrument_id(piece: Sound, second: bool) -> str:
    """The id of a sound's instrument; the second of a kind is an instrument of its own."""
    return f"{PART}-{piece}{'-2' if second else ''}"


def marks(found: Element, stroke: Stroke, *, closes: bool = False, slashes: int = 0) -> None:
    """Let ring, roll, hand letter, open and closed signs, accent and choke, into a `notations` element."""
    if stroke.struck == "let_ring":
        ElementTree.SubElement(found, "tied", {"type": "let-ring"})
    if stroke.struck == "buzz":
        ornaments = ElementTree.SubElement(found, "ornaments")
        ElementTree.SubElement(ornaments, "tremolo", {"type": "unmeasured"}).text = "0"
    elif stroke.roll and slashes:
        ornaments = ElementTree.SubElement(found, "ornaments")
        ElementTree.SubElement(ornaments, "tremolo", {"type": "single"}).text = str(slashes)
    technical = Element("technical")
    if stroke.letter:
        ElementTree.SubElement(technical, "fingering").text = stroke.letter
    if stroke.struck == "half_open":
        ElementTree.SubElement(technical, "half-muted")
    elif stroke.piece == "hat_open" or stroke.struck == "foot_splash":
        ElementTree.SubElement(technical, "open")
    elif closes:
        ElementTree.SubElement(technical, "stopped")
    if len(technical):
        found.append(technical)
    articulations = Element("articulations")
    if stroke.accent:
        ElementTree.SubElement(articulations, "accent")
    if stroke.struck == "choke":
        ElementTree.SubElement(articulations, "staccato")
    if len(articulations):
        found.append(articulations)


def tie_ends(event: Event, stroke: Stroke) -> tuple[str, ...]:
    """Ties at one head: "stop" where a roll comes from the event before, "start" where it goes on."""
    key = stroke.piece, stroke.second
    return tuple(kind for kind, keys in (("stop", event.held), ("start", event.holds)) if key in keys)


def play(note: Element, stroke: Stroke, kit: Kit) -> None:
    """What the signs alone do not say exactly."""
    play = Element("play")
    if stroke.limb != usual_limb(stroke.piece, stroke.letter, kit):
        ElementTree.SubElement(play, "other-play", {"type": "limb"}).text = stroke.limb
    if stroke.struck:
        ElementTree.SubElement(play, "other-play", {"type": "struck"}).text = stroke.struck
    if stroke.grace:
        ElementTree.SubElement(play, "other-play", {"type": "grace"}).text = stroke.grace
    if stroke.roll:
        ElementTree.SubElement(play, "other-play", {"type": "roll"}).text = str(stroke.roll)
    if stroke.rolls and stroke.lasts:
        ElementTree.SubElement(play, "other-play", {"type": "lasts"}).text = str(stroke.lasts)
    if len(play):
        note.append(play)


def lyric(note: Element, number: int, name: str, text: str) -> None:
    """A syllable under a note: the count is verse 1, words to the rhythm are verse 2."""
    if not text:
        return
    found = ElementTree.SubElement(note, "lyric", {"number": str(number), "name": name})
    ElementTree.SubElement(found, "syllabic").text = "single"
    ElementTree.SubElement(found, "text").text = printable(text)


def usual_limb(piece: Sound, letter: str | None, kit: Kit) -> str:
    """The limb that a reader would assume."""
    if piece == "kick":
        return kit.kick_foot
    if piece == "hat_pedal":
        return kit.hat_foot
    return {"R": "right hand", "L": "left hand"}.get(letter or "", kit.lead_hand)
