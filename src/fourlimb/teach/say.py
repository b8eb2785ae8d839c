"""Small words: bars, places and pieces as a drummer says them.

Bars in few words ("bars 1-4 and 9-12"), places as counts ("2& and 4", "every 8th", "every 16th from 3"), pieces by
the names in `model.sounds.SAY` or the teacher's own (`kit.extra["say"]`, e.g. {"tom_high": "rack tom"}).
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Final

from fourlimb.model import Kit, Sound
from fourlimb.model.count import listing, say_place, say_span, speak_place
from fourlimb.model.grid import Skipped
from fourlimb.model.places import bar_length, beat_lengths, beat_starts
from fourlimb.model.sounds import SAY

RUNS_MOST: Final = 3
"""Most stretches of bars named one by one; more are counted ("12 bars, first bar 3")."""

EVERY_LEAST: Final = 4
"""Fewest places that are told as "every 8th" and not one by one."""

STEP_WORDS: Final[tuple[tuple[Fraction, str], ...]] = (
    (Fraction(1, 4), "4th"),
    (Fraction(1, 8), "8th"),
    (Fraction(1, 12), "triplet"),
    (Fraction(1, 16), "16th"),
    (Fraction(1, 24), "16th triplet"),
    (Fraction(1, 32), "32nd"),
)
"""Steps that a row of strokes may be told by."""

NUMBER_WORDS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def say_bars(bars: Sequence[int]) -> str:
    """[1, 2, 3, 4, 9] -> "bars 1-4 and 9"; many stretches are counted; bar 0 is "the pickup"."""
    if not bars:
        return "no bar"
    if len(bars) >= EVERY_LEAST and all(b - a == 2 for a, b in pairwise(bars)):
        return f"every other bar from {bars[0]} to {bars[-1]}"
    spans = runs(bars)
    if len(spans) > RUNS_MOST:
        return f"{len(bars)} bars, first {say_span(*spans[0])}"
    if len(bars) == 1:
        return say_span(bars[0], bars[0])
    named = [f"{a}" if a == b else f"{a}-{b}" for a, b in spans if b > 0]
    pickup = ["the pickup"] if bars[0] == 0 and spans[0] == (0, 0) else []
    word = "bar" if sum(b - a + 1 for a, b in spans if b > 0) == 1 else "bars"
    return listing([*pickup, f"{word} {listing(named)}"]) if named else pickup[0]


def runs(bars: Sequence[int]) -> list[tuple[int, int]]:
    """[1, 2, 3, 7] -> [(1, 3), (7, 7)]."""
    spans: list[tuple[int, int]] = []
    for bar in bars:
        if spans and bar == spans[-1][1] + 1:
            spans[-1] = (spans[-1][0], bar)
        else:
            spans.append((bar, bar))
    return spans


def say_places(meter: str, positions: Sequence[Fraction], skipped: int = 0) -> str:
    """Places as they are counted: "1, 2& and 3", "every 8th", "every 16th of beat 3", "every &".

    `skipped`: beats that a pickup leaves out (`Grid.skipped`).
    """
    if isinstance(skipped, Skipped):
        return say_places(skipped.whole, [skipped.at + position for position in positions])
    return _say_places(meter, tuple(sorted(set(positions))), skipped)


@lru_cache(maxsize=8192)
def _say_places(meter: str, left: tuple[Fraction, ...], skipped: int) -> str:
    whole = _every(meter, left) or _each_word(meter, left)
    if whole:
        return whole
    parts: list[str] = []
    at = 0
    while at < len(left):
        size, word = _row(meter, left, at, skipped)
        parts.append(word)
        at += size
    return listing(parts)


def _every(meter: str, positions: Sequence[Fraction]) -> str | None:
    if len(positions) == len(beat_starts(meter)) > 1 and tuple(positions) == beat_starts(meter):
        return "every beat"
    for step, word in STEP_WORDS:
        count = -(-bar_length(meter) // step)
        if len(positions) == count >= EVERY_LEAST and all(p == step * n for n, p in enumerate(positions)):
            return f"every {word}"
    return None


def _each_word(meter: str, positions: Sequence[Fraction]) -> str | None:
    """Says "every &" when the same part of every beat is meant."""
    starts, lengths = beat_starts(meter), beat_lengths(meter)
    if len(positions) != len(starts) or len(set(lengths)) > 1 or len(starts) < 3 or positions[0] >= lengths[0]:
        return None
    inside = positions[0]
    if any(position != start + inside for position, start in zip(positions, starts, strict=True)):
        return None
    word = say_place(meter, inside)[1:]
    return f"every {word}" if word and not word.startswith("+") else None


def _row(meter: str, positions: Sequence[Fraction], at: int, skipped: int) -> tuple[int, str]:
    """The longest even row that starts at index `at`, and how it is said; a lone place when there is none."""
    best = (1, speak_place(meter, positions[at], skipped))
    for step, word in STEP_WORDS:
        size = 1
        while at + size < len(positions) and positions[at + size] - positions[at + size - 1] == step:
            size += 1
        if size < max(EVERY_LEAST, best[0] + 1) or positions[at].denominator > step.denominator:
            continue
        last = positions[at + size - 1]
        best = (size, f"every {word} {_stretch(meter, positions[at], last, step, skipped)}")
    return best


def _stretch(meter: str, first: Fraction, last: Fraction, step: Fraction, skipped: int) -> str:
    """From where to where an even row runs: "of beat 3", "from 3", "from 2& to 4"."""
    starts, lengths = beat_starts(meter), beat_lengths(meter)
    if first in starts and last + step == first + lengths[starts.index(first)]:
        return f"of beat {skipped + starts.index(first) + 1}"
    if last + step >= bar_length(meter):
        return f"from {speak_place(meter, first, skipped)}"
    return f"from {speak_place(meter, first, skipped)} to {speak_place(meter, last, skipped)}"


def times(count: int) -> str:
    """1 -> "once", 2 -> "twice", 3 -> "three times"."""
    if count in (1, 2):
        return ("once", "twice")[count - 1]
    return f"{number(count)} times"


def number(count: int) -> str:
    """Small numbers in words, larger ones in figures."""
    return NUMBER_WORDS[count] if count <= 10 else str(count)


def piece_names(kit: Kit | None = None) -> Mapping[Sound, str]:
    """What each piece is called: the house's words, overruled by the teacher's own in `kit.extra["say"]`."""
    own = (kit.extra.get("say") if kit else None) or {}
    if not isinstance(own, dict):
        return SAY
    return {sound: str(own.get(sound, word)) for sound, word in SAY.items()}


def a(word: str) -> str:
    """The word with its article: "a kick", "an open hat"."""
    return f"{'an' if word[:1].lower() in 'aeiou' else 'a'} {word}"


def many(word: str) -> str:
    """Plural: "kicks", "crashes", "cross-sticks"."""
    return f"{word}es" if word.endswith(("s", "sh", "ch")) else f"{word}s"
