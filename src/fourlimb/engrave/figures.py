"""The figures sheet and the practice sheet: each figure once, with its count, hands, and what is new in it."""

from collections.abc import Mapping, Sequence
from typing import Final

import msgspec

from fourlimb.model import Figure, InputError, Sheet
from fourlimb.model.recent import Recent
from fourlimb.model.tempo import tempo_marks

from .documents import frame, svg_width_mm, title_mm
from .excerpt import excerpts
from .layout import ORDINARY, Layout
from .saying import say_bars
from .typeface import shown
from .typesetting import typeset
from .words import printable

DEFAULT_RUNGS: Final = (0.6, 0.7, 0.8, 0.9, 1.0)
"""Shares of the song's tempo that are offered as boxes when no ladder is given."""

A_WEEK: Final = 5
"""Figures on a week's sheet at ordinary size: two or three in turn each day (ours; fewer in large print)."""


def figures_pdf(sheet: Sheet, layout: Layout = ORDINARY) -> bytes:
    """Each figure once, in running order: its bars, picture, count and hands, and the difference in words."""
    data, pictures = figure_cards(sheet, layout, ordered(sheet))
    data |= _head(sheet, layout, "figures") | {
        "intro": "Each figure once, in the order it is learnt. Learn a figure, then find its bars in the chart."
    }
    return typeset("figures", data, pictures)


def practice_pdf(
    sheet: Sheet,
    layout: Layout = ORDINARY,
    *,
    figures: Sequence[str] = (),
    rungs: Sequence[int] = (),
    goal: int = 0,
    ladders: Mapping[str, tuple[Sequence[int], int]] | None = None,
    week: int = 1,
    words: Mapping[str, str] | None = None,
    care: Sequence[str] = (),
    clean: int = 3,
) -> bytes:
    """A week's sheet: a few figures, each with boxes to tick at every rung (beats a minute), `clean` boxes a rung.

    `goal` is the song's own tempo (0: that of its first tempo mark), which stands out among the rungs. `ladders`:
    rungs and goal of figures that have their own, by name (a song may change its tempo). `figures` are
    chosen by name; without them week 1 has the first ones of the running order, week 2 those that follow. `words` go
    under a figure (how a fill lands), `care` at the foot. Raises InputError for a week that the song has no figures
    for.
    """
    chosen = [f for f in ordered(sheet) if f.name in figures] if figures else _of_week(sheet, layout, week)
    goal = goal or round(next(iter(tempo_marks(sheet.grid).values()), 100.0))
    steps = tuple(rungs) or tuple(round(goal * share) for share in DEFAULT_RUNGS)
    data, pictures = figure_cards(sheet, layout, chosen)
    cards = data["figures"]
    assert isinstance(cards, list)
    for card in cards:
        own, aim = (ladders or {}).get(card["name"], (steps, goal))
        card |= {"rungs": [f"{step}" for step in own], "goal": f"{aim}"}
    data |= _head(sheet, layout, "practice sheet") | {
        "week": f"{week}",
        "clean": clean,
        "large": layout.large,
        "words": {name: shown(printable(said)) for name, said in (words or {}).items()},
        "care": [shown(printable(line)) for line in care],
    }
    return typeset("practice", data, pictures)


def _of_week(sheet: Sheet, layout: Layout, week: int) -> list[Figure]:
    played = [f for f in ordered(sheet) if sheet.chart.by_bar.get(f.first)]
    count = max(3, min(A_WEEK, round(A_WEEK / layout.scale)))
    weeks = max(1, -(-len(played) // count))
    if not 1 <= week <= weeks:
        raise InputError(f"there is no week {week}: the song has figures for {weeks}, so choose 1 to {weeks}")
    return played[(week - 1) * count : week * count]


def ordered(sheet: Sheet) -> list[Figure]:
    """Figures in running order; those that the order does not name follow."""
    by_name = {figure.name: figure for figure in sheet.plan.figures}
    names = [step.figure for step in sheet.plan.running_order if step.figure in by_name]
    rest = [name for name in by_name if name not in names]
    return [by_name[name] for name in [*dict.fromkeys(names), *rest]]


def _head(sheet: Sheet, layout: Layout, kind: str) -> dict[str, object]:
    return frame(sheet, layout, kind) | {"head": {"title": title_mm(layout)}}


def figure_cards(sheet: Sheet, layout: Layout, figures: Sequence[Figure]) -> tuple[dict[str, object], dict[str, str]]:
    """Data and pictures of the cards, two columns where they fit."""
    shown_layout = msgspec.structs.replace(layout, show_count=True, show_sticking=True, doubts=False)
    played = [f for f in figures if sheet.chart.by_bar.get(f.first)]
    columns = 1 if layout.large and not layout.landscape else 2
    card = (layout.text_mm[0] - 8.0 * (columns - 1)) / columns
    bars = tuple(f.first for f in ordered(sheet) if sheet.chart.by_bar.get(f.first))
    if not {f.first for f in played} <= set(bars):
        bars = tuple(f.first for f in played)
    wide = 0.92 * card
    cut = _cut.ask(lambda: excerpts(sheet, bars, shown_layout, least_mm=wide), sheet, shown_layout, bars, wide)
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
            }
        )
    return (
        {"figures": cards, "columns": columns, "card": card},
        {f"bar{figure.first}.svg": cut[figure.first] for figure in played},
    )


_cut: Final[Recent[dict[int, str]]] = Recent(1)
"""The figures sheet, the practice sheet and the teacher's book show the same pictures."""
