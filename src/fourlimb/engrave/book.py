"""The teacher's book: chart, running order, every figure, what is in doubt, and every change with its reason."""

from collections.abc import Sequence

import msgspec

from fourlimb.model import Doubt, Reason, Sheet
from fourlimb.model.count import say_place

from .documents import chart_parts
from .figures import figure_cards, ordered
from .layout import ORDINARY, Layout
from .typeface import shown
from .typesetting import typeset
from .words import printable


class CueLine(msgspec.Struct, frozen=True, kw_only=True):
    """One step of the running order as it is printed: bars, tempo, what to say, what to play."""

    bars: str
    tempo: str
    say: str
    play: str


def teacher_pdf(
    sheet: Sheet,
    layout: Layout = ORDINARY,
    *,
    cues: Sequence[CueLine] = (),
    doubts: Sequence[Doubt] = (),
    reasons: Sequence[Reason] = (),
) -> bytes:
    """Everything about one chart in one PDF/UA-1, for the teacher. Parts without content are left out."""
    data, pictures = chart_parts(sheet, layout)
    cards, excerpts = figure_cards(sheet, layout, ordered(sheet), ())
    data |= cards | {
        "cues": [[f"{n}", *map(_text, (c.bars, c.tempo, c.say, c.play))] for n, c in enumerate(cues, start=1)],
        "doubts": [[f"{doubt.bar}", _text(doubt.why)] for doubt in doubts],
        "reasons": [_reason(sheet, reason) for reason in reasons],
    }
    foot = {"foot": {"left": data["title"], "middle": "teacher's book"}}
    return typeset("book", data | foot, pictures | excerpts)


def _reason(sheet: Sheet, reason: Reason) -> list[str]:
    inside = sheet.grid.has(reason.bar) and 0 <= reason.position < sheet.grid.length(reason.bar)
    place = say_place(sheet.grid.meter(reason.bar), reason.position) if inside else f"{reason.position}"
    return [f"{reason.bar}", place, _text(reason.why), ", ".join(reason.levels)]


def _text(words: str) -> str:
    return shown(printable(words))
