"""Counting aloud, in the traditions teachers use: the count line printed under a bar.

A number is the beat in the bar; a syllable belongs to a place in the beat, not to a note's length (Hoffman, Pelto
and White, *Takadimi*, 1996). A beat is counted on the coarsest even grid that holds its strokes, silent places in
brackets: "1 (e) & a (2) 3 & 4". A beat of three parts (6/8, the long beat of 7/8) is counted "1 & a" in English, a
triplet "1 trip let". Where a tradition has no word, the fraction of the beat is printed ("+3/8") and no word
invented.

One row a tradition, keyed by the number of parts; "1" stands for the beat's number. Sources of the rows: English
(Bishop, *Counting system overhaul*, 2022; *A review of rhythm counting systems*, 2014; 32nds with a dot for the
places in between: ours), Eastman (Barlow and Leinberger; Feezell 2010: every other place "ta"), Takadimi (Hoffman
and others; fifths: summaries of it), Kodály (*A review of rhythm syllable systems*, 2014; the single "ta" from
memory), German (halves drumtreff.de; sixteenths and triplets from memory), French (halves and "1 2 3 4, 2 2 3 4"
batteurextreme.com; triplets from memory), Spanish (halves and triplets oleosymusica.blog; sixteenths a translated
page, weak), Portuguese (from memory). A swung song is counted with the same words, said long and short; half-time
feel keeps the written beats.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Final, NamedTuple

from fourlimb.model import InputError
from fourlimb.model.grid import Skipped
from fourlimb.model.places import beat_lengths, beat_starts

from .content import Content

Row = tuple[str, ...]

PARTS: Final = (1, 2, 4, 3, 6, 8, 5, 7, 12, 9, 16)
"""Even parts of a beat that are tried, in this order."""


class Tradition(NamedTuple):
    """One way to count. `parts`: syllables by number of even parts; `compound`: what differs in a beat of three."""

    say: str
    parts: Mapping[int, Row]
    compound: Mapping[int, Row] = {}


TRADITIONS: Final[Mapping[str, Tradition]] = {
    "num-en": Tradition(
        "English numbers",
        {
            1: ("1",),
            2: ("1", "&"),
            3: ("1", "trip", "let"),
            4: ("1", "e", "&", "a"),
            6: ("1", "ta", "la", "ta", "li", "ta"),
            8: ("1", ".", "e", ".", "&", ".", "a", "."),
        },
        {3: ("1", "&", "a")},
    ),
    "eastman": Tradition(
        "Eastman",
        {
            1: ("1",),
            2: ("1", "te"),
            3: ("1", "la", "li"),
            4: ("1", "ti", "te", "ta"),
            6: ("1", "ta", "la", "ta", "li", "ta"),
            8: ("1", "ta", "ti", "ta", "te", "ta", "ta", "ta"),
        },
    ),
    "takadimi": Tradition(
        "Takadimi",
        {
            1: ("ta",),
            2: ("ta", "di"),
            3: ("ta", "ki", "da"),
            4: ("ta", "ka", "di", "mi"),
            5: ("ta", "ka", "di", "mi", "ti"),
            6: ("ta", "va", "ki", "di", "da", "ma"),
            8: ("ta", "ka", "di", "mi", "ta", "ka", "di", "mi"),
        },
    ),
    "kodaly": Tradition(
        "Kodály",
        {1: ("ta",), 2: ("ti", "ti"), 3: ("tri", "o", "la"), 4: ("ti", "ri", "ti", "ri")},
    ),
    "de": Tradition("German", {1: ("1",), 2: ("1", "und"), 3: ("1", "und", "die"), 4: ("1", "e", "und", "e")}),
    "fr": Tradition("French", {1: ("1",), 2: ("1", "et"), 3: ("1", "et", "a"), 4: ("1", "2", "3", "4")}),
    "es": Tradition("Spanish", {1: ("1",), 2: ("1", "y"), 3: ("1", "y", "a"), 4: ("1", "e", "y", "a")}),
    "pt": Tradition("Portuguese", {1: ("1",), 2: ("1", "e"), 3: ("1", "e", "a"), 4: ("1", "e", "&", "a")}),
}
"""The counting traditions, by id."""


def count_lines(bars: Mapping[int, Content], tradition: str = "num-en") -> dict[int, str]:
    """The count line of every bar. A pickup is counted with the numbers it has in a whole bar: "(1 2 3) 4 &"."""
    lines: dict[int, str] = {}
    made: dict[Content, str] = {}
    for bar, content in bars.items():
        if content not in made:
            made[content] = _count_content(content, tradition)
        lines[bar] = made[content]
    return lines


def _count_content(content: Content, tradition: str) -> str:
    places, skipped = [note[0] for note in content.notes], content.skipped
    if isinstance(skipped, Skipped):
        places = [skipped.at + place for place in places]
        return count_line(skipped.whole, places, tradition, missing=int(skipped))
    return count_line(content.meter, places, tradition)


def count_line(
    meter: str,
    positions: Sequence[Fraction],
    tradition: str = "num-en",
    *,
    at_least: int = 1,
    missing: int = 0,
) -> str:
    """The count of one bar whose strokes fall on `positions` (whole notes from the bar line).

    `at_least`: fewest parts a beat is counted in (2 for a slow rung: count the next finer level). `missing`: beats
    that a pickup leaves out at the start of the bar. Raises InputError for a tradition that is not in the table.
    """
    if tradition not in TRADITIONS:
        raise InputError(f'counting tradition "{tradition}" is not known: use one of {", ".join(TRADITIONS)}')
    row = TRADITIONS[tradition]
    lengths = beat_lengths(meter)
    played: list[set[Fraction]] = [set() for _ in lengths]
    starts = beat_starts(meter)
    for position in positions:
        beat = max((n for n, start in enumerate(starts) if start <= position), default=0)
        played[beat].add((position - starts[beat]) / lengths[beat])
    lead = [f"({' '.join(str(n + 1) for n in range(missing))})"] if missing else []
    words = [
        _count_beat(row, beat + 1, places, lengths[beat].numerator == 3, at_least)
        for beat, places in enumerate(played)
        if beat >= missing
    ]
    return " ".join(lead + words)


def parts_of(places: set[Fraction], at_least: int = 1) -> int | None:
    """Even parts that hold all places of a beat (fractions of it); None when no grid of the table does."""
    for parts in PARTS:
        if parts >= at_least and all(place * parts == int(place * parts) for place in places):
            return parts
    return None


def _count_beat(row: Tradition, number: int, places: set[Fraction], compound: bool, at_least: int) -> str:
    parts = parts_of(places, at_least)
    syllables = (row.compound.get(parts) if compound else None) or row.parts.get(parts) if parts else None
    if parts is None or syllables is None:
        return _count_fractions(number, places)
    words = [str(number) if index == 0 and word == "1" else word for index, word in enumerate(syllables)]
    return " ".join(
        word if word == "." or Fraction(index, parts) in places else f"({word})" for index, word in enumerate(words)
    )


def _count_fractions(number: int, places: set[Fraction]) -> str:
    """No word for it: the beat's number and the fractions of the beat that are played."""
    first = str(number) if Fraction(0) in places else f"({number})"
    return " ".join([first, *(f"+{place}" for place in sorted(places) if place)])
