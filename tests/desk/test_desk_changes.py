"""What is said at the desk is what is said at the command line; and nobody's word is lost."""

import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from asking import Asker, killed_at_work, served
from click.testing import CliRunner

from fourlimb import lesson as room
from fourlimb.cli import main
from fourlimb.desk import Desk, kept
from fourlimb.desk.opened import CHANGED, ChangedError, Opened
from fourlimb.desk.work import Work
from fourlimb.lesson import workshop
from fourlimb.lesson.folder import READY, state_of
from fourlimb.lesson.lock import locked
from fourlimb.model import CorrectionError, LessonError


def typed(folder: Path, *arguments: str) -> None:
    done = CliRunner().invoke(main, ["correct", str(folder), *arguments, "-q"])
    assert done.exit_code == 0, done.output


def test_a_correction_at_the_desk_gives_the_lesson_of_the_command_line_byte_for_byte(
    folder: Path, asker: Asker, tmp_path: Path
) -> None:
    other = Path(shutil.copytree(folder, tmp_path / "typed.lesson"))
    said = ["bar 3: kick 1 2& 3", "bones bars 5-6: as full"]
    for words in said:
        assert asker.post("/api/correct", since=asker.state, words=words)[0] == 202
        asker.until_done()
        typed(other, words)
    assert asker.post("/api/undo", since=asker.state, n=1)[0] == 202
    answers = asker.until_done()
    typed(other, "--undo", "1")
    for name in ("lesson.json", "cues.md", "sound/full.mp3", "charts/full.pdf", "page/index.html"):
        assert (folder / name).read_bytes() == (other / name).read_bytes(), name
    assert answers[-1]["said"] == "correction 1 undone: bar 3: kick 1 2& 3"


@pytest.mark.usefixtures("quick")
def test_printing_choices_at_the_desk_are_those_of_the_command_line(
    folder: Path, asker: Asker, tmp_path: Path
) -> None:
    other = Path(shutil.copytree(folder, tmp_path / "typed.lesson"))
    choices = {
        "paper": "letter",
        "size": 150,
        "count": True,
        "rights": ["Words: a writer"],
        "kit_words": "double pedal",
    }
    assert asker.post("/api/print", since=asker.state, choices=choices)[0] == 202
    assert asker.until_done()[-1]["done"]
    asked = ["--paper", "letter", "--large", "150", "--count", "--rights", "Words: a writer", "--kit", "double pedal"]
    assert CliRunner().invoke(main, ["chart", str(other), *asked, "-q"]).exit_code == 0
    assert (folder / "lesson.json").read_bytes() == (other / "lesson.json").read_bytes()


@pytest.mark.parametrize(
    "choices", [{}, {"paper": "a3"}, {"size": True}, {"bars": 99}, {"key": "/etc/own.toml"}, {"disk": 1}, [], None]
)
def test_choices_that_cannot_be_are_refused_before_anything_is_done(reader: Asker, choices: object) -> None:
    status, said = reader.post("/api/print", since=reader.state, choices=choices)
    assert status == 400
    assert "choose" in said["error"]


def test_words_are_read_before_they_are_said(reader: Asker) -> None:
    assert reader.get("/api/read?words=bar%201:%20kick%201")["understood"]
    wrong = reader.get("/api/read?words=bar%201:%20kik%201")
    assert not wrong["understood"]
    assert "did you mean" in wrong["say"]
    status, said = reader.post("/api/correct", since=reader.state, words="bar 1: kik 1")
    assert (status, "did you mean" in said["error"]) == (400, True)
    assert reader.news()["answers"] == []


@pytest.mark.usefixtures("quick")
def test_a_change_made_meanwhile_at_the_command_line_is_never_written_over(folder: Path, asker: Asker) -> None:
    seen = asker.state
    typed(folder, "bar 2: no kick")
    status, said = asker.post("/api/correct", since=seen, words="bar 3: no kick")
    assert (status, said["error"]) == (409, CHANGED)
    assert asker.post("/api/correct", since=asker.state, words="bar 3: no kick")[0] == 202
    asker.until_done()
    assert [item.what for item in room.read_lesson(folder).corrections] == ["bar 2: no kick", "bar 3: no kick"]


def test_a_change_made_while_the_desk_rebuilds_is_never_written_over(
    folder: Path, asker: Asker, monkeypatch: pytest.MonkeyPatch
) -> None:
    def meanwhile(*_: object, **__: object) -> dict[str, bytes]:
        monkeypatch.setattr(workshop, "outputs", lambda *_, **__: {})
        typed(folder, "bar 2: no kick")
        return {}

    monkeypatch.setattr(workshop, "outputs", meanwhile)
    asker.post("/api/correct", since=asker.state, words="bar 3: no kick")
    answer = asker.until_done()[-1]
    assert not answer["done"]
    assert answer["words"] == "bar 3: no kick"
    assert "changed this lesson meanwhile" in answer["said"]
    assert [item.what for item in room.read_lesson(folder).corrections] == ["bar 2: no kick"]


@pytest.mark.usefixtures("quick")
def test_what_waits_is_done_in_order_unless_the_bars_are_counted_otherwise_by_then(
    folder: Path, asker: Asker
) -> None:
    seen = asker.state
    for words in ("bar 3: no kick", "bar 4: no kick", "tempo /2", "bar 5: no kick"):
        assert asker.post("/api/correct", since=seen, words=words)[0] == 202
    done = [(answer["words"], answer["done"]) for answer in asker.until_done(120)]
    assert done == [("bar 3: no kick", True), ("bar 4: no kick", True), ("tempo /2", True), ("bar 5: no kick", False)]
    assert len(room.read_lesson(folder).corrections) == 3


@pytest.mark.usefixtures("quick")
def test_a_rebuild_that_fails_keeps_the_words_with_the_reason(
    folder: Path, asker: Asker, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise LessonError(f"{folder}: the disk is full: free some space and run this again; nothing was changed")

    before = state_of(folder)
    monkeypatch.setattr(workshop, "write", full)
    asker.post("/api/correct", since=asker.state, words="bar 3: no kick")
    answer = asker.until_done()[-1]
    assert (answer["words"], answer["done"]) == ("bar 3: no kick", False)
    assert "the disk is full" in answer["said"]
    assert state_of(folder) == before
    assert asker.post("/api/put-away", n=answer["n"]) == (200, {"away": True})
    assert asker.news()["answers"] == []


@pytest.mark.usefixtures("quick")
def test_a_correction_is_shown_as_soon_as_it_is_built_and_taken_away_again_if_it_cannot_be_kept(
    folder: Path, asker: Asker, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_on = threading.Event()

    def slow(*_: object, **__: object) -> dict[str, bytes]:
        go_on.wait(30)
        return {}

    monkeypatch.setattr(workshop, "outputs", slow)
    before = asker.state
    asker.post("/api/correct", since=before, words="bar 3: kick 1 4a")
    shown = until_shown(asker, before)
    assert [item["what"] for item in shown["corrections"]] == ["bar 3: kick 1 4a"]
    assert [typed for typed, _, _ in asker.get("/api/chart?level=full")["places"]["3"]["kick"]] == ["1", "4a"]
    assert room.read_lesson(folder).corrections == ()  # nothing is written yet
    assert asker.post("/api/correct", since=before, words="bar 4: no kick")[0] == 202  # seen before: fits still
    assert asker.post("/api/correct", since=shown["state"], words="bar 5: no kick")[0] == 202
    go_on.set()
    assert [answer["done"] for answer in asker.until_done()] == [True, True, True]
    go_on.clear()
    known = asker.state
    monkeypatch.setattr(workshop, "write", lambda *_, **__: 1 / 0)
    asker.post("/api/correct", since=known, words="tempo /2")
    shown = until_shown(asker, known)
    assert asker.post("/api/correct", since=known, words="bar 6: no kick")[0] == 409  # bars are counted otherwise
    go_on.set()
    assert not asker.until_done()[-1]["done"]
    assert asker.state == known
    assert len(asker.get("/api/lesson")["corrections"]) == 3


def until_shown(asker: Asker, known: str) -> dict[str, Any]:
    """The lesson once it is another than the one that is known."""
    for _ in range(400):
        if asker.state != known:
            return dict(asker.get("/api/lesson"))
        time.sleep(0.05)
    raise AssertionError("the lesson stays as it was")


@pytest.mark.filterwarnings("error")
def test_a_defect_of_ours_is_told_and_the_desk_goes_on(
    folder: Path, asker: Asker, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(workshop, "build", lambda *_, **__: 1 / 0)
    asker.post("/api/correct", since=asker.state, words="bar 3: no kick")
    answer = asker.until_done()[-1]
    assert (answer["words"], answer["done"]) == ("bar 3: no kick", False)
    assert "ZeroDivisionError" in answer["said"]
    assert "ZeroDivisionError" in capsys.readouterr().err
    monkeypatch.undo()
    monkeypatch.setattr(workshop, "outputs", lambda *_, **__: {})
    asker.post("/api/correct", since=asker.state, words="bar 3: no kick")
    assert asker.until_done()[-1]["done"]


@pytest.mark.usefixtures("quick")
def test_a_correction_that_no_longer_fits_is_shown_with_its_reason(folder: Path, asker: Asker) -> None:
    typed(folder, "tempo /2")
    typed(folder, "--undo", "1")
    typed(folder, "bar 12: no kick")
    assert asker.post("/api/redo", since=asker.state, n=1)[0] == 202
    said = asker.until_done()[-1]["said"]
    first, second = asker.get("/api/lesson")["corrections"]
    assert (first["state"], second["state"], second["what"]) == ("applied", "unfit", "bar 12: no kick")
    assert second["why"]
    assert f"correction 2 no longer fits: {second['why']}" in said


def test_the_desk_can_be_asked_at_the_very_moment_of_a_change(folder: Path, asker: Asker) -> None:
    with locked(folder):  # another process is moving its files into place
        (folder / READY).mkdir()
        later = threading.Timer(0.15, (folder / READY).rmdir)
        later.start()
        assert asker.get("/api/lesson")["title"] == "Night Ferry"
        later.join()


def test_only_what_can_be_taken_back_is_asked_for(folder: Path) -> None:
    opened = Opened(folder, Work())
    with pytest.raises(CorrectionError, match="no correction 1 to be taken back"):
        opened.switch(opened.state(), 1, undo=True)
    with pytest.raises(ChangedError):
        opened.correct("another state", "bar 1: kick 1")


@pytest.mark.usefixtures("quick")
def test_the_screen_is_told_when_the_lesson_changes_outside(folder: Path, asker: Asker) -> None:
    seen = asker.state
    news = asker.get(f"/api/news?seen=0&state={seen}x")
    assert news["state"] == seen
    typed(folder, "title Another")
    assert asker.get(f"/api/news?seen={news['seen']}&state={seen}")["state"] != seen
    assert asker.get("/api/lesson")["title"] == "Another"


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signal")
def test_a_desk_that_is_killed_in_the_middle_of_a_change_leaves_a_lesson_that_opens(folder: Path) -> None:
    script = (
        "opened.correct(opened.state(), words[0])\n"
        "while desk.work.news(0, 0, opened.state, '')['doing'] is None: time.sleep(0.01)\n"
    )
    killed_at_work(folder, script, "bar 3: no kick", after_s=0.4)
    done = [item.what for item in room.read_lesson(folder).corrections]
    assert done in ([], ["bar 3: no kick"])
    with served(Desk(folder)) as server:
        asker = Asker(server)
        left = [answer["words"] for answer in asker.news()["answers"]]
        assert done + left == ["bar 3: no kick"]  # it is in the lesson, or it is shown as not done
        asker.post("/api/correct", since=asker.state, words="bar 4: no kick")
        assert asker.until_done()[-1]["done"]
    assert [item.what for item in room.read_lesson(folder).corrections][-1] == "bar 4: no kick"


@pytest.mark.usefixtures("quick")
def test_what_is_not_done_is_kept_until_it_is_done_or_put_away(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise LessonError("the disk is full: free some space and run this again")

    light = workshop.outputs
    monkeypatch.setattr(workshop, "outputs", full)
    with served(Desk(folder)) as server:
        asker = Asker(server)
        asker.post("/api/correct", since=asker.state, words="bar 3: no kick")
        asker.post("/api/correct", since=asker.state, words="bar 4: no kick")
        asker.until_done()
    monkeypatch.setattr(workshop, "outputs", light)
    with served(Desk(folder)) as server:
        asker = Asker(server)
        first, second = asker.news()["answers"]
        assert (first["words"], second["words"]) == ("bar 3: no kick", "bar 4: no kick")
        assert "the disk is full" in first["said"]
        assert asker.post("/api/put-away", n=second["n"])[1] == {"away": True}
        asker.post("/api/put-away", n=first["n"])
        asker.post("/api/correct", since=asker.state, words=first["words"])
        asker.until_done()
    assert not (folder / kept.NAME).exists()
    with served(Desk(folder)) as server:
        assert Asker(server).news()["answers"] == []


@pytest.mark.parametrize("damaged", [b"", b"{", b"[]", b'{"not_done": 3}', b'{"not_done": [{"words": 1}]}', b"\xff"])
def test_a_damaged_note_of_what_is_not_done_keeps_nobody_out(folder: Path, damaged: bytes) -> None:
    (folder / kept.NAME).write_bytes(damaged)
    with served(Desk(folder)) as server:
        assert Asker(server).news()["answers"] == []


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signal")
def test_ctrl_c_closes_the_desk_and_says_so(folder: Path) -> None:
    command = [sys.executable, "-m", "fourlimb", "desk", str(folder), "--no-open"]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert child.stdout is not None
    first = child.stdout.readline()
    assert first.startswith("The desk is open at http://127.0.0.1:")
    child.send_signal(signal.SIGINT)
    rest, error = child.stdout.read(), child.communicate(timeout=10)[1]
    assert (child.returncode, rest.splitlines()[-1], error) == (0, "The desk is closed.", "")


def test_news_wait_for_something_new(folder: Path) -> None:
    work = Work()
    started = time.monotonic()
    first = work.news(0, 0.2, lambda: "a", "a")
    assert 0.15 < time.monotonic() - started < 2
    assert first == {"seen": 0, "doing": None, "applied": [], "waiting": [], "answers": [], "state": "a"}
    work.ask("correct", "words", lambda progress: "done")
    while work.news(work.news(0, 0, lambda: "a", "a")["seen"], 0.05, lambda: "a", "a")["doing"]:
        pass
    assert json.dumps(work.news(0, 0, lambda: "a", "a")["answers"]).count('"done": true') == 1
