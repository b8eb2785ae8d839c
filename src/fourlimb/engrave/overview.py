"""The song at a glance: every section with its bars, its groove, where it changes, stops and cues.

It lies on a music stand while the drummer plays, so sizes come from the distance and from what eyes can read (see the
constants). One page holds as many sections as can be read (14 on A4 upright, 13 on Letter; note heads keep their size
for up to 9 and are two thirds of it on a full page); more are dealt evenly to further pages, to lie side by side. A
song of one section gets its groove across half of the page, and larger cues beside it.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final

import msgspec

from fourlimb.model import Section, Sheet
from fourlimb.model.tempo import tempo_marks

from .documents import POINT_MM, facts, frame, lines_mm, svg_height_mm, text_scale, title_mm
from .excerpt import excerpts
from .layout import ORDINARY, STAFF_MM, Layout
from .marks import shown_meter
from .notate import is_fill
from .saying import say_bars, spans_of
from .typeface import shown
from .typesetting import typeset
from .words import breakable, feel_words, printable

STAND_MM: Final = 1500.0
"""A music stand, from the eyes of a drummer who sits behind the kit."""

FLUENT_DEG: Final = 0.2
"""Height of letters from which reading is fluent (Legge and Bigelow, Journal of Vision 11(5):8, 2011: critical print
size about 0.2 degrees of x-height; from memory). Section names and bar counts are held to it by their capitals and
figures."""

LEGIBLE_DEG: Final = 5 / 60
"""Height of a letter that normal eyes still read: five minutes of arc (ISO 8596). Cues are held to it by their small
letters, note heads by their height."""

CAPITAL_EM: Final = 0.645
SMALL_LETTER_EM: Final = 0.429
"""Height of capitals and of small letters in the text face (Libertinus Serif), share of the type size."""

ROW_MM: Final = 40.0
"""Greatest height of a section's row."""

LONE_ROW_MM: Final = 80.0
"""Greatest height of the row of a song that is one section."""

COLUMNS: Final = {"name": 0.22, "count": 0.105, "picture": 0.36}
LONE_COLUMNS: Final = {"name": 0.13, "count": 0.105, "picture": 0.5}
"""Widths of a row's columns, shares of the page; cues take the rest."""


def at_stand_mm(degrees: float) -> float:
    """Height of something seen under this angle from the drummer's seat."""
    return STAND_MM * math.tan(math.radians(degrees))


NAME_PT: Final = at_stand_mm(FLUENT_DEG) / CAPITAL_EM / POINT_MM
WORDS_PT: Final = at_stand_mm(LEGIBLE_DEG) / SMALL_LETTER_EM / POINT_MM
PICTURE_SCALE: Final = at_stand_mm(LEGIBLE_DEG) * 4 / STAFF_MM
"""Least sizes on a page to be read from the stand: names in points, words in points, the staff against its usual
height (a note head is one of its four spaces high)."""

LEAST_ROW_MM: Final = max(NAME_PT / 1.45, WORDS_PT / 0.95)
"""Least height of a row whose name and cues are read from the stand (see `_row_sizes`)."""


def roadmap_pdf(sheet: Sheet, layout: Layout = ORDINARY) -> bytes:
    """The whole form, to be read from a music stand. PDF/UA-1; the same sheet gives the same bytes."""
    data, pictures = roadmap_parts(sheet, layout)
    return typeset("roadmap", data, pictures)


def roadmap_parts(sheet: Sheet, layout: Layout) -> tuple[dict[str, object], dict[str, str]]:
    """Data and pictures of the road map."""
    sections = sheet.sections or _whole(sheet)
    title = title_mm(layout)
    head = title + 6.0 + lines_mm(layout, [facts(sheet)], words_pt(layout))
    room = layout.text_mm[1] - head - 1.0
    pages = math.ceil(len(sections) / max(1, int(room / LEAST_ROW_MM)))
    per_page = math.ceil(len(sections) / pages)
    lone = len(sections) == 1
    row = _row_sizes(layout, min(LONE_ROW_MM if lone else ROW_MM, room / per_page), LONE_COLUMNS if lone else COLUMNS)
    pictured = {s.from_bar: bar for s in sections if (bar := groove_bar(sheet, s)) is not None}
    grow = row["picture"] / (layout.text_mm[0] * COLUMNS["picture"])
    cut = _pictures(sheet, list(pictured.values()), row, PICTURE_SCALE * 1.02 * grow)
    data = frame(sheet, layout, "road map") | {
        "head": {"height": head, "title": title},
        "facts": facts(sheet),
        "row": row,
        "per_page": per_page,
        "rows": [_row(sheet, section, pictured.get(section.from_bar), cut) for section in sections],
    }
    return data, {f"bar{bar}.svg": svg for bar, svg in cut.items()}


def _row_sizes(layout: Layout, high: float, columns: Mapping[str, float]) -> dict[str, float]:
    """Sizes of a row's parts: what the stand asks for, more where there is room, less where there is none."""
    wide = layout.text_mm[0]
    return {
        "height": high,
        "big": min(1.4 * NAME_PT, high * 1.45),
        "words": min(words_pt(layout) * columns["picture"] / COLUMNS["picture"], high * 0.95),
        "facts": words_pt(layout),
        "name": wide * columns["name"],
        "count": max(20.0, wide * columns["count"]),
        "picture": wide * columns["picture"],
    }


def words_pt(layout: Layout) -> float:
    """Size of words where there is room: a little larger in large print."""
    return 1.02 * WORDS_PT * min(1.3, max(1.0, text_scale(layout)))


def _pictures(sheet: Sheet, bars: Sequence[int], row: Mapping[str, float], scale: float) -> dict[int, str]:
    """The groove of each section, all as wide as the column, in a staff to be read from the stand."""
    sheet = _plain(sheet, bars)
    cut = excerpts(sheet, bars, Layout(scale=scale), width_mm=row["picture"], bare=True)
    tallest = max(map(svg_height_mm, cut.values()), default=0.0)
    room = row["height"] - 2.4
    if tallest <= room:
        return cut
    return excerpts(sheet, bars, Layout(scale=max(0.5, scale * room / tallest)), width_mm=row["picture"], bare=True)


def _plain(sheet: Sheet, bars: Sequence[int]) -> Sheet:
    """The bars without accents: what is over the stems costs height, and cannot be read from the stand."""
    kept = tuple(msgspec.structs.replace(s, accent=False) for s in sheet.chart.strokes if s.bar in bars)
    return msgspec.structs.replace(sheet, chart=msgspec.structs.replace(sheet.chart, strokes=kept))


def groove_bar(sheet: Sheet, section: Section) -> int | None:
    """The bar that stands for a section: the one that differs least from all the others; None when nobody plays."""
    played = {
        bar: frozenset((s.position, s.piece) for s in sheet.chart.by_bar[bar])
        for bar in range(max(section.from_bar, 1), section.to_bar + 1)
        if sheet.chart.by_bar.get(bar)
    }
    times = Counter(played.values())
    strange = {one: sum(len(one ^ other) * count for other, count in times.items()) for one in times}
    return min(played, key=lambda bar: (strange[played[bar]], bar), default=None)


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
    """What must be known in a section, as it comes: cues, tempo, feel, meter; then fills, rests."""
    inside = [n for n in range(section.from_bar, section.to_bar + 1) if sheet.grid.has(n)]
    said: list[str] = []
    tempi = tempo_marks(sheet.grid)
    first = next(iter(tempi), None)
    for number in inside:
        where = _at(section, number)
        said += [f"{where}{mark.what}" for mark in sheet.landmarks if mark.bar == number]
        if number in tempi and number != first:
            said.append(f"{where}{round(tempi[number])} a minute")
        if sheet.grid.has(number - 1) and shown_meter(sheet, number) != shown_meter(sheet, number - 1):
            said.append(f"{where}{sheet.grid.meter(number)}")
        if words := feel_words(sheet, number):
            said.append(f"{where}{words}")
    said += _changes(sheet, section, groove)
    if section.like:
        said.append(f"like {section.like}")
    return [shown(printable(line)) for line in said]


def _at(section: Section, bar: int) -> str:
    return "" if bar == section.from_bar else f"{bar}: "


FILL_MOST: Final = 2
"""Bars that a fill may take; drums under the hands for longer are a groove of toms or a march (ours)."""


def _changes(sheet: Sheet, section: Section, groove: int | None) -> list[str]:
    if groove is None:
        return []
    by_bar = sheet.chart.by_bar
    told = {mark.bar for mark in sheet.landmarks}  # a cue says more than its bar's number
    inside = [n for n in range(max(section.from_bar, 1), section.to_bar + 1) if n not in told]
    silent = [n for n in inside if sheet.grid.has(n) and not by_bar.get(n)]
    fills = [n for n in inside if by_bar.get(n) and is_fill(by_bar[n])]
    fills = [n for first, last in spans_of(fills) if last - first < FILL_MOST for n in range(first, last + 1)]
    said = []
    if fills:
        said.append(f"fill {say_bars(fills)}")
    if silent:
        said.append(f"rest {say_bars(silent)}")
    return said
