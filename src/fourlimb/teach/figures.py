"""Which bars are one figure. Names run A, B, ... Z, AA in song order; a silent bar is a figure too, and named so."""

from collections.abc import Mapping

from fourlimb.model import Figure

from .content import Content

SILENT = "silent"
"""Name of the figure without strokes; one in another meter is "silent 3/4"."""


def find_figures(bars: Mapping[int, Content]) -> tuple[Figure, ...]:
    """Groups bars (number -> content, in song order) into figures, in the order they are first met."""
    groups: dict[Content, list[int]] = {}
    for bar, content in bars.items():
        groups.setdefault(content, []).append(bar)
    figures = []
    lettered = 0
    silent = 0
    for content, numbers in groups.items():
        if content.notes:
            name = letters(lettered)
            lettered += 1
        else:
            name = SILENT if not silent else f"{SILENT} {'pickup' if content.skipped else content.meter}"
            silent += 1
        figures.append(Figure(name=name, bars=tuple(numbers), first=numbers[0]))
    return tuple(figures)


def letters(index: int) -> str:
    """0 -> "A", 25 -> "Z", 26 -> "AA", 27 -> "AB" ..."""
    name = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def is_silent(name: str) -> bool:
    """True for the name of a figure without strokes."""
    return name.startswith(SILENT)
