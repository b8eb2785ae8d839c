"""Corrections that wait: each is applied in its turn, and their files are made once."""

import os
import shutil
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from asking import Asker, killed_at_work, served

from fourlimb import lesson as room
from fourlimb.desk import Desk, kept
from fourlimb.desk.work import MOST_TOGETHER, MoreWaitsError, Work
from fourlimb.lesson import products, workshop
from fourlimb.lesson.folder import state_of
from fourlimb.model import LessonError, Progress

SAID = ["bar 3: kick 1 2& 3", "bar 4: no kick", "bar 5: snare 2 4"]


class Files:
    """Stands in for what makes a lesson's files: counts, and goes on when it is let."""

    def __init__(self) -> None:
        self.begun = threading.Semaphore(0)
        self.go_on = threading.Event()
        self.times = 0
        self.made = 0

    def __call__(self, *_: object, progress: Progress, **__: object) -> dict[str, bytes]:
        self.times += 1
        progress("Engraving", 0.1)
        self.begun.release()
        while not self.go_on.wait(0.01):
            progress("Engraving", 0.2)
        self.made += 1
        return {}


@pytest.fixture
def files(monkeypatch: pytest.MonkeyPatch) -> Files:
    found = Files()
    monkeypatch.setattr(workshop, "outputs", found)
    return found


def until(true: Any, limit_s: float = 30.0) -> None:
    end = time.monotonic() + limit_s
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


def whats(folder: Path) -> list[str]:
    return [item.what for item in room.read_lesson(folder).corrections]


def test_corrections_made_together_give_the_lesson_that_they_give_one_by_one(
    folder: Path, asker: Asker, tmp_path: Path
) -> None:
    other = Path(shutil.copytree(folder, tmp_path / "typed.lesson"))
    seen = asker.state
    for words in SAID:
        assert asker.post("/api/correct", since=seen, words=words)[0] == 202
    answers = asker.until_done()
    assert [answer["words"] for answer in answers if answer["done"]] == SAID
    assert [answer["said"] for answer in answers] == [room.correct(other, words) for words in SAID]
    for path in other.rglob("*"):
        name = path.relative_to(other)
        if path.is_file() and name.name != "lesson.previous.json":  # of several made at once, the one before all
            assert (folder / name).read_bytes() == path.read_bytes(), name


def test_files_are_made_once_for_all_that_wait_and_what_was_begun_is_left(
    folder: Path, asker: Asker, files: Files
) -> None:
    before = asker.state
    asker.post("/api/correct", since=before, words=SAID[0])
    files.begun.acquire(timeout=30)
    assert whats(folder) == []  # nothing is written yet
    news = asker.news()
    assert (news["doing"]["kind"], [one["said"] for one in news["applied"]]) == (
        "files",
        [f"correction 1: {SAID[0]}"],
    )
    for words in SAID[1:]:
        assert asker.post("/api/correct", since=before, words=words)[0] == 202
    until(lambda: len(asker.news()["applied"]) == 3)
    shown = asker.get("/api/lesson")
    assert [item["what"] for item in shown["corrections"]] == SAID  # and all can be looked at
    assert [typed for typed, _, _ in asker.get("/api/chart?level=full")["places"]["5"]["snare"]] == ["2", "4"]
    files.go_on.set()
    assert [answer["done"] for answer in asker.until_done()] == [True] * 3
    assert files.made == 1
    assert whats(folder) == SAID
    assert asker.state == shown["state"] == state_of(folder)


def test_one_that_does_not_fit_keeps_its_own_reason_and_the_others_are_done(
    folder: Path, asker: Asker, files: Files
) -> None:
    seen = asker.state
    asker.post("/api/correct", since=seen, words=SAID[0])
    files.begun.acquire(timeout=30)
    lesson = room.read_lesson(folder)
    bar = lesson.grid.numbers[-1]
    for words in ("tempo /2", f"bar {bar}: no kick", "title Morning"):
        asker.post("/api/correct", since=seen, words=words)
    files.go_on.set()
    answers = {answer["words"]: answer for answer in asker.until_done()}
    assert {words: answer["done"] for words, answer in answers.items()} == {
        SAID[0]: True, "tempo /2": True, f"bar {bar}: no kick": False, "title Morning": False,
    }  # fmt: skip
    assert "counted otherwise" in answers[f"bar {bar}: no kick"]["said"]
    assert whats(folder) == [SAID[0], "tempo /2"]


def test_files_that_cannot_be_made_leave_every_word_with_the_reason(
    folder: Path, asker: Asker, files: Files, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise LessonError("the disk is full: free some space and run this again")

    before = asker.state
    monkeypatch.setattr(workshop, "write", full)
    for words in SAID:
        asker.post("/api/correct", since=before, words=words)
    files.go_on.set()
    answers = asker.until_done()
    assert [(answer["words"], answer["done"]) for answer in answers] == [(words, False) for words in SAID]
    assert all("the disk is full" in answer["said"] for answer in answers)
    assert asker.state == before == state_of(folder)
    assert [words for words, _ in kept.kept(folder)] == SAID


def test_a_change_outside_while_files_are_made_is_never_written_over(
    folder: Path, asker: Asker, files: Files, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = asker.state
    for words in SAID[:2]:
        asker.post("/api/correct", since=before, words=words)
    until(lambda: len(asker.news()["applied"]) == 2)
    files.begun.acquire(timeout=30)
    with monkeypatch.context() as other:
        other.setattr(workshop, "outputs", lambda *_, **__: {})
        room.correct(folder, "title Another")
    asker.post("/api/correct", since=before, words=SAID[2])
    files.go_on.set()
    answers = asker.until_done()
    assert [answer["done"] for answer in answers] == [False] * len(answers)
    assert [answer["words"] for answer in answers] == SAID[: len(answers)]
    assert whats(folder) == ["title Another"]


def test_a_correction_taken_back_joins_those_that_wait(folder: Path, asker: Asker, files: Files) -> None:
    before = asker.state
    asker.post("/api/correct", since=before, words=SAID[0])
    files.begun.acquire(timeout=30)
    assert asker.post("/api/undo", since=asker.state, n=1)[0] == 202  # it is on the screen, though not written
    until(lambda: len(asker.news()["applied"]) == 2)
    files.go_on.set()
    assert all(answer["done"] for answer in asker.until_done())
    assert [item.state for item in room.read_lesson(folder).corrections] == ["undone"]
    assert files.made == 1


def test_printing_waits_until_what_was_said_before_is_in_the_lesson(folder: Path, asker: Asker, files: Files) -> None:
    before = asker.state
    asker.post("/api/correct", since=before, words=SAID[0])
    asker.post("/api/print", since=before, choices={"paper": "letter"})
    asker.post("/api/correct", since=before, words=SAID[1])
    files.go_on.set()
    assert [answer["done"] for answer in asker.until_done()] == [True] * 3
    assert whats(folder) == SAID[:2]
    assert room.read_lesson(folder).printing.paper == "letter"
    assert files.made == 3  # for the first, for the print, for the second


def test_files_are_made_at_last_however_much_is_said(folder: Path) -> None:
    made: list[int] = []
    done: list[int] = []
    work = Work()

    def then(progress: Progress) -> None:
        progress("Making", 0.0)
        made.append(len(done))

    def act(progress: Progress) -> str:
        done.append(1)
        return "done"

    for number in range(2 * MOST_TOGETHER):
        work.ask("correct", f"{number}", act, then=then)
    until(work.idle)
    assert made[-1] == 2 * MOST_TOGETHER
    assert made[0] <= MOST_TOGETHER


def test_what_is_more_than_half_made_is_made_to_its_end() -> None:
    begun, go_on = threading.Event(), threading.Event()
    made: list[int] = []
    work = Work()

    def then(progress: Progress) -> None:
        progress("Making", 0.6)
        begun.set()
        go_on.wait(10)
        progress("Making", 0.8)
        made.append(1)

    work.ask("correct", "one", lambda progress: "1", then=then)
    assert begun.wait(10)
    work.ask("correct", "two", lambda progress: "2", then=then)
    go_on.set()
    until(work.idle)
    assert made == [1, 1]


def test_files_that_are_left_do_not_wait_for_what_is_being_played(
    short_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = threading.Event(), threading.Event()
    played: list[str] = []

    def play(sheet: Any, _: object) -> dict[str, bytes]:
        begun.set()
        go_on.wait(30)
        played.append(sheet.level)
        return {}

    def progress(stage: str, share: float) -> None:
        assert begun.wait(10)
        raise MoreWaitsError

    monkeypatch.setattr(products, "sound_of", play)
    try:
        with pytest.raises(MoreWaitsError):
            products.outputs(room.read_lesson(short_folder), progress=progress)
        assert played == []
    finally:
        go_on.set()
    until(lambda: len(played) == 1)
    time.sleep(0.1)
    assert len(played) == 1  # what had not begun is not played at all


def test_what_was_to_join_and_is_put_away_does_not_keep_the_others_waiting() -> None:
    work = Work()
    made: list[int] = []
    away: list[bool] = []

    def then(progress: Progress) -> None:
        if not away:
            number = work.ask("correct", "two", lambda progress: "2", then=then)
            try:
                progress("Making", 0.0)
            except MoreWaitsError:
                away.append(work.put_away(number))
                raise
        made.append(1)

    work.ask("correct", "one", lambda progress: "1", then=then)
    until(work.idle)
    assert (away, made) == ([True], [1])


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signal")
def test_a_desk_that_is_killed_between_two_of_several_loses_no_word(folder: Path) -> None:
    script = (
        "seen = opened.state()\nfor each in words: opened.correct(seen, each)\n"
        "while len(desk.work.news(0, 0, opened.state, '')['applied']) < 2: time.sleep(0.01)\n"
    )
    killed_at_work(folder, script, *SAID)
    with served(Desk(folder)) as server:
        left = [answer["words"] for answer in Asker(server).news()["answers"]]
    assert whats(folder) + left == SAID


@pytest.mark.usefixtures("quick")
def test_words_that_were_written_just_before_a_desk_was_killed_are_not_shown_as_not_done(folder: Path) -> None:
    for words in SAID[:2]:
        room.correct(folder, words)
    kept.keep(folder, [(SAID[2], "the disk is full"), (SAID[0], ""), (SAID[1], ""), ("bar 6: no kick", "")])
    with served(Desk(folder)) as server:
        left = [(answer["words"], answer["said"]) for answer in Asker(server).news()["answers"]]
    assert left == [(SAID[2], "the disk is full"), ("bar 6: no kick", kept.CLOSED)]
