"""The song on one page: every section with its bars, its groove, where it changes, stops and cues."""

from typing import Final

from fourlimb.model import Section, Sheet

from .documents import SEPARATOR, facts, frame, lines_mm, title_mm
from .excerpt import excerpts
from .layout import ORDINARY, Layout
from .marks import shown_meter, tempo_marks
from .notate import is_fill
from .saying import say_bars
from .simile import same
from .typeface import shown
from .typesetting import typeset
from .words import breakable, feel_words, printable

ROW_MM: Final = (11.0, 28.0)
"""Least and largest height of a section's row."""


def roadmap_pdf(sheet: Sheet, layout: Layout = ORDINARY) -> bytes:
    """The whole form on one page, to be read from a music stand. PDF/UA-1; the same sheet gives the same bytes."""
    sections = sheet.sections or _whole(sheet)
    title = title_mm(layout)
    head = title + 5.0 + lines_mm(layout, [SEPARATOR.join(facts(sheet)) + " · ".join(sheet.song.credits)])
    room = layout.text_mm[1] - head - 1.0
    high = min(ROW_MM[1], room / max(len(sections), 1))
    picture_mm = min(layout.text_mm[0] * 0.36, high * 4.2)
    pictured = {s.from_bar: bar for s in sections if (bar := groove_bar(sheet, s)) is not None}
    cut = excerpts(sheet, list(pictured.values()), Layout(), width_mm=74.0) if high >= ROW_MM[0] * 0.8 else {}
    pictures = {f"bar{bar}.svg": svg for bar, svg in cut.items()}
    rows = [_row(sheet, section, pictured.get(section.from_bar), cut) for section in sections]
    data = frame(sheet, layout, "road map") | {
        "head": {"height": head, "title": title},
        "facts": facts(sheet),
        "credits": shown(printable(" · ".join(sheet.song.credits))),
        "row": {
            "height": high,
            "big": min(20.0, max(8.0, high * 0.85)),
            "small": min(10.0, max(6.5, high * 0.45)),
            "words": min(11.5, max(6.5, high * 0.5)),
            "name": layout.text_mm[0] * 0.20,
            "count": 17.0,
            "picture": picture_mm,
        },
        "rows": rows,
    }
    return typeset("roadmap", data, pictures)


def groove_bar(sheet: Sheet, section: Section) -> int | None:
    """The bar that stands for a section: the first of those that occur most often; None when nobody plays."""
    bars = [n for n in range(max(section.from_bar, 1), section.to_bar + 1) if sheet.chart.by_bar.get(n)]
    if not bars:
        return None
    looks: list[list[int]] = []
    for number in bars:
        alike = next(
            (group for group in looks if same(sheet.chart.by_bar[group[0]], sheet.chart.by_bar[number])), None
        )
        if alike is None:
            looks.append([number])
        else:
            alike.append(number)
    return max(looks, key=lambda group: (len(group), -group[0]))[0]


def _whole(sheet: Sheet) -> tuple[Section, ...]:
    """One section for a song without any."""
    numbers = [n for n in sheet.grid.numbers if n > 0] or [1]
    return (Section(name="Song", from_bar=numbers[0], to_bar=numbers[-1]),)


def _row(sheet: Sheet, section: Section, groove: int | None, cut: dict[int, str]) -> dict[str, object]:
    first = max(section.from_bar, 1)
    count = section.to_bar - first + 1
    bars = f"bar {first}" if count == 1 else f"{first}–{section.to_bar}"
    drawn = groove is not None and groove in cut
    return {
        "name": breakable(shown(printable(section.name))) or "?",
        "count": str(count),
        "bars": bars,
        "picture": f"bar{groove}.svg" if drawn else None,
        "alt": f"The groove of {section.name}: bar {groove}" if drawn else "",
        "instead": "tacet" if groove is None else "",
        "says": _says(sheet, section, groove),
    }


def _says(sheet: Sheet, section: Section, groove: int | None) -> list[str]:
    """What changes in a section, in bars: tempo, feel, meter, fills, stops, cues."""
    said: list[str] = []
    tempi = tempo_marks(sheet)
    if section.like:
        said.append(f"as {section.like}")
    for number in range(section.from_bar, section.to_bar + 1):
        if not sheet.grid.has(number):
            continue
        where = "" if number == section.from_bar else f"bar {number}: "
        if number in tempi:
            said.append(f"{where}{round(tempi[number])} a minute")
        if sheet.grid.has(number - 1) and shown_meter(sheet, number) != shown_meter(sheet, number - 1):
            said.append(f"{where}{sheet.grid.meter(number)}")
        if words := feel_words(sheet, number):
            said.append(f"{where}{words}")
    said += _changes(sheet, section, groove)
    said += [f"{mark.bar}: {mark.what}" for mark in sheet.landmarks if section.from_bar <= mark.bar <= section.to_bar]
    return [shown(printable(line)) for line in said]


def _changes(sheet: Sheet, section: Section, groove: int | None) -> list[str]:
    if groove is None:
        return []
    by_bar = sheet.chart.by_bar
    inside = range(max(section.from_bar, 1), section.to_bar + 1)
    silent = [n for n in inside if sheet.grid.has(n) and not by_bar.get(n)]
    fills = [n for n in inside if by_bar.get(n) and is_fill(by_bar[n])]
    other = [n for n in inside if by_bar.get(n) and n not in fills and not same(by_bar[n], by_bar[groove])]
    said = []
    if fills:
        said.append(f"fill: {say_bars(fills)}")
    if silent:
        said.append(f"rest: {say_bars(silent)}")
    if other:
        said.append(f"differs: {say_bars(other)}" if len(other) <= 6 else f"{len(other)} bars differ")
    return said
