"""Nothing in a lesson folder is ever half-written."""

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from fourlimb.lesson import folder as room
from fourlimb.lesson import lock
from fourlimb.lesson.lock import LOCK_NAME, locked
from fourlimb.model import LessonError

NOBODY = 65534
"""The user without rights (Linux and BSD)."""
OLD = {"lesson.json": b'{"old": 1}', "charts/full.pdf": b"old pdf", "cues.md": b"old"}
NEW = {"lesson.json": b'{"new": 2}', "charts/full.pdf": b"new pdf", "sound/full.mp3": b"new mp3"}


class Stop(BaseException):
    """A process that ends here."""


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    }


def test_files_are_written_and_the_version_before_stays(tmp_path: Path) -> None:
    folder = tmp_path / "a.lesson"
    room.write(folder, OLD)
    assert contents(folder) == OLD
    room.write(folder, NEW)
    assert contents(folder) == {**OLD, **NEW, "lesson.previous.json": OLD["lesson.json"]}


@pytest.mark.parametrize("call", ["rename", "replace", "fsync", "mkdir"])
def test_a_process_that_dies_at_any_step_leaves_the_old_or_the_new_lesson(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    real = getattr(os, call)
    for step in range(1, 60):
        folder = tmp_path / f"{call}-{step}.lesson"
        room.write(folder, OLD)
        count = 0

        def counted(*args: object, last: int = step, **more: object) -> object:
            nonlocal count
            count += 1
            if count == last:
                raise Stop
            return real(*args, **more)

        with monkeypatch.context() as patch:
            # a killed process sweeps nothing up behind itself
            patch.setattr(room.shutil, "rmtree", lambda *a, **k: None)
            patch.setattr(os, call, counted)
            try:
                room.write(folder, NEW)
                finished = True
            except Stop:
                finished = False
        if finished:
            assert step > 1, "the step that dies was never reached"
            return
        room._recover(folder)
        now = {name: data for name, data in contents(folder).items() if name != "lesson.previous.json"}
        assert now in (OLD, {**OLD, **NEW}), f"{call} number {step} leaves a mixture"
        room.write(folder, NEW)
        assert contents(folder)["lesson.json"] == NEW["lesson.json"]
    pytest.fail("more steps than were counted")


class FullDisk(room.Disk):
    """A disk that fills up after some files."""

    def __init__(self, files: int) -> None:
        self.left = files

    def write(self, path: Path, data: bytes) -> None:
        if self.left == 0:
            path.write_bytes(data[: len(data) // 2])
            raise OSError(errno.ENOSPC, "No space left on device")
        self.left -= 1
        super().write(path, data)


@pytest.mark.parametrize("files", [0, 1, 2])
def test_a_full_disk_is_told_in_one_line_and_changes_nothing(tmp_path: Path, files: int) -> None:
    folder = tmp_path / "a.lesson"
    room.write(folder, OLD)
    with pytest.raises(LessonError, match=r"disk is full.*nothing was changed") as caught:
        room.write(folder, NEW, disk=FullDisk(files))
    assert "\n" not in str(caught.value)
    assert contents(folder) == OLD
    assert not (folder / room.STAGING).exists()


def test_a_full_disk_leaves_no_new_folder_behind(tmp_path: Path) -> None:
    folder = tmp_path / "new.lesson"
    with pytest.raises(LessonError):
        room.write(folder, NEW, disk=FullDisk(1))
    assert not folder.exists()


def test_two_writers_do_not_meet(tmp_path: Path) -> None:
    folder = tmp_path / "a.lesson"
    room.write(folder, OLD)
    with locked(folder), pytest.raises(LessonError, match="another fourlimb"):
        room.write(folder, NEW)
    assert contents(folder) == OLD


def test_a_lock_whose_name_was_taken_away_is_no_lock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One who waited for the file of a lock that is given back holds nothing: the next one opens another file."""
    name, given_back = tmp_path / LOCK_NAME, []
    take = lock._take

    def late(handle: int) -> None:
        if not given_back:
            given_back.append(name.stat().st_ino)
            name.unlink()
        take(handle)

    monkeypatch.setattr(lock, "_take", late)
    with locked(tmp_path):
        assert name.exists()
        with pytest.raises(LessonError, match="another fourlimb"), locked(tmp_path):
            pass
        assert name.exists(), "who did not get it does not take it away"
    assert not name.exists()


def test_what_was_made_from_an_older_lesson_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "a.lesson"
    assert room.state_of(folder) == ""
    room.write(folder, OLD)
    since = room.state_of(folder)
    room.write(folder, NEW, since=since)
    with pytest.raises(LessonError, match="run this again"):
        room.write(folder, OLD, since=since)
    assert contents(folder)["lesson.json"] == NEW["lesson.json"]
    assert room.state_of(folder) != since


def test_a_file_where_the_folder_should_be_is_named(tmp_path: Path) -> None:
    (tmp_path / "a.lesson").write_text("not a folder")
    with pytest.raises(LessonError, match="not a folder"):
        room.write(tmp_path / "a.lesson", NEW)


@contextmanager
def as_nobody() -> Iterator[None]:
    """With no more rights than anyone has: the superuser may write everywhere."""
    own = os.geteuid()
    if own == 0:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(own)


@pytest.mark.skipif(os.name == "nt", reason="a folder's mode does not keep anyone from writing there on Windows")
def test_a_folder_that_may_not_be_written_is_named() -> None:
    with TemporaryDirectory() as name:
        Path(name).chmod(0o555)
        with as_nobody(), pytest.raises(LessonError, match="may not be written"):
            room.write(Path(name) / "a.lesson", NEW)


@pytest.mark.parametrize(
    ("data", "part"),
    [(b"{", "not readable as JSON"), (b"[]", "does not fit its schema"), (b'{"schema": 1}', "does not fit")],
)
def test_a_damaged_lesson_is_told_in_one_line_with_the_way_back(tmp_path: Path, data: bytes, part: str) -> None:
    folder = tmp_path / "a.lesson"
    room.write(folder, OLD)
    room.write(folder, {"lesson.json": data})
    with pytest.raises(LessonError, match=part) as caught:
        room.read_lesson(folder)
    assert "lesson.previous.json" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_no_lesson_is_told_from_a_damaged_one(tmp_path: Path) -> None:
    (tmp_path / "song.mp3").write_bytes(b"a song, not its lesson")
    with pytest.raises(LessonError, match="is a file, not a lesson folder"):
        room.read_lesson(tmp_path / "song.mp3")
    with pytest.raises(LessonError, match="no such folder"):
        room.read_lesson(tmp_path / "nowhere")
    with pytest.raises(LessonError, match="not a lesson folder"):
        room.read_lesson(tmp_path)
