"""The figures sheet and the practice sheet: each figure once, with its count, hands, and what is new in it."""

from collections.abc import Sequence
from typing import Final

import msgspec

from fourlimb.model import Figure, Sheet

from .documents import frame, svg_width_mm, title_mm
from .excerpt import excerpts
from .layout import ORDINARY, Layout
from .marks import tempo_marks
from .saying import say_bars
from .typeface import shown
from .typesetting import typeset
from .words import printable

DEFAULT_RUNGS: Final = (0.6, 0.7, 0.8, 0.9, 1.0)
"""Shares of the song's tempo that are offered as boxes when no ladder is given."""


def figures_pdf(sheet: Sheet, layout: Layout = ORDINARY) -> bytes:
    """Each figure once, in running order: its bars, picture, count and hands, and the difference in words."""
    intro = "Each figure once, in the order it is learnt. Learn a figure, then find its bars in the chart."
    return _sheet(sheet, layout, "figures", intro, ordered(sheet), ())


def practice_pdf(
    sheet: Sheet,
    layout: Layout = ORDINARY,
    *,
    figures: Sequence[str] = (),
    rungs: Sequence[int] = (),
) -> bytes:
    """A week's sheet: chosen figures (default: all) with a box to tick for every rung (beats a minute)."""
    chosen = [f for f in ordered(sheet) if not figures or f.name in figures]
    marks = tempo_marks(sheet)
    goal = next(iter(marks.values()), 100.0)
    steps = tuple(rungs) or tuple(round(goal * share) for share in DEFAULT_RUNGS)
    intro = "Tick a box when a figure goes round four times without a slip. Start slow; rest when anything hurts."
    return _sheet(sheet, layout, "practice sheet", intro, chosen, tuple(f"{step}" for step in steps))


def ordered(sheet: Sheet) -> list[Figure]:
    """Figures in running order; those that the order does not name follow."""
    by_name = {figure.name: figure for figure in sheet.plan.figures}
    names = [step.figure for step in sheet.plan.running_order if step.figure in by_name]
    rest = [name for name in by_name if name not in names]
    return [by_name[name] for name in [*dict.fromkeys(names), *rest]]


def _sheet(
    sheet: Sheet, layout: Layout, kind: str, intro: str, figures: Sequence[Figure], boxes: Sequence[str]
) -> bytes:
    data, pictures = figure_cards(sheet, layout, figures, boxes)
    data |= frame(sheet, layout, kind) | {
        "head": {"title": title_mm(layout)},
        "intro": intro,
        "credits": shown(printable(" · ".join(sheet.song.credits))),
    }
    return typeset("figures", data, pictures)


def figure_cards(
    sheet: Sheet, layout: Layout, figures: Sequence[Figure], boxes: Sequence[str]
) -> tuple[dict[str, object], dict[str, str]]:
    """Data and pictures of the cards, two columns where they fit."""
    shown_layout = msgspec.structs.replace(layout, show_count=True, show_sticking=True, doubts=False)
    played = [f for f in figures if sheet.chart.by_bar.get(f.first)]
    cut = excerpts(sheet, [f.first for f in played], shown_layout)
    columns = 1 if layout.large and not layout.landscape else 2
    card = (layout.text_mm[0] - 8.0 * (columns - 1)) / columns
    says = {d.to: d for d in sheet.plan.differences}
    told = {step.figure: step.by for step in sheet.plan.running_order}
    cards: list[dict[str, object]] = []
    for figure in played:
        difference = says.get(figure.name)
        ok = difference is not None and (figure.name not in told or told[figure.name] == difference.from_)
        times = len(figure.bars)
        word = "" if figure.bars[0] == 0 else "bar " if times == 1 else "bars "
        where = f"{word}{say_bars(figure.bars)}" + (f"  ({times} times)" if times > 2 else "")
        say = shown(printable(difference.say)) if difference is not None and ok else ""
        cards.append(
            {
                "name": figure.name,
                "bars": where,
                "picture": f"bar{figure.first}.svg",
                "width": svg_width_mm(cut[figure.first]),
                "alt": f"Figure {figure.name}, bar {figure.first}. {say}",
                "say": say[:1].upper() + say[1:],
                "boxes": list(boxes),
            }
        )
    return (
        {"figures": cards, "columns": columns, "card": card},
        {f"bar{bar}.svg": svg for bar, svg in cut.items()},
    )
