"""The PDFs: any title, any paper, one page where the song allows, readable by machines."""

import io
from typing import Any

import msgspec
import pypdfium2
import pytest
from builder import GROOVE, night_ferry, sheet

from fourlimb import engrave
from fourlimb.engrave import CueLine, Layout, chart_pdf, figures_pdf, practice_pdf, roadmap_pdf, teacher_pdf
from fourlimb.engrave.overview import roadmap_parts
from fourlimb.engrave.typeface import MISSING, shown
from fourlimb.model import Change, Difference, Doubt, FeelSpan, Figure, InputError, Introduction, Plan, Reason, Sheet

TITLES = {
    "empty": "",
    "markup": "<script>alert(1)</script> & $x^2$ #let *bold* _it_ \\ `code` [a](b) @x",
    "lines": "Night\nFerry\r\tTwo",
    "emoji": "Night Ferry 🚢🥁",
    "japanese": "夜のフェリー",
    "hebrew": "מעבורת לילה",
    "arabic": "عبارة الليل",
    "long": "A long night on the ferry " * 12,
    "one word": "W" * 300,
    "control": "Night\x00\x07Ferry\ud800",
    "path": "../../etc/passwd",
    "quotes": "\"Night\" 'Ferry'",
}


def text_of(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    return [document[n].get_textpage().get_text_bounded() for n in range(len(document))]


def planned() -> Sheet:
    """Night Ferry with figures, one difference and a running order."""
    made = night_ferry()
    figures = (
        Figure(name="A", bars=(2, 3, 6, 7), first=2),
        Figure(name="B", bars=(9, 10, 11, 12, 13, 14, 15, 16), first=9),
        Figure(name="C", bars=(8,), first=8),
    )
    change = Change(what="move", piece="kick")
    difference = Difference(from_="A", to="B", say="as bar 2, but the kick on 1a moves to 2&", changes=(change,))
    order = (Introduction(figure="A"), Introduction(figure="B", by="A"), Introduction(figure="C"))
    plan = Plan(figures=figures, differences=(difference,), running_order=order, counts={2: "1 (e) & a 2 & 3 & 4 &"})
    return msgspec.structs.replace(made, plan=plan)


@pytest.mark.parametrize("title", TITLES.values(), ids=TITLES)
def test_any_title_is_printed_whole_or_with_a_visible_sign(title: str) -> None:
    pages = text_of(chart_pdf(sheet([GROOVE], title=title)))
    assert len(pages) == 1
    printed = "".join(pages[0].replace("\u200b", "").split())
    wanted = "".join(shown(engrave.words.printable(title)).split()) or "Drumchart"
    if title in (TITLES["hebrew"], TITLES["arabic"]):  # set from right to left: letters, not order
        assert set(wanted) - {MISSING} <= set(printed) | set("\u0627\u0644")
    else:
        assert wanted.replace("\ufffd", "") in printed.replace("\ufffd", "").replace("\ufffe", "")


def test_a_letter_that_no_face_has_becomes_a_square() -> None:
    assert shown("a夜b") == f"a{MISSING}b"
    assert shown("שלום café Ωж") == "שלום café Ωж"


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("landscape", [False, True])
def test_pages_have_the_size_of_the_paper(paper: Any, landscape: bool) -> None:
    document = pypdfium2.PdfDocument(chart_pdf(night_ferry(), Layout(paper=paper, landscape=landscape)))
    sizes = {"a4": (595.3, 841.9), "letter": (612.0, 792.0)}
    width, height = sizes[paper][::-1] if landscape else sizes[paper]
    for page in document:
        assert page.get_size() == pytest.approx((width, height), abs=0.5)


@pytest.mark.parametrize("make", [chart_pdf, roadmap_pdf, figures_pdf, practice_pdf, teacher_pdf])
@pytest.mark.parametrize(
    "layout", [Layout(), Layout(scale=1.5), Layout(scale=2.0, landscape=True)], ids=["1", "1.5", "2"]
)
def test_documents_are_tagged_titled_and_the_same_every_time(make: Any, layout: Layout) -> None:
    pdf = make(planned(), layout)
    assert pdf == make(planned(), layout)
    assert b"pdfuaid" in pdf
    assert b"/StructTreeRoot" in pdf
    document = pypdfium2.PdfDocument(pdf)
    assert document.get_metadata_value("Title") == "Night Ferry"
    assert document.get_metadata_value("Author") == "fourlimb"
    assert b"/FontFile3" in pdf or b"/FontFile2" in pdf


def test_the_chart_of_an_ordinary_song_fits_one_page_and_says_what_is_needed() -> None:
    pages = text_of(chart_pdf(night_ferry()))
    assert len(pages) == 1
    for word in (
        "Night Ferry",
        "152",
        "Intro",
        "half-time feel",
        "kick alone",
        "Words and music: the house band",
        "cross-stick",
    ):
        assert word in pages[0]


def test_the_road_map_is_one_page_while_that_can_be_read_and_holds_every_section() -> None:
    for count, expected in ((0, 1), (2, 1), (14, 1), (15, 2), (28, 2), (40, 3)):
        sections = [(f"Section {n}", n * 2 + 1, n * 2 + 2) for n in range(count)]
        pages = text_of(roadmap_pdf(sheet([GROOVE] * max(2 * count, 2), sections=sections)))
        assert len(pages) == expected
        assert all(name in " ".join(" ".join(pages).split()) for name, *_ in sections)


def test_the_road_map_tells_a_section_from_its_first_bar_to_its_last() -> None:
    felt = [FeelSpan(from_bar=3, to_bar=4, feel="half-time")]
    made = sheet([GROOVE] * 8, sections=[("A", 1, 8)], landmarks={7: "kick alone"}, feel=felt)
    rows = roadmap_parts(made, Layout())[0]["rows"]
    assert rows[0]["says"] == ["3: half-time feel", "5: normal feel", "7: kick alone"]


def test_the_figures_sheet_has_each_figure_once_in_running_order() -> None:
    text = "".join(text_of(figures_pdf(planned())))
    assert text.index("bars 2–3, 6–7") < text.index("bars 9–16") < text.index("bar 8")
    assert "the kick on 1a moves to 2&" in text


def test_the_practice_sheet_offers_every_rung() -> None:
    text = "".join(text_of(practice_pdf(planned(), rungs=(60, 72, 84), figures=("A",))))
    assert all(rung in text for rung in ("60", "72", "84"))
    assert "bars 9" not in text


def test_a_figure_may_have_a_ladder_of_its_own() -> None:
    own = {"A": ((41, 43), 42)}
    text = "".join(text_of(practice_pdf(planned(), rungs=(60, 72), ladders=own, figures=("A", "B"))))
    assert all(text.count(rung) == 1 for rung in ("41", "43", "60", "72"))


def test_the_teachers_book_holds_cues_doubts_and_reasons() -> None:
    from fractions import Fraction

    reason = Reason(
        what="moved", bar=8, position=Fraction(3, 8), sound="tom_floor", why="one foot cannot be two drums"
    )
    book = teacher_pdf(
        planned(),
        cues=[CueLine(bars="bar 2", tempo="92", say="Here is the groove", play="bar 2, four times")],
        doubts=[Doubt(bar=3, share=0.4, why="two snares were heard")],
        reasons=[reason],
    )
    text = "".join(text_of(book))
    for words in ("Here is the groove", "two snares were heard", "one foot cannot be two drums", "2&", "Figures"):
        assert words in text


@pytest.mark.parametrize("doubts", [[], [Doubt(bar=3, share=0.4, why="two snares were heard")]])
def test_the_teachers_book_says_what_listening_noted(doubts: list[Doubt]) -> None:
    text = "".join(text_of(teacher_pdf(planned(), notes=["The beat is unsure in 4 of 9 bars."], doubts=doubts)))
    assert "The beat is unsure in 4 of 9 bars." in " ".join(text.split())
    assert ("two snares were heard" in text) == bool(doubts)


@pytest.mark.parametrize("bad", [{"scale": 9.0}, {"scale": 0.1}, {"bars_per_line": 40}])
def test_a_layout_that_cannot_be_is_refused(bad: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        Layout(**bad)


def test_pages_are_grey_safe() -> None:
    """Nothing is told by colour: the page is the same in grey."""
    image = pypdfium2.PdfDocument(io.BytesIO(chart_pdf(night_ferry())))[0].render(scale=1.0).to_pil().convert("RGB")
    red, green, blue = image.split()
    assert red.tobytes() == green.tobytes() == blue.tobytes()
