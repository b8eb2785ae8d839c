"""The teacher's book: chart, running order, every figure, what is in doubt, and every change with its reason."""

from collections.abc import Sequence
from fractions import Fraction

import msgspec

from fourlimb.model import LEVELS, Doubt, Level, Reason, Sheet
from fourlimb.model.count import speak_in

from .documents import chart_parts
from .figures import figure_cards, ordered
from .layout import ORDINARY, Layout
from .saying import say_bars
from .typeface import shown
from .typesetting import typeset
from .words import printable


class CueLine(msgspec.Struct, frozen=True, kw_only=True):
    """One step of the running order as it is printed: bars, tempo, what to say, what to play."""

    what: str = ""
    bars: str
    tempo: str
    say: str
    play: str


def teacher_pdf(
    sheet: Sheet,
    layout: Layout = ORDINARY,
    *,
    cues: Sequence[CueLine] = (),
    notes: Sequence[str] = (),
    doubts: Sequence[Doubt] = (),
    reasons: Sequence[Reason] = (),
    phrases: Sequence[str] = (),
    levels: Sequence[Level] = LEVELS,
) -> bytes:
    """Everything about one chart in one PDF/UA-1, for the teacher. Parts without content are left out.

    Reasons of one kind stand together, with all the places they hold for; `levels` gives the order of their names.
    """
    data, pictures = chart_parts(sheet, layout)
    cards, excerpts = figure_cards(sheet, layout, ordered(sheet))
    data |= cards | {
        "cues": [
            [f"{n}", *map(_text, (c.what, c.bars, c.tempo, c.say, c.play))] for n, c in enumerate(cues, start=1)
        ],
        "notes": [_text(note) for note in notes],
        "doubts": [[f"{doubt.bar}", _text(doubt.why)] for doubt in doubts],
        "reasons": _grouped(sheet, reasons, levels),
        "phrases": [_text(line) for line in phrases],
    }
    foot = {"foot": {"left": data["title"], "middle": "teacher's book"}}
    return typeset("book", data | foot, pictures | excerpts)


def _grouped(sheet: Sheet, reasons: Sequence[Reason], levels: Sequence[Level]) -> list[list[str]]:
    """(why, levels, places) of each kind of reason, those that concern most strokes first."""
    groups: dict[tuple[str, str], list[Reason]] = {}
    for reason in reasons:
        named = ", ".join(level for level in levels if level in reason.levels) or "all"
        groups.setdefault((_text(reason.why), named), []).append(reason)
    ranked = sorted(groups.items(), key=lambda item: (-len(item[1]), item[0]))
    return [[why, named, _places(sheet, group)] for (why, named), group in ranked]


def _places(sheet: Sheet, group: Sequence[Reason]) -> str:
    """Every place of a group, bars with the same places together: "5, 7: 2e 3a · 9: 4"."""
    by_bar: dict[int, dict[Fraction, str]] = {}
    for reason in group:
        by_bar.setdefault(reason.bar, {})[reason.position] = _place(sheet, reason)
    alike: dict[str, list[int]] = {}
    for bar in sorted(by_bar):
        said = " ".join(text for _, text in sorted(by_bar[bar].items()))
        alike.setdefault(said, []).append(bar)
    return " · ".join(f"{say_bars(bars)}: {said}" for said, bars in alike.items())


def _place(sheet: Sheet, reason: Reason) -> str:
    inside = sheet.grid.has(reason.bar) and 0 <= reason.position < sheet.grid.length(reason.bar)
    return speak_in(sheet.grid, reason.bar, reason.position) if inside else f"{reason.position}"


def _text(words: str) -> str:
    return shown(printable(words))
