"""Corrections that say a roll, or words to a rhythm: what may be written, read into an order.

snare roll 1-2            a roll through beats 1 and 2
snare roll 3 until 4&     from 3 to where 4& would be struck
buzz roll 1-4             a buzz kept up; the snare where no piece is named
snare roll in 16ths 1     a slower measured roll
tied snare roll 1-2       goes on from the bar before, not struck anew
no roll                   the strokes that begin rolls are single strokes again
words "fer-ry at night"   a syllable to each place that is struck; a hyphen parts syllables
snare words "fer-ry"      to the places of one piece
no words                  none
"""

import re
from collections.abc import Set
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from fourlimb.model import CorrectionError, Level, Sound
from fourlimb.model.count import read_piece, read_place
from fourlimb.model.places import bar_length, beat_starts

ORDINARY_ROLL: Final = 32
"""Notes of 1/32: how a roll is written when nothing else is said (common practice, no source)."""


@dataclass(frozen=True)
class Rolled:
    """A roll on one piece from a place to another (whole notes); `roll` 0: a buzz."""

    bars: tuple[int, ...]
    piece: Sound
    start: Fraction
    end: Fraction
    roll: int = ORDINARY_ROLL
    tied: bool = False
    level: Level | None = None


@dataclass(frozen=True)
class NotRolled:
    """Single strokes instead of rolls; all pieces when `piece` is None."""

    bars: tuple[int, ...]
    piece: Sound | None = None
    level: Level | None = None


@dataclass(frozen=True)
class Words:
    """Syllables said to the rhythm of one piece, or of everything struck; none: no words."""

    bars: tuple[int, ...]
    syllables: tuple[str, ...]
    piece: Sound | None = None
    level: Level | None = None


RhythmOrder = Rolled | NotRolled | Words

_ROLL = re.compile(
    r"^(?P<tied>tied\s+)?(?P<piece>.*?)\s*(?P<buzz>\bbuzz(?:ed)?\s+)?\broll(?:\s+in\s+(?P<notes>16|32)(?:ths|nds)?)?"
    r"\s+(?P<start>\S+?)(?:\s*[-–]\s*(?P<last>\S+)|\s+until\s+(?P<until>\S+))?$",
    re.I,
)
_NO = re.compile(r"^(?:(?P<piece>.*?)\s+)?no\s+(?P<what>rolls?|words)$", re.I)
_WORDS = re.compile(r"^(?:(?P<piece>.*?)\s+)?words\s+[\"“”'‘’](?P<text>.+)[\"“”'‘’]$", re.I)


def read_rhythm(
    bars: tuple[int, ...], level: Level | None, what: str, counted: Set[tuple[str, int]]
) -> RhythmOrder | None:
    """The order that a line gives; None when it is about something else.

    `counted`: the meters of the bars, and how many beats a pickup leaves out. Raises
    CorrectionError when it is about rolls or words and cannot be read.
    """
    if found := _NO.match(what):
        piece = read_piece(found["piece"]) if found["piece"] else None
        return Words(bars, (), piece, level) if found["what"].lower() == "words" else NotRolled(bars, piece, level)
    if found := _WORDS.match(what):
        piece = read_piece(found["piece"]) if found["piece"] else None
        return Words(bars, syllables(found["text"]), piece, level)
    if re.match(r"^(.*\s)?words\b", what, re.I):
        raise CorrectionError('words stand in quotation marks, like: bars 9-12: words "fer-ry at night"')
    if not re.search(r"\broll\b", what, re.I):
        return None
    found = _ROLL.match(what)
    if not found or ";" in what:
        raise CorrectionError(f'"{what[:40]}" is not understood: write a roll by itself, like bar 12: snare roll 1-2')
    if len(counted) > 1:
        raise CorrectionError("these bars have different meters: write the roll for one meter at a time")
    return _rolled(bars, level, found, *next(iter(counted)))


def syllables(text: str) -> tuple[str, ...]:
    """Reads "fer-ry at" as ("fer-", "ry", "at")."""
    return tuple(part for word in text.split() for part in re.findall(r"[^-]+-?|-+", word))


def _rolled(bars: tuple[int, ...], level: Level | None, found: re.Match[str], meter: str, skipped: int) -> Rolled:
    start = read_place(meter, found["start"], skipped)
    beats = (*beat_starts(meter), bar_length(meter))
    if found["until"]:
        end = read_place(meter, found["until"], skipped)
    else:
        last = read_place(meter, found["last"], skipped) if found["last"] else start
        if found["last"] and last not in beats:
            raise CorrectionError(f'say where the roll ends: "until {found["last"]}", or by whole beats like 1-2')
        end = min(beat for beat in beats if beat > last)
    if end <= start:
        raise CorrectionError("the roll ends before it begins: write the earlier place first")
    roll = 0 if found["buzz"] else int(found["notes"] or ORDINARY_ROLL)
    piece = read_piece(found["piece"]) if found["piece"] else "snare"
    return Rolled(bars, piece, start, end, roll, bool(found["tied"]), level)
