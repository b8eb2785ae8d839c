"""Sheets -> the PDFs that are handed out: the chart here, the others beside it, all in one look."""

import math
import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import msgspec

from fourlimb.model import LEVEL_SAYS, Sheet
from fourlimb.model.recent import Recent
from fourlimb.model.tempo import tempo_marks

from .composing import MOST_PITCH, PITCH, SetLine, compose, page_height, pitch_between, pitches_of
from .folded import folded, written_form
from .layout import ORDINARY, Layout
from .legend import legend_svg
from .page import paginate, set_lines
from .typeface import shown, width
from .typesetting import typeset
from .words import breakable, printable

BETWEEN_EM: Final = 2.25
"""White and dot between two facts, as wide as the template sets them."""

POINT_MM: Final = 0.3528

TITLE_MM: Final = 13.0
"""Height of the title block at scale 1."""


def chart_pdf(sheet: Sheet, layout: Layout = ORDINARY) -> bytes:
    """The chart as PDF/UA-1: heading and key on page one, then the music."""
    data, pictures = chart_parts(sheet, layout)
    return typeset("chart", data, pictures)


def chart_parts(sheet: Sheet, layout: Layout) -> tuple[dict[str, object], dict[str, str]]:
    """Data and pictures of the chart document."""
    form, layout, pages = fitted(sheet, layout)
    legend, legend_mm, head = _heading(sheet, layout)
    rooms = [layout.text_mm[1] - head] + [layout.text_mm[1]] * len(pages)
    rooms = [room - 0.5 for room in rooms]
    most = _even_pitch(pages, rooms, layout)
    pictures = {
        f"page{n}.svg": compose(form, layout, page, high_mm=room, most=most)
        for n, (page, room) in enumerate(zip(pages, rooms, strict=False))
    }
    if legend:
        pictures["legend.svg"] = legend
    data = frame(sheet, layout, "chart") | {
        "head": {"height": head, "title": title_mm(layout), "legend": legend_mm},
        "facts": facts(sheet),
        "signs": signs(sheet),
        "alt": {
            "legend": "Key: where each piece stands on the staff",
            "pages": [f"Music of bars {page[0].line.first} to {page[-1].line.last}" for page in pages],
        },
    }
    return data, pictures


def _even_pitch(pages: Sequence[Sequence[SetLine]], rooms: Sequence[float], layout: Layout) -> float:
    """How far apart lines may stand: on every page as far as on the fullest, within what is usual."""
    found = [
        min(pitches_of(page, room * layout.units_per_mm, MOST_PITCH), default=MOST_PITCH)
        for page, room in zip(pages, rooms, strict=False)
    ]
    return max(PITCH, min(found, default=PITCH))


def _heading(sheet: Sheet, layout: Layout) -> tuple[str, float, float]:
    """The key as SVG, its height, and the height of all that stands over the music on page one."""
    legend = legend_svg(sheet, layout) if layout.show_legend else ""
    legend_mm = svg_height_mm(legend)
    words = title_mm(layout) + 4.0 + lines_mm(layout, [facts(sheet), signs(sheet)])
    return legend, legend_mm, words + (legend_mm + 2.0 if legend else 0.0)


def fitted(sheet: Sheet, layout: Layout) -> tuple[Sheet, Layout, list[list[SetLine]]]:
    """The chart as it is written, and its lines on their pages; repeats are folded where that wins a page."""
    return _fits.ask(lambda: _fitted(sheet, layout), sheet, layout)


_fits: Final[Recent[tuple[Sheet, Layout, list[list[SetLine]]]]] = Recent(3)


def _fitted(sheet: Sheet, layout: Layout) -> tuple[Sheet, Layout, list[list[SetLine]]]:
    sheet = written_form(sheet, layout)
    plain, pages = _pages(sheet, layout)
    short = folded(sheet) if layout.repeats == "auto" and len(pages) > 1 else sheet
    if short is not sheet:
        tried, fewer = _pages(short, layout)
        if len(fewer) < len(pages):
            return short, tried, fewer
    return sheet, plain, pages


def _pages(sheet: Sheet, layout: Layout) -> tuple[Layout, list[list[SetLine]]]:
    """Lines on their pages; at ordinary size a little smaller where that wins one page, or two side by side."""
    found = set_lines(sheet, layout)
    pages = paginate(layout, found, layout.text_mm[1] - _heading(sheet, layout)[2])
    if layout.scale != 1.0 or not 1 < len(pages) <= FEW_PAGES:
        return layout, pages
    least = page_height(found, [pitch_between(one, after) for one, after in pairwise(found)]) / layout.units_per_mm
    for scale in SMALLER:
        small = msgspec.structs.replace(layout, scale=scale)
        room = (len(pages) - 1) * small.text_mm[1] - _heading(sheet, small)[2]
        if least * scale <= room:
            fewer = paginate(small, set_lines(sheet, small), small.text_mm[1] - _heading(sheet, small)[2])
            if len(fewer) < len(pages):
                return small, fewer
    return layout, pages


SMALLER: Final = (0.94, 0.88)
"""Sizes that are tried when they might win a page: staves of 6.2 and 5.8 mm, still those of printed drum books
(common practice, no source)."""

FEW_PAGES: Final = 3
"""A smaller size is worth it for one page in place of two, or two side by side in place of three (ours)."""


def title_mm(layout: Layout) -> float:
    """Height of the title block."""
    return TITLE_MM * max(1.0, text_scale(layout))


def text_scale(layout: Layout) -> float:
    """How much larger words are than at scale 1: in large print they grow less than the music."""
    return layout.scale if not layout.large else 1.2 + (layout.scale - 1.2) * 0.7


def lines_mm(layout: Layout, said: Sequence[Sequence[str]], points: float = 0.0) -> float:
    """Height of lines of facts (small, unless `points` are given), each broken as often as the page needs."""
    size = (points or 8.5 * text_scale(layout)) * POINT_MM
    count = 0
    for facts_ in said:
        wide = sum(width(fact, size) for fact in facts_) + max(len(facts_) - 1, 0) * BETWEEN_EM * size
        count += math.ceil(1.05 * wide / layout.text_mm[0])
    return count * size * 1.35 + 1.0


def frame(sheet: Sheet, layout: Layout, kind: str) -> dict[str, object]:
    """What every document's data hold: paper, type, title, level, foot line."""
    wide, high = layout.page_mm
    scale = text_scale(layout)
    title = shown(printable(sheet.song.title)).strip() or "Drum chart"
    return {
        "meta": {"title": printable(sheet.song.title).strip() or "Drum chart", "author": "fourlimb"},
        "page": {"width": wide, "height": high, "margin": layout.margin_mm},
        "type": {"title": 22 * scale, "body": 10 * scale, "small": 8.5 * scale},
        "title": breakable(title),
        "credits": shown(printable(" · ".join(sheet.song.credits))),
        "level": {"name": sheet.level, "says": LEVEL_SAYS[sheet.level]},
        "foot": {"left": title if len(title) <= 48 else title[:47] + "…", "middle": f"{sheet.level} · {kind}"},
    }


def signs(sheet: Sheet) -> list[str]:
    """What the marks of this chart mean, for those that it uses."""
    strokes = sheet.chart.strokes
    table = (
        ("( ) ghost: soft", any(s.ghost for s in strokes)),
        ("> accent: loud", any(s.accent for s in strokes)),
        ("o open", any(s.piece == "hat_open" for s in strokes)),
        ("ø half open", any(s.struck == "half_open" for s in strokes)),
        ("z buzz roll", any(s.struck == "buzz" for s in strokes)),
        ("slashes on the stem: roll", any(s.roll for s in strokes)),
        ("short tie: let ring", any(s.struck == "let_ring" for s in strokes)),
        ("slashed head: rimshot", any(s.struck == "rimshot" for s in strokes)),
    )
    return [said for said, used in table if used]


def facts(sheet: Sheet) -> list[str]:
    """The song in a line: tempo, meter, bars, length, feel."""
    grid = sheet.grid
    played = [bar for bar in grid.bars if bar.bar > 0]
    meters = list(dict.fromkeys(bar.meter for bar in played))
    tempi = sorted({round(bpm) for bpm in tempo_marks(sheet.grid).values()})
    said = []
    if tempi:
        ends = f"{tempi[0]}" if len(tempi) == 1 else f"{tempi[0]} to {tempi[-1]}"
        said.append(f"{ends} beats a minute")
    if meters:
        said.append(", ".join(meters[:4]))
    said.append(f"{len(played)} bars" if len(played) != 1 else "1 bar")
    seconds = round(grid.end_s - (grid.bars[0].start_s if grid.bars else 0.0))
    said.append(f"{seconds // 60}:{seconds % 60:02d}")
    feels = list(dict.fromkeys(span.feel for span in grid.feel if span.feel != "straight"))
    return said + [f"{feel} feel in places" for feel in feels]


def svg_height_mm(svg: str) -> float:
    """Height that an SVG of ours states, in mm; 0 for none."""
    found = re.search(r' height="([\d.]+)mm"', svg[:2000])
    return float(found[1]) if found else 0.0


def svg_width_mm(svg: str) -> float:
    """Width that an SVG of ours states, in mm; 0 for none."""
    found = re.search(r' width="([\d.]+)mm"', svg[:2000])
    return float(found[1]) if found else 0.0
