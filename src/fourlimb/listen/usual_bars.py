"""Usual bars of every meter, written in count words.

What a drummer would play if only the meter were named: kick and snare of each, with the time kept on hat or ride in
quarters, eighths or sixteenths (common practice, no source). `rhythms` compares what is heard with them.
"""

from collections.abc import Mapping
from fractions import Fraction
from typing import Final

WRITTEN: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "4/4": (
        ("1 3", "2 4"), ("1 2& 3", "2 4"), ("1 3 3&", "2 4"), ("1 1& 3", "2 4"), ("1 2 3 4", "2 4"),
        ("1 3", "2 2& 4"), ("1 2&", "2 4"), ("1 3&", "2 4"), ("1 2& 3&", "2 4"), ("1 2a 3", "2 4"),
        ("1 2a 3&", "2 4"), ("1 2& 4&", "2 4"), ("1", "3"), ("1 2&", "3"), ("1 1& 2&", "3"), ("1 4&", "3"),
        ("3", "3"), ("1 2 3 4", "1& 2& 3& 4&"), ("1 3", "1& 2& 3& 4&"), ("1 2& 3 4&", "2 4"),
    ),
    "3/4": (
        ("1", "2 3"), ("1", "3"), ("1 2&", "3"), ("1", "2"), ("1 1&", "2 3"), ("1 3&", "2"), ("1 2", "3"),
        ("1 2& 3&", "2 3"),
    ),
    "2/4": (
        ("1", "2"), ("1 2&", "2"), ("1", "1& 2&"), ("1 2", "1& 2&"), ("1 1&", "2"), ("1 1a", "2"),
    ),
    "5/4": (
        ("1 4", "3 5"), ("1 3&", "2 4 5"), ("1 2& 4", "3 5"), ("1 3 4", "2 5"), ("1 3", "2 4"), ("1 2&", "4"),
        ("1 3&", "4"), ("1 1& 4", "3 5"), ("1 3", "2 4 5"), ("1 4& 5", "3"),
    ),
    "7/8": (
        ("1 3", "2"), ("1 3", "2 3a"), ("1 3", "2 3&"), ("1 1&", "3"), ("1 2&", "2 3&"), ("1 2", "3"),
        ("1 2& 3a", "2 3&"), ("1", "3"), ("1 3", "2& 3a"), ("1 1& 3", "2 3a"),
    ),
    "6/8": (
        ("1", "2"), ("1 1a", "2"), ("1 2a", "2"), ("1 1a 2a", "2"), ("1 2&", "2"), ("1 1&", "2"),
    ),
    "12/8": (
        ("1 3", "2 4"), ("1 2a 3", "2 4"), ("1 3 3a", "2 4"), ("1 1a 3", "2 4"), ("1 2a 3a", "2 4"),
        ("1 2a", "3"), ("1 3 4a", "2 4"),
    ),
}  # fmt: skip
"""Meter -> (kick, snare) of each usual bar."""

TIMEKEEPING: Final[Mapping[bool, tuple[Fraction, ...]]] = {
    False: (Fraction(1, 4), Fraction(1, 8), Fraction(1, 16)),
    True: (Fraction(1, 8), Fraction(3, 8), Fraction(1, 16)),
}
"""Compound meter or not -> the note values that a hat or ride repeats."""
