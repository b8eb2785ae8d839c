"""Names of things on the page: `bar12` a measure, `s12.3-16.snare` a stroke, `e12.h3` a chord or rest.

A stroke on the second of its kind ends in ".2": `s12.0.crash.2`.

A position is written with a hyphen for its stroke, because XML names cannot hold one: 3/16 -> "3-16", 0 -> "0".
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import cast

from fourlimb.model import Sound, Stroke

from .blocks import Line
from .notate import Event, WrittenBar

_STROKE = re.compile(r"^s(\d+)\.(\d+)(?:-(\d+))?\.(\w+)(?:\.2)?$")


@dataclass(frozen=True)
class Place:
    """What an engraved thing is: its bar, exact position, and the piece when it is a stroke's head."""

    bar: int
    position: Fraction
    name: str
    piece: Sound | None = None


def stroke_id(bar: int, position: Fraction, piece: Sound, *, second: bool = False) -> str:
    """The name of a stroke on the page; the second of a kind ends in ".2"."""
    return f"s{bar}.{str(position).replace('/', '-')}.{piece}{'.2' if second else ''}"


def read_stroke_id(name: str) -> tuple[int, Fraction, Sound] | None:
    """Bar, position and piece of a stroke's name; None when it is none."""
    found = _STROKE.match(name)
    if not found:
        return None
    return int(found[1]), Fraction(int(found[2]), int(found[3] or 1)), cast(Sound, found[4])


def line_places(line: Line, written: dict[int, WrittenBar]) -> dict[str, Place]:
    """Engraver's id (counted from the line's head) -> what it is, for every event and head of a line."""
    places: dict[str, Place] = {}
    for index, block in enumerate(line.blocks):
        if block.kind != "written":
            continue
        for voice in written[block.bar].voices:
            for count, event in enumerate(voice.events):
                name = f"b_{index}.{voice.name[0]}{count}"
                own = f"e{block.bar}.{voice.name[0]}{count}"
                at = event.slot.start
                heads = event.heads
                if len(heads) == 1 and not _goes_on(event, heads[0]):
                    own = stroke_id(block.bar, at, heads[0].piece, second=heads[0].second)
                places[name] = Place(block.bar, at, own, None if own.startswith("e") else heads[0].piece)
                for number, stroke in enumerate(heads if len(heads) > 1 else ()):
                    head_name = stroke_id(block.bar, at, stroke.piece, second=stroke.second)
                    if _goes_on(event, stroke):
                        head_name = f"{own}.{number}"
                    places[f"{name}.{number}"] = Place(block.bar, at, head_name, stroke.piece)
    return places


def _goes_on(event: Event, stroke: Stroke) -> bool:
    """True for a head inside a roll, which stands for no stroke of its own."""
    return stroke.position != event.slot.start
