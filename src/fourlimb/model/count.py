"""Counting aloud, as text: "2&" is the second half of beat 2. Written places both ways.

Drummers name a place by what they count there. Words, by place in the beat (English row of the counting table; common
practice for 32nds and others, which are given as a fraction of the beat):

    simple beat     0 ""   1/4 "e"   1/2 "&"   3/4 "a"   1/3 "trip"   2/3 "let"     ("2a" = last 16th of beat 2)
    compound beat   0 ""   1/3 "&"   2/3 "a"                                        ("2&" = second 8th of beat 2)
    anything else   "+n/d" of the beat: "2+1/8", "3+1/6"; where it is told and not written, "the 32nd after 2"

A line of quick entry names a piece and its places: `kick 1 2& 3; snare 2 4; hat every 8th; no crash`. How it is
struck may stand before the piece: `rimshot 2 4`, `buzz 4`, `choked crash 1`, `half-open hat every 8th`,
`foot splash 2`, `second crash 3`, `ghosted snare 2a`, `accented hat 1`, `flam 4`, `plain snare 2`.
"""

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Final, NamedTuple

from .errors import CorrectionError
from .grid import Grid, Skipped
from .heard import Grace, Stress, Struck
from .places import bar_length, beat_lengths, beat_of, beat_starts
from .sounds import SAY, Sound

SIMPLE_WORDS: Final[dict[Fraction, str]] = {
    Fraction(0): "",
    Fraction(1, 4): "e",
    Fraction(1, 2): "&",
    Fraction(3, 4): "a",
    Fraction(1, 3): "trip",
    Fraction(2, 3): "let",
}
COMPOUND_WORDS: Final[dict[Fraction, str]] = {Fraction(0): "", Fraction(1, 3): "&", Fraction(2, 3): "a"}

STEPS: Final[dict[str, Fraction]] = {
    "quarter": Fraction(1, 4),
    "4th": Fraction(1, 4),
    "8th": Fraction(1, 8),
    "eighth": Fraction(1, 8),
    "16th": Fraction(1, 16),
    "sixteenth": Fraction(1, 16),
    "triplet": Fraction(1, 12),
    "half": Fraction(1, 2),
}
"""What may follow "every": note values, and "triplet" for eighth-note triplets."""

PIECE_WORDS: Final[dict[str, Sound]] = {
    **{say: sound for sound, say in SAY.items()},
    **{sound: sound for sound in SAY},
    "hi-hat": "hat_closed",
    "hihat": "hat_closed",
    "closed hat": "hat_closed",
    "pedal hat": "hat_pedal",
    "hat foot": "hat_pedal",
    "bass drum": "kick",
    "bell": "ride_bell",
    "rack tom": "tom_high",
    "tom 1": "tom_high",
    "tom 2": "tom_mid",
    "tom 3": "tom_floor",
}
"""What a teacher may type for a piece."""


class Way(NamedTuple):
    """How a stroke is struck, as far as it is said: the way, on the second of its kind, how hard, what before it."""

    struck: Struck | None = None
    second: bool = False
    stress: Stress | None = None
    grace: Grace | None = None

    def over(self, other: "Way") -> "Way":
        """Both said of one stroke; this one where they disagree."""
        return Way(
            self.struck or other.struck, self.second or other.second, self.stress or other.stress,
            self.grace or other.grace,
        )  # fmt: skip


LINKS: Final = frozenset({"on", "and", "at"})
"""Words between pieces and places that say nothing more: "kick on 1 and 3" is "kick 1 3"."""

WAY_WORDS: Final[tuple[tuple[str, Way, Sound | None], ...]] = (
    ("rimshots?", Way(struck="rimshot"), "snare"),
    ("buzz(?:ed)?", Way(struck="buzz"), "snare"),
    ("choked?", Way(struck="choke"), "crash"),
    ("half[- ]open", Way(struck="half_open"), "hat_open"),
    ("foot splash", Way(struck="foot_splash"), "hat_pedal"),
    ("ringing", Way(struck="let_ring"), "crash"),
    ("second", Way(second=True), "crash"),
    ("ghost(?:ed|s)?", Way(stress="ghost"), "snare"),
    ("accent(?:ed|s)?", Way(stress="accent"), None),
    ("plain", Way(stress="plain"), None),
    ("flam(?:med|s)?", Way(grace="flam"), "snare"),
    ("drags?", Way(grace="drag"), "snare"),
    ("ruffs?", Way(grace="ruff"), "snare"),
)
"""What may stand before a piece to say how it is struck ("second": on the second of its kind; "plain": neither
ghosted nor accented, and nothing before it), and the piece that is meant where none is named (None: it must be
named)."""

_GRACE_AFTER = re.compile(r"^(?P<piece>[a-z][a-z \-]*?)\s+(?P<grace>flam|drag|ruff)s?(?=\s+(?:\d|every\b))", re.I)

_PLACE = re.compile(r"^(\d+)(e|&|and|a|trip|let|\+\d+/\d+)?$")


def say_place(meter: str, position: Fraction, skipped: int = 0) -> str:
    """How a place is counted: (4/4, 3/8) -> "2&". `skipped`: beats that a pickup leaves out (`Grid.skipped`)."""
    meter, position, skipped = counted(meter, position, skipped)
    beat, inside = beat_of(meter, position)
    word = _words(meter, beat).get(inside)
    number = skipped + beat + 1
    return f"{number}{word}" if word is not None else f"{number}+{inside}"


def counted(meter: str, position: Fraction, skipped: int) -> tuple[str, Fraction, int]:
    """A place of a pickup as the place of a whole bar that it is counted as; any other as it is."""
    if isinstance(skipped, Skipped):
        return skipped.whole, skipped.at + position, 0
    return meter, position, skipped


def say_span(first: int, last: int) -> str:
    """(1, 4) -> "bars 1-4"; (3, 3) -> "bar 3"; (0, 0) -> "the pickup"; (0, 4) -> "the pickup and bars 1-4"."""
    if first == last:
        return "the pickup" if first == 0 else f"bar {first}"
    return f"the pickup and {say_span(1, last)}" if first == 0 else f"bars {first}-{last}"


def listing(parts: Sequence[str]) -> str:
    """["a", "b", "c"] -> "a, b and c"."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"


BETWEEN: Final[dict[bool, dict[Fraction, Fraction]]] = {
    False: {
        **{Fraction(n, 8): Fraction(n - 1, 8) for n in (1, 3, 5, 7)},
        **{Fraction(n, 6): Fraction(n - 1, 6) for n in (1, 5)},
    },
    True: {Fraction(n, 6): Fraction(n - 1, 6) for n in (1, 3, 5)},
}
"""Places without a word of their own, and the counted place before each: in beats of two parts and of three."""


def speak_place(meter: str, position: Fraction, skipped: int = 0) -> str:
    """A place as it is told: as `say_place`, and between counted places by note value, "the 32nd after 2a"."""
    meter, position, skipped = counted(meter, position, skipped)
    beat, inside = beat_of(meter, position)
    before = BETWEEN[_words(meter, beat) is COMPOUND_WORDS].get(inside)
    if before is None:
        return say_place(meter, position, skipped)
    note = (inside - before) * beat_lengths(meter)[beat]
    return f"the {_note_word(note)} after {say_place(meter, position - note, skipped)}"


def speak_in(grid: Grid, bar: int, position: Fraction) -> str:
    """A place in a bar of the grid, as it is told: "2&"; a pickup is counted as the end of a bar."""
    return speak_place(grid.meter(bar), position, grid.skipped(bar))


def speak_at(grid: Grid, bar: int, position: Fraction) -> str:
    """The same with its bar: "bar 12 on 2&", "the pickup on 4"."""
    return f"{say_span(bar, bar)} on {speak_in(grid, bar, position)}"


def _note_word(value: Fraction) -> str:
    """Names a note value: 1/32 -> "32nd", 1/24 -> "triplet 16th"."""
    triplet = value.denominator % 3 == 0
    note = int(1 / (value * Fraction(3, 2) if triplet else value))
    return f"{'triplet ' if triplet else ''}{note}{'nd' if note % 10 == 2 else 'th'}"


_BETWEEN = re.compile(
    r"(?:\bthe )?\b(?:(?P<triplet>triplet) )?(?P<note>8|16|32|64)(?:th|nd) after (?P<place>\S+?)(?=[\s,]|$)", re.I
)


def _written_places(meter: str, text: str, skipped: int) -> str:
    """The line with "the 32nd after 2a" as "2+7/8"."""

    def written(found: re.Match[str]) -> str:
        value = Fraction(2 if found["triplet"] else 1, (3 if found["triplet"] else 1) * int(found["note"]))
        at = read_place(meter, found["place"], skipped) + value
        if at >= bar_length(meter):
            raise CorrectionError(f'"{found[0]}" lies past the end of the bar: name an earlier place')
        return say_place(meter, at, skipped)

    return _BETWEEN.sub(written, text)


def read_place(meter: str, text: str, skipped: int = 0) -> Fraction:
    """Reads "2&" as 3/8 in 4/4. `skipped`: beats that a pickup leaves out, so that its first is not 1.

    Raises CorrectionError when the word or the beat does not exist in the meter.
    """
    if isinstance(skipped, Skipped):
        return _read_in_pickup(meter, text, skipped)
    found = _PLACE.match(text.strip().lower())
    starts, lengths = beat_starts(meter), beat_lengths(meter)
    if not found:
        raise CorrectionError(f'"{text}" is not a place: count it like 2, 2e, 2&, 2a, 2trip, 2let')
    beat, word = int(found[1]) - skipped, (found[2] or "").replace("and", "&")
    if not 1 <= beat <= len(starts):
        what = "this pickup" if skipped else f"a bar of {meter}"
        raise CorrectionError(f'"{text}": {what} has beats {skipped + 1} to {skipped + len(starts)}')
    if word.startswith("+"):
        inside = Fraction(word[1:]) if not word.endswith("/0") else Fraction(1)
    else:
        table = _words(meter, beat - 1)
        known = {w: place for place, w in table.items()}
        if word not in known:
            raise CorrectionError(f'"{text}": in {meter} a beat is counted {", ".join(w or "1" for w in known)}')
        inside = known[word]
    if inside >= 1:
        raise CorrectionError(f'"{text}" lies past the end of its beat: use a fraction below 1')
    return starts[beat - 1] + inside * lengths[beat - 1]


def _read_in_pickup(meter: str, text: str, skipped: Skipped) -> Fraction:
    """A place of a pickup, counted as in the whole bar that it ends."""
    at = read_place(skipped.whole, text) - skipped.at
    if not 0 <= at < bar_length(meter):
        first = say_place(meter, Fraction(0), skipped)
        last = f"{len(beat_starts(skipped.whole))}"
        raise CorrectionError(
            f'"{text}": this pickup begins on {first}' if first.startswith(last) else
            f'"{text}": this pickup has beats {first} to {last}'
        )  # fmt: skip
    return at


def _words(meter: str, beat: int) -> dict[Fraction, str]:
    """Words of one beat: a beat of three parts (in 6/8, or the long one of 7/8) is counted "1 & a"."""
    return COMPOUND_WORDS if beat_lengths(meter)[beat].numerator == 3 else SIMPLE_WORDS


def read_piece(text: str) -> Sound:
    """Reads "open hat" as hat_open. Raises CorrectionError with the nearest known word."""
    word = " ".join(text.lower().replace("_", " ").split())
    for candidate in (word, word.replace(" ", "_"), word.removesuffix("s")):
        if candidate in PIECE_WORDS:
            return PIECE_WORDS[candidate]
    from difflib import get_close_matches

    near = get_close_matches(word, PIECE_WORDS, n=1)
    hint = f': did you mean "{near[0]}"?' if near else f": use one of {', '.join(SAY.values())}"
    raise CorrectionError(f'"{text}" is not a piece of the kit{hint}')


def read_line(meter: str, text: str, skipped: int = 0) -> tuple[Sound, tuple[Fraction, ...]]:
    """Reads "kick 1 2& 3" as (kick, (0, 3/8, 1/2)); "hat every 8th" fills the bar; "no crash" -> (crash, ()).

    `skipped`: as for `read_place`.
    """
    text = _written_places(meter, text, skipped)
    words = [word for word in text.split() if word.lower() not in LINKS]
    if not words:
        raise CorrectionError("nothing was written: name a piece and its places, like kick 1 2& 3")
    if words[0].lower() in ("no", "without"):
        return read_piece(" ".join(words[1:])), ()
    first = next((i for i, w in enumerate(words) if w[0].isdigit() or w.lower() == "every"), len(words))
    piece = read_piece(" ".join(words[:first])) if first else None
    if piece is None:
        raise CorrectionError(f'"{text}" names no piece: write it first, like kick {text}')
    if first == len(words):
        raise CorrectionError(f'"{text}" names no place: write them after the piece, like {text} 1 3')
    if words[first].lower() == "every":
        return piece, _every(meter, " ".join(words[first + 1 :]))
    return piece, tuple(sorted({read_place(meter, w.strip(","), skipped) for w in words[first:]}))


def read_way(text: str) -> tuple[Way, str]:
    """Takes how it is struck off a line: "choked crash 1" -> (Way(struck="choke"), "crash 1").

    Several may stand together ("accented rimshot 2"); a flam may stand after its piece ("snare flam 4"). Raises
    CorrectionError where a piece must be named and is not.
    """
    line = _GRACE_AFTER.sub(r"\g<grace> \g<piece>", " ".join(text.split()))
    way = Way()
    while found := _way_at(line):
        said, line = found
        way = way.over(said)
    return way, line


def _way_at(line: str) -> tuple[Way, str] | None:
    """The first word of a line when it is a way, and the rest with its piece."""
    for word, way, usual in WAY_WORDS:
        found = re.match(rf"{word}(?=\s|$)", line, re.I)
        if not found:
            continue
        rest = line[found.end() :].strip()
        if rest and not (rest[0].isdigit() or rest.lower().startswith("every")):
            named = re.sub(r"^(?:hi-?)?hats?\b", SAY["hat_open"], rest, flags=re.I)
            return way, named if way.struck == "half_open" else rest
        if usual is None:
            raise CorrectionError(f'"{line}" names no piece: say which, like {found[0]} snare {rest or "2 4"}')
        return way, f"{SAY[usual]} {rest}"
    return None


def _every(meter: str, text: str) -> tuple[Fraction, ...]:
    word = text.strip().lower().removesuffix(" note").removesuffix("s")
    if word == "beat":
        return beat_starts(meter)
    if word not in STEPS:
        raise CorrectionError(f'"every {text}" is not understood: use every {", ".join(STEPS)} or beat')
    step, length = STEPS[word], bar_length(meter)
    return tuple(step * n for n in range(-(-length // step)) if step * n < length)


def say_line(meter: str, piece: Sound, positions: tuple[Fraction, ...]) -> str:
    """The inverse of `read_line`, always with every place named: "kick 1 2& 3"."""
    if not positions:
        return f"no {SAY[piece]}"
    return f"{SAY[piece]} {' '.join(say_place(meter, position) for position in sorted(positions))}"
