"""The engraver in a process of its own: its crash is a message, never ours."""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import pytest
from builder import GROOVE, night_ferry, sheet

from fourlimb.engrave import drawn, engraver, heads, svg_pages
from fourlimb.engrave.drawn import OPTIONS
from fourlimb.model import FourlimbError, InputError, Sheet

DEADLY = "#xE0BE"
"""noteheadTriangleUpBlack: not in the engraver's font; asking for it ends the process (verovio 6.4)."""

COWBELL = "cowbell every beat; kick 1 3"


@pytest.fixture
def deadly_cowbell(monkeypatch: pytest.MonkeyPatch) -> Sheet:
    monkeypatch.setitem(heads.SHAPE, "triangle", DEADLY)
    return sheet([GROOVE, GROOVE, COWBELL, GROOVE], sections=[("A", 1, 4)])


def test_a_bar_that_ends_the_engraver_is_named_and_the_next_drawing_works(deadly_cowbell: Sheet) -> None:
    with pytest.raises(InputError, match=r"^bar 3 cannot be drawn: [^\n]*$"):
        svg_pages(deadly_cowbell)
    assert "bar4" in svg_pages(sheet([GROOVE] * 4))[0]


@pytest.fixture(autouse=True)
def nothing_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drawn, "MOST_REMEMBERED", 0)
    monkeypatch.setattr(drawn, "_remembered", drawn._Remembered())


def test_a_child_killed_from_outside_is_started_again_unseen() -> None:
    first = svg_pages(night_ferry())
    child = engraver._engraver.child()
    assert child is not None
    child.kill()
    child.wait()
    assert svg_pages(night_ferry()) == first


def test_a_child_that_dies_in_the_middle_of_a_batch_is_asked_again_for_the_rest() -> None:
    mei = _documents(6)
    whole = list(engraver.svgs(mei, OPTIONS))
    found = []
    for svg in engraver.svgs(mei, OPTIONS):
        found.append(svg)
        if len(found) == 1:
            child = engraver._engraver.child()
            assert child is not None
            child.kill()
    assert list(map(_shape, found)) == list(map(_shape, whole))


def test_one_child_serves_many_drawings() -> None:
    svg_pages(night_ferry())
    first = engraver._engraver.child()
    svg_pages(sheet([GROOVE]))
    assert engraver._engraver.child() is first


def test_without_a_child_the_same_pages_are_drawn_in_this_process(monkeypatch: pytest.MonkeyPatch) -> None:
    apart = svg_pages(night_ferry())
    monkeypatch.setattr(engraver, "_engraver", engraver._Engraver())
    monkeypatch.setattr(sys, "executable", str(Path(sys.executable).parent / "no-such-python"))
    assert engraver._engraver.child() is None
    assert svg_pages(night_ferry()) == apart


def test_threads_take_turns() -> None:
    expected = svg_pages(night_ferry())
    found: list[tuple[str, ...]] = []
    threads = [threading.Thread(target=lambda: found.append(svg_pages(night_ferry()))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [expected] * 4


def test_an_answer_left_half_read_does_not_reach_the_next_asker() -> None:
    documents = _documents(4)
    whole = list(engraver.svgs(documents, OPTIONS))
    answers = engraver.svgs(documents, OPTIONS)
    next(answers)
    answers.close()
    again = list(engraver.svgs(documents[2:], OPTIONS))
    assert list(map(_shape, again)) == list(map(_shape, whole[2:]))


def test_no_engraver_outlives_its_owner() -> None:
    code = (
        "from fourlimb.engrave import engraver;"
        "print(engraver._engraver.child().pid, flush=True);"
        "import os; os._exit(1)"
    )
    made = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    child = int(made.stdout)
    if os.name == "nt":
        return
    for _ in range(200):
        try:
            os.kill(child, 0)
        except ProcessLookupError:
            return
        threading.Event().wait(0.05)
    os.kill(child, signal.SIGKILL)
    raise AssertionError("the engraver's process was left behind")


def _shape(svg: str) -> int:
    """Notes of an SVG: each document here has one more than the one before."""
    return svg.count('class="note"')


def _documents(count: int) -> list[tuple[str, dict[str, object]]]:
    note = '<note xml:id="n{0}" pname="c" oct="5" dur="4"/>'
    head = (
        '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.1"><music><body><mdiv><score><scoreDef>'
        '<staffGrp><staffDef n="1" lines="5" clef.shape="perc" clef.line="3"/></staffGrp></scoreDef><section>'
        '<measure n="1"><staff n="1"><layer n="1">'
    )
    tail = "</layer></staff></measure></section></score></mdiv></body></music></mei>"
    return [(head + note.format(n) * (n + 1) + tail, {}) for n in range(count)]


def test_a_page_drawn_again_after_one_bar_has_changed_engraves_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drawn, "MOST_REMEMBERED", 64)
    bars = [GROOVE, "hat every 8th; kick 1 2& 3; snare 2 4"] * 8
    made = svg_pages(sheet(bars))
    asked: list[int] = []
    honest = drawn.svgs

    def counting(documents: Sequence[engraver.Document], options: Mapping[str, object]) -> Iterator[str]:
        asked.append(len(documents))
        return honest(documents, options)

    monkeypatch.setattr(drawn, "svgs", counting)
    assert svg_pages(sheet(bars)) == made
    assert svg_pages(sheet([*bars[:9], COWBELL, *bars[10:]])) != made
    assert asked == [0, 1]


def test_errors_of_the_engraver_are_of_the_house() -> None:
    assert issubclass(engraver.EngraverDiedError, FourlimbError)
