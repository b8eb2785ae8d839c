"""A kit and its player in a teacher's words: "left-handed, double pedal, second crash, no ride, no left foot".

In: a kit and a line of such words, separated by commas. Out: the kit with what was said changed. Nothing said,
nothing changed; the last word on a thing holds.
"""

import re
from collections.abc import Callable
from difflib import get_close_matches
from typing import Final

import msgspec

from .count import read_piece
from .errors import CorrectionError, InputError
from .kit import LIMBS, STANDARD_PIECES, Kit, Limb, sorted_pieces
from .sounds import SAY, Sound

Change = Callable[[Kit], Kit]


def _set(**fields: object) -> Change:
    def change(kit: Kit) -> Kit:
        return msgspec.structs.replace(kit, **fields)

    return change


def _second_crash(there: bool) -> Change:
    def change(kit: Kit) -> Kit:
        rest = {name: value for name, value in kit.extra.items() if name != "second_crash"}
        return msgspec.structs.replace(kit, extra=rest | ({"second_crash": True} if there else {}))

    return change


WORDS: Final[dict[str, Change]] = {
    "left-handed": _set(handed="left"),
    "right-handed": _set(handed="right"),
    "open-handed": _set(open_handed=True),
    "cross-handed": _set(open_handed=False),
    "double pedal": _set(double_pedal=True),
    "single pedal": _set(double_pedal=False),
    "second crash": _second_crash(True),
    "one crash": _second_crash(False),
    "five-piece kit": _set(pieces=STANDARD_PIECES),
    "all limbs": _set(limbs=LIMBS),
    "no hands": _set(limbs=tuple(limb for limb in LIMBS if "hand" not in limb)),
    "no feet": _set(limbs=tuple(limb for limb in LIMBS if "foot" not in limb)),
}
"""What may be said beside "no ...", "with ..." and the limbs."""

_PIECE = re.compile(r"^(?P<there>no|without|with|and)\s+(?:an?\s+|the\s+)?(?P<what>.+)$")
HATS: Final[tuple[Sound, ...]] = ("hat_closed", "hat_open", "hat_pedal")


def kit_said(kit: Kit, text: str) -> Kit:
    """The kit with a teacher's words about it. Raises InputError, one line, for a word that is not understood."""
    for part in text.replace(";", ",").split(","):
        word = " ".join(part.lower().split())
        if word:
            kit = _said(kit, word)
    return kit


def _said(kit: Kit, word: str) -> Kit:
    known = WORDS.get(word) or WORDS.get(word.replace(" handed", "-handed"))
    if known is not None:
        return known(kit)
    found = _PIECE.match(word)
    if found is None:
        near = get_close_matches(word, [*WORDS, *(f"no {limb}" for limb in LIMBS)], n=1)
        hint = f'did you mean "{near[0]}"?' if near else f"use {', '.join(WORDS)}, no ride, with splash, no left foot"
        raise InputError(f'"{word}" says nothing about a kit: {hint}')
    there, what = found["there"] in ("with", "and"), found["what"]
    limb = next((name for name in LIMBS if name == what), None)
    return _with_limb(kit, limb, there) if limb else _with_piece(kit, what, there)


def _with_limb(kit: Kit, limb: Limb, there: bool) -> Kit:
    limbs = {*kit.limbs, limb} if there else {*kit.limbs} - {limb}
    return msgspec.structs.replace(kit, limbs=tuple(name for name in LIMBS if name in limbs))


def _with_piece(kit: Kit, what: str, there: bool) -> Kit:
    named: set[Sound]
    if what in ("hat", "hats", "hi-hat", "hi-hats"):
        named = set(HATS)
    elif what in ("tom", "toms"):
        named = {"tom_high", "tom_mid", "tom_floor"}
    else:
        named = {_piece(what)}
    if named == {"ride"} and not there:
        named = {"ride", "ride_bell"}
    if named == {"snare"} and not there:
        named = {"snare", "rim"}
    pieces = {*kit.pieces} | named if there else {*kit.pieces} - named
    return msgspec.structs.replace(kit, pieces=sorted_pieces(pieces))


def _piece(what: str) -> Sound:
    try:
        return read_piece(what)
    except CorrectionError as error:
        raise InputError(str(error)) from None


def _name(piece: Sound) -> str:
    return "closed hat" if piece == "hat_closed" else SAY[piece]  # "hat" alone means all that a hat can do


def kit_in_words(kit: Kit) -> str:
    """What is special about a kit, in the same words; "" for a right-handed player of the five-piece kit."""
    said = [
        *(["left-handed"] if kit.handed == "left" else []),
        *(["open-handed"] if kit.open_handed else []),
        *(["double pedal"] if kit.double_pedal else []),
        *(["second crash"] if kit.extra.get("second_crash") is True else []),
        *(f"no {_name(piece)}" for piece in STANDARD_PIECES if piece not in kit.pieces),
        *(f"with {_name(piece)}" for piece in kit.pieces if piece not in STANDARD_PIECES),
        *(f"no {limb}" for limb in LIMBS if limb not in kit.limbs),
    ]
    return ", ".join(said)
