"""Ties of rolls that are kept up: MEI `tie` elements between heads of one piece, in a measure and across bar lines.

A tie whose other end stands on another line (or under a repeat sign) cannot name both heads; its half is drawn as a
short open tie, by the head's type: "tie-out" after it, "tie-in" before it.
"""

import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping

from .notate import Event, Struck, Voice, WrittenBar

Element = ElementTree.Element
ID = "xml:id"


def inner_ties(measure: Element, bar: WrittenBar, name: str) -> None:
    """The ties inside one measure, whose ids begin with `name`."""
    for voice in bar.voices:
        for index, event in enumerate(voice.events[:-1]):
            after = voice.events[index + 1]
            for key in sorted(event.holds & after.held):
                _tie(measure, voice, _head(voice, index, key, name), _head(voice, index + 1, key, name))


def outer_ties(measures: Mapping[int, Element], written: Mapping[int, WrittenBar], names: Mapping[int, str]) -> None:
    """Ties across bar lines. `measures` and `names` (how ids begin) are by bar, for written bars."""
    for bar, measure in measures.items():
        for voice in written[bar].voices:
            for key in sorted(voice.events[-1].holds):
                own = _head(voice, len(voice.events) - 1, key, names[bar])
                other = next((v for v in _voices(written, measures, bar + 1) if key in v.events[0].held), None)
                if other is None:
                    _mark(measure, own, "tie-out")
                else:
                    _tie(measure, voice, own, _head(other, 0, key, names[bar + 1]))
            for key in sorted(_struck_before(voice)):
                if not any(key in v.events[-1].holds for v in _voices(written, measures, bar - 1)):
                    _mark(measure, _head(voice, 0, key, names[bar]), "tie-in")


def _voices(written: Mapping[int, WrittenBar], measures: Mapping[int, Element], bar: int) -> tuple[Voice, ...]:
    return written[bar].voices if bar in measures else ()


def _struck_before(voice: Voice) -> frozenset[Struck]:
    return voice.events[0].held


def _head(voice: Voice, index: int, key: Struck, name: str) -> str:
    event: Event = voice.events[index]
    own = f"{name}.{voice.name[0]}{index}"
    if len(event.heads) == 1:
        return own
    return f"{own}.{next(n for n, s in enumerate(event.heads) if (s.piece, s.second) == key)}"


def _tie(measure: Element, voice: Voice, start: str, end: str) -> None:
    side = "above" if voice.name == "feet" else "below"
    ElementTree.SubElement(measure, "tie", {"startid": f"#{start}", "endid": f"#{end}", "curvedir": side})


def _mark(measure: Element, head: str, kind: str) -> None:
    for note in measure.iter("note"):
        if note.get(ID) == head:
            note.set("type", f"{note.get('type', '')} {kind}".strip())
