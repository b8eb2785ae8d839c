"""The teacher's choices for print: kept in the lesson, followed by every document, refused when they cannot be."""

import io
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec
import pypdfium2
import pytest
from click.testing import CliRunner

from fourlimb import engrave, lesson
from fourlimb.cli import main
from fourlimb.lesson.build import build, sheets
from fourlimb.lesson.printing import layout_of
from fourlimb.lesson.products import documents, names, practice_sheet
from fourlimb.model import InputError, Printing

PRINTED = {name for name in names() if name.endswith(".pdf")}


def run(*words: object, code: int = 0) -> str:
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == code, result.output
    return result.output


def size(pdf: bytes) -> tuple[int, int]:
    width, height = pypdfium2.PdfDocument(io.BytesIO(pdf))[0].get_size()
    return round(width), round(height)


def text(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return " ".join("".join(page.get_textpage().get_text_bounded() for page in document).split())


@pytest.fixture
def folder(short_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(short_folder, tmp_path / "night-ferry.lesson"))


def test_choices_are_kept_and_a_correction_prints_the_same_way(folder: Path) -> None:
    run("chart", folder, "--paper", "letter", "--landscape", "--rights", "Words: A. Nobody", "-q")
    kept = lesson.read_lesson(folder).printing
    assert (kept.paper, kept.landscape, kept.rights) == ("letter", True, ("Words: A. Nobody",))
    run("correct", folder, "bar 6: silent", "-q")
    for name in PRINTED:
        pdf = (folder / name).read_bytes()
        assert size(pdf) == (792, 612), name
        assert "Words: A. Nobody" in text(pdf), name
    run("chart", folder, "--portrait", "-q")
    assert size((folder / "charts/full.pdf").read_bytes()) == (612, 792)


def test_a_print_for_one_student_leaves_the_lesson_as_it_is(folder: Path, tmp_path: Path) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    run("chart", folder, "-o", tmp_path / "large", "--large", "200", "--count", "--hands", "-q")
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    made = {path.name: path.read_bytes() for path in (tmp_path / "large").iterdir()}
    assert set(made) == {Path(name).name for name in PRINTED}
    pages = len(pypdfium2.PdfDocument(made["full.pdf"]))
    assert pages > len(pypdfium2.PdfDocument(before[folder / "charts/full.pdf"]))


@pytest.mark.parametrize(
    ("option", "field", "value"),
    [
        (("--count",), "show_count", True),
        (("--hands",), "show_sticking", True),
        (("--no-cues",), "show_cues", False),
        (("--no-check-me",), "doubts", False),
        (("--difficulty",), "difficulty", True),
        (("--no-legend",), "show_legend", False),
        (("--no-repeat-signs",), "simile", "never"),
        (("--passages", "written out"), "repeats", "written out"),
        (("--voices", "one"), "voices", "one"),
        (("--bars", "2"), "bars_per_line", 2),
        (("--large", "150"), "scale", 1.5),
    ],
)
def test_every_switch_reaches_the_page(
    option: tuple[str, ...], field: str, value: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: dict[str, Any] = {}

    def noted(_: Path, __: Path, **choices: Any) -> None:
        seen.update({name: choice for name, choice in choices.items() if name in Printing.__struct_fields__})

    monkeypatch.setattr(lesson, "print_to", noted)
    run("chart", "any.lesson", "-o", "anywhere", *option, "-q")
    given = {name: choice for name, choice in seen.items() if choice is not None}
    assert len(given) == 1
    assert getattr(layout_of(Printing(**given)), field) == value
    assert getattr(layout_of(Printing()), field) != value


def test_a_counting_tradition_and_a_key_are_followed(folder: Path, tmp_path: Path) -> None:
    run("chart", folder, "-o", tmp_path / "other", "--count", "--counting", "takadimi", "--key", "middle line", "-q")
    full = (tmp_path / "other" / "full.pdf").read_bytes()
    assert "di" in text(full).split()
    assert full != (folder / "charts/full.pdf").read_bytes()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--key", "no such key"), "no key"),
        (("--counting", "no such counting"), "not known"),
        (("--week", "400"), "no week 400"),
    ],
)
def test_a_choice_that_cannot_be_is_refused_in_one_line_and_changes_nothing(
    folder: Path, words: tuple[str, ...], said: str
) -> None:
    before = (folder / "lesson.json").read_bytes()
    output = run("chart", folder, *words, "-q", code=1)
    assert said in output
    assert len(output.splitlines()) == 1
    assert (folder / "lesson.json").read_bytes() == before


def test_a_size_that_cannot_be_printed_is_refused() -> None:
    with pytest.raises(InputError):
        layout_of(Printing(size=900))


def test_every_document_is_tagged_titled_and_carries_its_fonts(demo_folder: Path) -> None:
    made = documents(lesson.read_lesson(demo_folder))
    assert set(made) == PRINTED
    for name, pdf in made.items():
        assert pdf == (demo_folder / name).read_bytes(), name
        assert b"pdfuaid" in pdf, name
        assert b"/StructTreeRoot" in pdf, name
        document = pypdfium2.PdfDocument(pdf)
        assert document.get_metadata_value("Title") == "Night Ferry", name
        assert document.get_metadata_value("Author") == "fourlimb", name
        assert pdf.count(b"/FontDescriptor") >= 1, name
        assert pdf.count(b"/FontFile") >= pdf.count(b"/Type /FontDescriptor"), name


def test_every_figure_is_practised_up_to_the_tempo_it_is_played_at(short_folder: Path) -> None:
    heard = lesson.read_heard(short_folder)
    bars = tuple(
        msgspec.structs.replace(b, tempo_bpm=b.tempo_bpm * (0.75 if b.bar > 6 else 1)) for b in heard.grid.bars
    )
    made = sheets(build(msgspec.structs.replace(heard, grid=msgspec.structs.replace(heard.grid, bars=bars))))["full"]
    wanted: dict[str, tuple[Sequence[int], int]] = {}

    def given(*_: object, ladders: dict[str, tuple[Sequence[int], int]], **__: object) -> bytes:
        wanted.update(ladders)
        return b""

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engrave, "practice_pdf", given)
        practice_sheet(made, engrave.Layout(), (), 1)
    for figure in made.plan.figures:
        rungs, goal = wanted[figure.name]
        assert goal == (132 if min(figure.bars) <= 6 else 99)
        assert rungs[-2] == goal < rungs[-1]


def test_the_practice_sheet_and_the_teachers_book_say_what_they_are_for(demo_folder: Path) -> None:
    practice = text((demo_folder / "charts/practice.pdf").read_bytes())
    tempi = sorted(bar.tempo_bpm for bar in lesson.read_lesson(demo_folder).grid.bars)
    goal = f"{tempi[len(tempi) // 2]:.0f}"
    for words in ("Week 1", goal, "Warm up slowly", "Pain, numbness or tingling means stop"):
        assert words in practice
    book = text((demo_folder / "charts/teacher.pdf").read_bytes())
    for words in (
        "Worth checking first",
        "Figures",
        "Running order",
        "The song in phrases",
        "What was changed, and why",
    ):
        assert words in book
