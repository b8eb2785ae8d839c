"""Pages as a person would fill them: lines nested but clear, staves evenly apart, sizes fit for where they are read."""

import json
import re
from collections.abc import Callable
from fractions import Fraction as F
from itertools import combinations, pairwise
from pathlib import Path

import msgspec
import pypdfium2
import pytest
from builder import FILL, GROOVE, night_ferry, sheet
from collisions import collisions
from test_page import LAYOUTS, features

from fourlimb.engrave import Layout, chart_pdf, cursor, figures_pdf, practice_pdf, roadmap_pdf, teacher_pdf
from fourlimb.engrave.boxes import Box
from fourlimb.engrave.composing import MOST_PITCH, PITCH, SetLine, page_height, pitch_between, pitches_of, shifts
from fourlimb.engrave.documents import chart_parts, fitted, svg_height_mm
from fourlimb.engrave.legend import legend_svg
from fourlimb.engrave.mending import BAR_GAP
from fourlimb.engrave.overview import (
    CAPITAL_EM,
    FLUENT_DEG,
    LEGIBLE_DEG,
    POINT_MM,
    SMALL_LETTER_EM,
    WORDS_PT,
    at_stand_mm,
    roadmap_parts,
)
from fourlimb.engrave.page import paginate, set_lines
from fourlimb.engrave.typeface import width
from fourlimb.lesson import read_lesson, sheets
from fourlimb.model import Figure, InputError, Introduction, Kit, Plan, Reason, Sheet
from fourlimb.model.kit import KEYS
from fourlimb.model.sounds import SAY

OTHER = "hat every 8th; kick 1 2& 3; snare [accent] 2 4"
SIXTEENTHS = "hat every 16th; kick 1 2a 3; snare 2 4"


def placed(page: list[SetLine], pitches: list[float]) -> list[list[Box]]:
    return [[box.moved(down) for box in one.boxes] for one, down in zip(page, shifts(page, pitches), strict=True)]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
@pytest.mark.parametrize("chart", [night_ferry, features], ids=["night ferry", "features"])
def test_lines_that_are_nested_do_not_touch(chart: Callable[[], Sheet], layout: Layout) -> None:
    for page in paginate(layout, set_lines(chart(), layout)):
        tight = [pitch_between(one, after) for one, after in pairwise(page)]
        for above, below in combinations(placed(page, tight), 2):
            assert not [(a.kind, b.kind) for a in above for b in below if a.meets(b)]


@pytest.mark.parametrize("name", ["ordinary", "count and hands", "letter", "large", "double"])
def test_nothing_touches_on_any_level_of_the_demo_lesson(demo_folder: Path, name: str) -> None:
    layout = LAYOUTS[name]
    for made in sheets(read_lesson(demo_folder)).values():
        found = set_lines(made, layout)
        assert not [(a.kind, b.kind, line.line.first) for line in found for a, b in collisions(line)]
        for page in paginate(layout, found):
            tight = [pitch_between(one, after) for one, after in pairwise(page)]
            for above, below in combinations(placed(page, tight), 2):
                assert not [(a.kind, b.kind) for a in above for b in below if a.meets(b)]


@pytest.mark.parametrize("name", ["ordinary", "count and hands", "letter", "large"])
def test_no_line_of_the_demo_lesson_holds_one_orphan_bar(demo_folder: Path, name: str) -> None:
    for made in sheets(read_lesson(demo_folder)).values():
        longer = [s for s in made.sections if s.to_bar > max(s.from_bar, 1)]
        for line in set_lines(made, LAYOUTS[name]):
            written = [block for block in line.line.blocks if block.kind == "written" and block.bar > 0]
            alone = len(line.line.blocks) == len(written) == 1
            assert not (alone and any(s.from_bar <= line.line.first <= s.to_bar for s in longer)), line.line


def test_a_pickup_that_does_not_fit_stands_over_its_phrase() -> None:
    made = sheet(["snare 1 1e 1& 1a 2 2e 2& 2a", *[OTHER] * 4], first_bar=0)
    found = [line.line for line in set_lines(made, Layout(scale=2.0, simile="never"))]
    assert (found[0].first, found[0].last) == (0, 0)
    assert found[0].units < found[0].full
    assert all(len(line.blocks) == 2 for line in found[1:])


def test_the_finder_of_touching_lines_sees_lines_set_too_near() -> None:
    page = set_lines(night_ferry(), Layout())[:2]
    first, second = placed(page, [0.8 * pitch_between(*page)])
    assert any(a.meets(b) for a in first for b in second)


def test_staves_stand_at_like_distances_and_never_nearer_than_they_may() -> None:
    page = set_lines(night_ferry(), Layout())
    least = [pitch_between(one, after) for one, after in pairwise(page)]
    room = page_height(page, least) * 1.08
    pitches = pitches_of(page, room, MOST_PITCH)
    assert all(pitch >= need for pitch, need in zip(pitches, least, strict=True))
    common = min(pitches)
    assert all(pitch == pytest.approx(max(common, need)) for pitch, need in zip(pitches, least, strict=True))
    assert page_height(page, pitches) == pytest.approx(room, abs=60.0)
    assert max(pitches_of(page, 10 * room, PITCH)) == max(PITCH, *least)


def test_two_pages_are_filled_alike() -> None:
    made = sheet([GROOVE, OTHER, SIXTEENTHS, FILL] * 13, sections=[("A", 1, 24), ("B", 25, 52)])
    layout = Layout(simile="never", repeats="written out")
    _, _, pages = fitted(made, layout)
    assert len(pages) == 2
    rooms = layout.text_mm[1] - 45.0, layout.text_mm[1]
    used = [page_height(page, pitches_of(page, 0.0)) / layout.units_per_mm for page in pages]
    shares = [high / room for high, room in zip(used, rooms, strict=True)]
    assert max(shares) - min(shares) < 0.3


def test_a_page_that_turns_early_for_a_rest_keeps_usual_distances_and_its_white_at_the_foot() -> None:
    bars = [GROOVE, OTHER, SIXTEENTHS, FILL] * 16
    bars[24:26] = ["", ""]
    made = sheet(bars, sections=[("A", 1, 24), ("stop", 25, 26), ("B", 27, 64)])
    layout = Layout(simile="never", repeats="written out")
    _, _, pages = fitted(made, layout)
    data, pictures = chart_parts(made, layout)
    assert [page[-1].line.last for page in pages] == [26, 64]
    head = data["head"]
    assert isinstance(head, dict)
    room = layout.text_mm[1] - head["height"]
    assert svg_height_mm(pictures["page0.svg"]) < room - 10.0
    assert all(PITCH - 1.0 <= distance <= MOST_PITCH + 1.0 for distance in staff_distances(pictures))


@pytest.mark.parametrize("bars", [32, 40, 52, 64, 90])
def test_lines_stand_alike_on_every_page(bars: int) -> None:
    made = sheet([GROOVE, OTHER, SIXTEENTHS, FILL] * (bars // 4), sections=[("A", 1, bars)])
    _, pictures = chart_parts(made, Layout(simile="never", repeats="written out"))
    found = staff_distances(pictures)
    assert max(found) - min(found) < 0.1 * PITCH
    assert max(found) <= MOST_PITCH + 1.0


def staff_distances(pictures: dict[str, str]) -> list[float]:
    """Distances from staff to staff on all pages of a chart, in drawing units."""
    found: list[float] = []
    for svg in (svg for name, svg in sorted(pictures.items()) if name.startswith("page")):
        wide = Layout().text_mm[0] * Layout().units_per_mm
        tops = sorted({round(bar.y * wide) for bar in cursor([svg]).bars})
        found += [after - before for before, after in pairwise(tops)]
    return found


def test_a_chart_that_nearly_fits_one_page_is_set_a_little_smaller() -> None:
    counts = {}
    layout = Layout(simile="never", repeats="written out")
    for bars in range(28, 57, 4):
        _, used, pages = fitted(sheet([GROOVE, OTHER] * (bars // 2)), layout)
        counts[bars] = len(pages), used.scale
    assert {scale for _, scale in counts.values()} <= {1.0, 0.94, 0.88}
    assert any(scale < 1.0 and pages == 1 for pages, scale in counts.values())
    assert fitted(sheet([GROOVE, OTHER] * 60), Layout(scale=1.2))[1].scale == 1.2


def test_a_song_of_three_minutes_fits_two_pages() -> None:
    """90 bars at 120 beats a minute: verses and refrains with a fill every eighth bar."""
    verse = ([GROOVE] * 7 + [FILL]) * 2
    refrain = ([OTHER] * 3 + [SIXTEENTHS]) * 2 + [OTHER] * 7 + [FILL]
    bars = [*[GROOVE] * 4, *verse, *refrain, *verse, *refrain, *[""] * 2, *refrain, *[GROOVE] * 4]
    starts = [("Intro", 1, 4), ("Verse 1", 5, 20), ("Refrain", 21, 36), ("Verse 2", 37, 52), ("Refrain", 53, 68)]
    sections = [*starts, ("Stop", 69, 70), ("Refrain", 71, 86), ("Out", 87, 90)]
    made = sheet(bars, tempo=120.0, sections=sections)
    assert made.grid.end_s == pytest.approx(180.0, abs=1.0)
    assert len(fitted(made, Layout())[2]) <= 2
    assert len(fitted(made, Layout(repeats="written out"))[2]) <= 2


def test_the_heading_has_the_room_it_needs_in_every_size() -> None:
    """Words that a page cannot hold in one line are counted as two: nothing of the heading runs into the music."""
    made = features()
    for layout in LAYOUTS.values():
        data, _ = chart_parts(made, layout)
        head, kind = data["head"], data["type"]
        assert isinstance(head, dict)
        assert isinstance(kind, dict)
        size = kind["small"] * POINT_MM
        lines = 0
        for said in (data["facts"], data["signs"]):
            assert isinstance(said, list)
            wide = sum(width(word, size) for word in said) + 2.2 * size * (len(said) - 1)
            lines += int(wide // layout.text_mm[0]) + 1
        assert head["height"] >= head["title"] + lines * size * 1.2 + head["legend"] + 3.0


UNIT = re.compile(r'viewBox="\S+ \S+ (\d+) \S+" width="([\d.]+)mm" height="([\d.]+)mm"')


@pytest.mark.parametrize("layout", [Layout(), Layout(paper="letter")], ids=["a4", "letter"])
@pytest.mark.parametrize(
    ("count", "heads"), [(1, 1.3), (7, 1.0), (9, 1.0), (13, 0.65), (15, 1.0), (26, 0.65), (40, 0.65)]
)
def test_the_road_map_is_readable_from_a_music_stand(count: int, heads: float, layout: Layout) -> None:
    """Heights under the angles of Legge and Bigelow (2011) and ISO 8596 at 1.5 m; `heads`: share that note heads keep."""
    sections = [(chr(65 + n), n * 4 + 1, n * 4 + 4) for n in range(count)]
    data, pictures = roadmap_parts(sheet(([GROOVE] * 3 + [FILL]) * count, sections=sections), layout)
    row = data["row"]
    assert isinstance(row, dict)
    assert at_stand_mm(FLUENT_DEG) == pytest.approx(5.24, abs=0.01)
    assert at_stand_mm(LEGIBLE_DEG) == pytest.approx(2.18, abs=0.01)
    assert row["big"] * POINT_MM * CAPITAL_EM >= at_stand_mm(FLUENT_DEG)
    assert row["words"] * POINT_MM * SMALL_LETTER_EM >= at_stand_mm(LEGIBLE_DEG)
    for svg in pictures.values():
        found = UNIT.search(svg)
        assert found is not None
        units, wide, high = (float(group) for group in found.groups())
        fit = min(1.0, row["picture"] / wide, (row["height"] - 2.4) / high)
        assert wide / units * 180.0 * fit >= heads * at_stand_mm(LEGIBLE_DEG)


@pytest.mark.parametrize("bars", [3, 5, 7])
def test_no_odd_last_bar_leaves_half_a_large_line_white(bars: int) -> None:
    for layout in (Layout(scale=2.0), Layout(scale=1.5), Layout(scale=2.0, paper="letter")):
        lines = set_lines(sheet([GROOVE] * (bars - 1) + [FILL]), layout)
        assert all(one.line.units == one.line.full for one in lines if len(one.line.blocks) == 1)


@pytest.mark.parametrize("layout", [Layout(), Layout(scale=1.5), Layout(scale=2.0), Layout(show_sticking=True)])
def test_a_ghost_on_the_last_sixteenth_keeps_clear_of_the_bar_line(layout: Layout) -> None:
    bars = [
        "hat every 16th; kick 1 2& 3; snare 2 4; snare [ghost] 4a",
        "snare 1 1e 1& 1a 2 2e 2& 2a; snare [ghost] 3 3e 3& 3a 4 4e 4& 4a",
        "hat every 8th; snare [ghost] 1a 2a 3a 4a; kick 1 3",
    ]
    seen = 0
    for one in set_lines(sheet(bars * 3), layout):
        boxes = one.drawn.boxes
        for line in (b for b in boxes if b.kind == "barLine"):
            heads = [b.right for b in boxes if b.kind == "notehead" and b.right < line.right]
            if heads:
                seen += 1
                assert line.left - max(heads) >= BAR_GAP
    assert seen >= 8


def test_toms_that_keep_time_are_no_fill_on_the_road_map() -> None:
    toms = "floor tom every 8th; snare 2 4; kick 1 3"
    sections = [("A", 1, 8), ("B", 9, 16), ("C", 17, 24)]
    made = sheet([*[GROOVE] * 7, FILL, *[toms] * 8, *[GROOVE] * 6, FILL, FILL], sections=sections)
    text = json.dumps(roadmap_parts(made, Layout())[0]["rows"], ensure_ascii=False)
    assert re.findall(r"fill [\d–, ]+", text) == ["fill 8", "fill 23–24"]


def test_the_groove_of_a_song_without_sections_fills_half_the_road_map() -> None:
    data, _ = roadmap_parts(sheet([GROOVE] * 8), Layout())
    row = data["row"]
    assert isinstance(row, dict)
    assert row["picture"] == pytest.approx(Layout().text_mm[0] / 2)
    assert row["height"] == 80
    assert row["words"] > 1.3 * WORDS_PT


def test_the_weeks_of_the_practice_sheet_hold_every_figure_once() -> None:
    figures = tuple(Figure(name=f"F{n}", bars=(n,), first=n) for n in range(1, 13))
    order = tuple(Introduction(figure=figure.name) for figure in figures)
    plan = Plan(figures=figures, differences=(), running_order=order, counts={})
    made = msgspec.structs.replace(sheet([GROOVE, OTHER] * 6), plan=plan)
    shown: list[str] = []
    for week in (1, 2, 3):
        text = pypdfium2.PdfDocument(practice_pdf(made, week=week))[0].get_textpage().get_text_bounded()
        shown += re.findall(r"\bF\d+\b", text)
    assert sorted(shown) == sorted(figure.name for figure in figures)
    with pytest.raises(InputError, match="1 to 3"):
        practice_pdf(made, week=4)


def test_the_book_says_a_reason_once_with_every_place_it_holds_for() -> None:
    why = "two hands already play: the tambourine is left out"
    places = [(3, F(1, 4)), (3, F(3, 4)), (4, F(1, 4)), (4, F(3, 4)), (6, F(1, 2))]
    reasons = [Reason(what="dropped", bar=bar, position=at, sound="tambourine", why=why) for bar, at in places]
    book = pypdfium2.PdfDocument(teacher_pdf(sheet([GROOVE] * 8), reasons=reasons))
    text = " ".join("".join(page.get_textpage().get_text_bounded() for page in book).split())
    assert text.count("the tambourine is left out") == 1
    assert "3–4: 2 4 · 6: 3" in text


@pytest.mark.parametrize("make", [chart_pdf, roadmap_pdf, figures_pdf, practice_pdf, teacher_pdf])
@pytest.mark.parametrize("layout", [Layout(), Layout(scale=2.0)], ids=["1", "2"])
def test_every_document_names_writers_and_owners(make: Callable[..., bytes], layout: Layout) -> None:
    lines = ("Words and music: the house band", "© 2026 the house band")
    made = sheet([GROOVE, OTHER], credits=lines)
    text = " ".join(pypdfium2.PdfDocument(make(made, layout))[0].get_textpage().get_text_bounded().split())
    assert all(line in text for line in lines)


def test_the_key_on_page_one_is_that_of_the_kit() -> None:
    text = pypdfium2.PdfDocument(chart_pdf(night_ferry()))[0].get_textpage().get_text_bounded()
    for piece in {stroke.piece for stroke in night_ferry().chart.strokes}:
        assert SAY[piece] in text
    ordinary, middle = (
        legend_svg(msgspec.structs.replace(night_ferry(), kit=Kit(key=key)), Layout()) for key in KEYS.values()
    )
    assert ordinary != middle
