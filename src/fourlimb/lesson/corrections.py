"""The teacher's word: corrections as text, read and replayed in order over a fresh analysis.

What may be written (bars are numbers, ranges and lists: `bar 12`, `bars 9-12`, `bars 1-4, 9`):

    bar 12: kick 1 2& 3; snare 2 4      the kick (snare) of bar 12 is struck exactly there
    bars 9-12: hat every 8th            a running pattern
    bar 12: no crash                    the piece is left out
    bar 12: choked crash 1; rimshot 2   how it is struck: rimshot, buzz, choked, half-open, foot splash, ringing,
                                        second (on the second crash)
    bar 12: ghosted snare 2a; flam 4    how hard, and what before it: ghosted, accented, flam, drag, ruff; plain: none
    bar 12: snare roll 1-2              a roll through beats 1 and 2; also: buzz roll, roll in 16ths, roll 3 until 4&,
                                        tied snare roll (goes on from the bar before), no roll
    bars 9-12: words "fer-ry at night"  a syllable to each place struck; snare words "...": to one piece; no words
    pickup: snare 4 4&                  what stands before bar 1, counted as the end of a bar
    bar 12: as bar 8                    the same strokes as in another bar
    bar 12: silent                      no drums at all
    bars 9-16: the crash is the ride    what was heard as one sound is another
    alike: the crash is the ride        so are all other strokes that sound like those put right before
    bars 12, 20: right                  every stroke of these bars is right as it now stands
    learn from bars 12, 20              these bars are right, and all others are judged again by them
    learn                               all others are judged again by everything put right before
    steady bar 12: kick 1 3             only in one level's chart
    bones bars 9-16: as full            bars lifted from another level's chart
    full: no 16th kicks                 one level made easier by name
    steady: grade 3                     one level made as easy as a grade
    tempo x2 · tempo /2                 twice, half as many beats
    bar line at 12.34                   a bar begins at this second of the recording
    bar 3 beat 2 is the one             that beat is the first of its bar
    meter 3/4 · bars 9-12: meter 3/4    how many beats a bar has
    bars 1-8: half-time                 how bars are felt: half-time, double-time, straight, swing, swing 0.6
    bars 9-16: section chorus           the name of a section
    title Night Ferry                   the song's title

`read` turns the text into one `Order` and says in one line what it does not understand.
"""

import re
from collections.abc import Callable
from fractions import Fraction
from typing import Final

from fourlimb.model import LEVELS, CorrectionError, Level, Sound
from fourlimb.model.count import Way, read_line, read_piece, read_way
from fourlimb.model.grid import FeelName, Grid
from fourlimb.model.places import bar_length
from fourlimb.model.sounds import FOOT, SAY

from .orders import (
    AimedAt,
    Alike,
    AsBar,
    AsLevel,
    BarLineAt,
    Exactly,
    FeelIs,
    IsSound,
    Learn,
    MeterIs,
    Order,
    Right,
    SectionIs,
    Silent,
    TempoTimes,
    TheOne,
    TitleIs,
)
from .rhythm_orders import read_rhythm

MAX_TEXT: Final = 2000
"""Longest correction taken, characters (ours): more is a pasted file, not a sentence."""

TRIPLET_SWING: Final = 0.667


_SCOPE = re.compile(
    r"^(?:(?P<level>full|steady|bones)\s+)?(?:bars?\s+(?P<bars>[\d\s,\-–]+?)|(?:the\s+)?pickup)\s*:\s*(?P<what>.+)$",
    re.I | re.S,
)
_NO_COLON = re.compile(
    r"^((?:(?:full|steady|bones)\s+)?(?:bars?\s+\d[\d\s,\-–]*?|(?:the\s+)?pickup))\s+([a-z].*)$", re.I | re.S
)
_AIM = re.compile(r"^(?P<level>full|steady|bones)\s*:\s*(?P<target>no .+|grade .+)$", re.I)
_TEMPO = re.compile(r"^tempo\s*(?P<sign>[x×*/÷])\s*2$", re.I)
_LINE_AT = re.compile(r"^bar line at (?P<time>\d+(?:\.\d+)?)\s*s?$", re.I)
_ONE = re.compile(r"^bar (?P<bar>\d+) beat (?P<beat>\d+) is the one$", re.I)
_LEARN = re.compile(r"^learn(?: from bars? (?P<bars>[\d\s,\-–]+))?$", re.I)
_IS = re.compile(r"^(?:the |that )?(?P<heard>[a-z \-_]+?) is (?:the |a |an )?(?P<is>[a-z \-_]+)$", re.I)
_SWING = re.compile(r"^swing(?:\s+(?P<ratio>0?\.\d+))?$", re.I)

HELP: Final = (
    "write it like: bar 12: kick 1 2& 3 · bar 12: as bar 8 · learn from bar 12 · tempo x2 · bar 3 beat 2 is the one"
)


def read(text: str, grid: Grid) -> Order:
    """The order that a text gives, checked against the bars and meters that there are.

    Raises CorrectionError: one line that says what is not understood and how to write it.
    """
    words = _told_plainly(" ".join(text.split()))
    if not words:
        raise CorrectionError(f"the correction is empty: {HELP}")
    if len(words) > MAX_TEXT:
        raise CorrectionError(f"the correction is {len(words)} characters long: write at most {MAX_TEXT}")
    if scope := _SCOPE.match(words):
        bars = read_bars(scope["bars"] or "0", grid)
        level = _level(scope["level"])
        return _in_bars(bars, level, scope["what"].strip(), grid)
    return _whole_song(words, grid)


def _told_plainly(words: str) -> str:
    """What is said as well as what is written: "measure" is a bar, and the colon after the bars may be forgotten."""
    words = re.sub(r"^((?:full|steady|bones)\s+)?measure(s?)\b", r"\1bar\2", words, flags=re.I)
    return words if _ONE.match(words) else _NO_COLON.sub(r"\1: \2", words)


def read_bars(text: str, grid: Grid) -> tuple[int, ...]:
    """Bar numbers of "9-12, 20", increasing; each must exist."""
    bars: set[int] = set()
    for part in text.replace("–", "-").split(","):
        ends = [end.strip() for end in part.split("-")]
        if len(ends) > 2 or not all(end.isdigit() and len(end) < 7 for end in ends):
            raise CorrectionError(f'"{text.strip()}" is not a range of bars: write it like 12 or 9-12 or 1-4, 9')
        first, last = int(ends[0]), int(ends[-1])
        if last < first:
            raise CorrectionError(f'"{part.strip()}" runs backwards: write the smaller bar first')
        for bar in (first, last):
            if not grid.has(bar):
                raise CorrectionError(no_such_bar(bar, grid))
        bars.update(number for number in grid.numbers if first <= number <= last)
    return tuple(sorted(bars))


def no_such_bar(bar: int, grid: Grid) -> str:
    """What to say of a bar that the song does not have."""
    return f"there is no {f'bar {bar}' if bar else 'pickup'}: the song has {_extent(grid)}"


def _extent(grid: Grid) -> str:
    if not grid.numbers:
        return "no bars"
    whole = f"bars {max(grid.numbers[0], 1)} to {grid.numbers[-1]}"
    return f"a pickup and {whole}" if grid.has(0) else whole


def _level(word: str | None) -> Level | None:
    return next((level for level in LEVELS if word and level == word.lower()), None)


def _in_bars(bars: tuple[int, ...], level: Level | None, what: str, grid: Grid) -> Order:
    lower = what.lower()
    if lower.endswith("is the one"):
        raise CorrectionError("say which beat begins the bar, like: bar 3 beat 2 is the one")
    if lower in ("silent", "tacet", "rest", "no drums"):
        return Silent(bars, level)
    if lower.startswith("as "):
        return _alike(bars, level, lower[3:], grid)
    if lower == "right" and level is None:
        return Right(bars)
    if level is None:
        for read_one in (_read_feel, _read_section, _read_meter, _read_is):
            order = read_one(bars, what)
            if order is not None:
                return order
    counted = {(grid.meter(bar), grid.skipped(bar)) for bar in bars}
    if rhythm := read_rhythm(bars, level, what, counted):
        return rhythm
    if len(counted) > 1:
        meters = ", ".join(sorted({meter for meter, _ in counted}))
        raise CorrectionError(f"these bars have different meters ({meters}): correct them one by one")
    read = [read_way(line) for line in what.split(";") if line.strip()]
    if not read:
        raise CorrectionError(f"nothing is said about the bars: {HELP}")
    meter, skipped = next(iter(counted))
    lines = tuple(read_line(meter, line, skipped) for _, line in read)
    ways = tuple(_possible(way, sound) for (way, _), (sound, _) in zip(read, lines, strict=True))
    return Exactly(bars, lines, level, ways if any(map(any, ways)) else ())


def _possible(way: Way, sound: Sound) -> Way:
    """The way, if that piece is written so."""
    if way.stress == "ghost" and sound != "snare":
        raise CorrectionError(f"the {SAY[sound]} is not written ghosted: only the snare is")
    if (way.grace or way.stress == "accent") and sound in FOOT:
        what = way.grace or "accent"
        raise CorrectionError(f"the {SAY[sound]} has no {what}: it is written for what hands strike")
    return way


def _alike(bars: tuple[int, ...], level: Level | None, source: str, grid: Grid) -> Order:
    lifted = _level(source.strip())
    if lifted is not None:
        if level is None or level == lifted:
            raise CorrectionError('name two levels to lift bars, like "bones bars 9-16: as full"')
        return AsLevel(bars, lifted, level)
    found = re.match(r"^bars?\s+([\d\s,\-–]+)$", source.strip())
    if not found:
        raise CorrectionError(f'"as {source}" is not understood: write it like "as bar 8" or "as full"')
    wanted = read_bars(found[1], grid)
    if len(wanted) != 1:
        raise CorrectionError('name one bar after "as", like "bar 12: as bar 8"')
    return AsBar(bars, wanted[0], level)


def _read_feel(bars: tuple[int, ...], what: str) -> Order | None:
    word = what.lower().replace("halftime", "half-time").replace("half time", "half-time")
    word = word.replace("double time", "double-time").removesuffix(" feel")
    feels: dict[str, FeelName] = {"half-time": "half-time", "double-time": "double-time", "straight": "straight"}
    if word in feels:
        return FeelIs(bars, feels[word], 0.5 if word == "straight" else None)
    found = _SWING.match(word)
    if not found:
        return None
    ratio = float(found["ratio"]) if found["ratio"] else TRIPLET_SWING
    if not 0.5 <= ratio <= 0.8:
        raise CorrectionError(f"swing {ratio} is not one that is played: use 0.5 (straight) to 0.8")
    return FeelIs(bars, None, ratio)


def _read_section(bars: tuple[int, ...], what: str) -> Order | None:
    if not what.lower().startswith("section "):
        return None
    return SectionIs(bars, what[len("section ") :].strip()[:80])


def _read_meter(bars: tuple[int, ...], what: str) -> Order | None:
    if not what.lower().startswith("meter "):
        return None
    return MeterIs(_meter(what[len("meter ") :].strip()), bars)


def _read_is(bars: tuple[int, ...], what: str) -> Order | None:
    found = _IS.match(what)
    if not found:
        return None
    return IsSound(bars, read_piece(found["heard"]), read_piece(found["is"]))


def _read_alike(what: str) -> Order:
    found = _IS.match(what)
    if not found:
        raise CorrectionError(f'"alike: {what[:40]}" is not understood: write it like "alike: the crash is the ride"')
    return Alike(read_piece(found["heard"]), read_piece(found["is"]))


def _meter(text: str) -> str:
    from fourlimb.model import InputError

    try:
        bar_length(text)
    except InputError as error:
        raise CorrectionError(str(error)) from None
    return text


def _whole_song(words: str, grid: Grid) -> Order:
    if found := _AIM.match(words):
        level = _level(found["level"])
        assert level is not None, "the pattern names a level"
        return AimedAt(level, found["target"].lower())
    if found := _TEMPO.match(words):
        return TempoTimes(Fraction(2) if found["sign"] in "x×*X" else Fraction(1, 2))
    if found := _LINE_AT.match(words):
        return BarLineAt(float(found["time"]))
    if found := _ONE.match(words):
        bar, beat = int(found["bar"]), int(found["beat"])
        if not any(b.bar == bar and b.beat == beat for b in grid.beats):
            raise CorrectionError(f"there is no bar {bar} beat {beat}: the song has {_extent(grid)}")
        return TheOne(bar, beat)
    if found := _LEARN.match(words):
        return Learn(read_bars(found["bars"], grid) if found["bars"] else ())
    if words.lower().startswith("alike:"):
        return _read_alike(words[len("alike:") :].strip())
    simple: dict[str, Callable[[str], Order]] = {"meter ": lambda t: MeterIs(_meter(t)), "title ": TitleIs}
    for start, make in simple.items():
        if words.lower().startswith(start) and words[len(start) :].strip():
            return make(words[len(start) :].strip())
    if re.match(r"^(?:the )?tempo (?:is )?\d", words, re.I):
        raise CorrectionError(
            "the tempo is that of the recording: say tempo x2, tempo /2, or where a bar begins: bar line at 12.34"
        )
    raise CorrectionError(f'"{words[:60]}" is not understood: {HELP}')
