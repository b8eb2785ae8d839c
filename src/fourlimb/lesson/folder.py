"""The lesson folder on disk: nothing is ever half-written.

A change is one transaction. Its files are written and synced under `.staging`; renaming that to `.ready` is the one
moment at which the change happens; then each file is renamed into place. A process killed before the moment leaves
the lesson as it was (the remains are swept at the next write); killed after it, the next reader finishes the moves.
The `lesson.json` that was there before stays as `lesson.previous.json`.

The disk is passed in as a `Disk`, so that tests can make it full or slow.
"""

import hashlib
import os
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import TypeVar

from fourlimb.model import InputError, Lesson, LessonError, Listening
from fourlimb.model.codec import decode, pretty
from fourlimb.model.lesson import VERSION

from .lock import locked

LESSON_NAME = "lesson.json"
HEARD_NAME = "heard.json"
PREVIOUS_NAME = "lesson.previous.json"
STAGING = ".staging"
READY = ".ready"

T = TypeVar("T")

Content = bytes | memoryview

Files = Mapping[str, Content]
"""Relative POSIX names and their contents."""


class Disk:
    """How bytes reach the disk. Tests pass one that fails on purpose."""

    def write(self, path: Path, data: Content) -> None:
        """Write and sync one new file."""
        with open(path, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())


def state_of(folder: Path) -> str:
    """A word that changes with the lesson in a folder; "" when there is none."""
    for path in (folder / READY / LESSON_NAME, folder / LESSON_NAME):
        try:
            return hashlib.sha256(path.read_bytes()).hexdigest()
        except OSError:
            continue
    return ""


def state_once_written(lesson: Lesson) -> str:
    """What `state_of` will say when this lesson is in a folder."""
    return hashlib.sha256(pretty(lesson)).hexdigest()


class ThereError(LessonError):
    """A file that was to be new is there already."""


def write(
    folder: Path, files: Files, *, since: str | None = None, new: bool = False, disk: Disk | None = None
) -> None:
    """Put `files` into the folder, all or none. Makes the folder when there is none.

    since : `state_of` the lesson that `files` were made from; where it has changed meanwhile nothing is written, so
    that nobody's change is lost. new : nothing of these names may be there; ThereError where something is.
    Raises LessonError (not writable, disk full, another process at work or first); the lesson is then as it was.
    """
    fresh = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with locked(folder):
            _finish(folder)
            if since is not None and state_of(folder) != since:
                raise LessonError(f"{folder}: another fourlimb has changed this lesson meanwhile: run this again")
            if new and (there := next((name for name in files if os.path.lexists(folder / name)), None)):
                raise ThereError(f"{folder / there} is there already: choose another name")
            try:
                _stage(folder, files, disk or Disk())
            except BaseException:
                shutil.rmtree(folder / STAGING, ignore_errors=True)
                raise
            _commit(folder)
    except OSError as error:
        raise LessonError(f"{folder}: {_reason(error)}; nothing was changed") from None
    finally:
        if fresh and folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()


def _reason(error: OSError) -> str:
    import errno

    if error.errno == errno.ENOSPC:
        return "the disk is full: free some space and run this again"
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "may not be written: check its permissions, or choose another place"
    if error.errno in (errno.ENOTDIR, errno.EEXIST):
        return "is not a folder: choose another name with -o"
    if error.errno == errno.ENAMETOOLONG:
        return "the name is too long: choose a shorter one with -o"
    return f"cannot be written ({error.strerror})"


def _stage(folder: Path, files: Files, disk: Disk) -> None:
    staging = folder / STAGING
    shutil.rmtree(staging, ignore_errors=True)
    staging.mkdir()
    made = {staging}
    for name, data in files.items():
        path = staging / name
        path.parent.mkdir(parents=True, exist_ok=True)
        made.add(path.parent)
        disk.write(path, data)
    previous = folder / LESSON_NAME
    if previous.exists() and LESSON_NAME in files:
        disk.write(staging / PREVIOUS_NAME, previous.read_bytes())
    for directory in made:
        _sync(directory)


def _commit(folder: Path) -> None:
    os.rename(folder / STAGING, folder / READY)
    _sync(folder)
    _finish(folder)


def _finish(folder: Path) -> None:
    """Move what a committed change left under `.ready` into place; sweep what an unfinished one left behind."""
    ready = folder / READY
    if ready.is_dir():
        # lesson.json goes last: as long as it is still here, a reader knows that moves are missing
        files = sorted((p for p in ready.rglob("*") if p.is_file()), key=lambda p: (p.name == LESSON_NAME, str(p)))
        for path in files:
            target = folder / path.relative_to(ready)
            if path.name == LESSON_NAME:
                _sync_all(folder)
            target.parent.mkdir(parents=True, exist_ok=True)
            os.replace(path, target)
        _sync_all(folder)
        shutil.rmtree(ready)
        _sync(folder)
    shutil.rmtree(folder / STAGING, ignore_errors=True)


def _sync_all(folder: Path) -> None:
    """Sync a folder and those in it, so that all moves so far are on the disk."""
    for directory in (*sorted(p for p in folder.iterdir() if p.is_dir() and not p.name.startswith(".")), folder):
        _sync(directory)


def _sync(directory: Path) -> None:
    """Sync a folder's own entry; Windows has no such thing."""
    if os.name == "nt":
        return
    handle = os.open(directory, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _recover(folder: Path) -> None:
    """Finish a committed change that was cut short, when the folder may be written."""
    if not (folder / READY).is_dir():
        return
    try:
        with locked(folder):
            _finish(folder)
    except OSError as error:
        raise LessonError(f"{folder}: a change is half in place and {_reason(error)}") from None


def is_lesson(folder: Path) -> bool:
    """True when the folder holds a lesson (also one whose last change has yet to be moved into place)."""
    return (folder / LESSON_NAME).is_file() or (folder / READY / LESSON_NAME).is_file()


def read_lesson(folder: Path) -> Lesson:
    """The lesson in a folder. Raises LessonError when there is none or it cannot be read."""
    raw = _read(folder, LESSON_NAME, "is not a lesson folder: make one with fourlimb lesson SONG -o FOLDER")
    lesson = _decode(raw, Lesson, folder / LESSON_NAME)
    if lesson.version > VERSION:
        raise LessonError(
            f"{folder / LESSON_NAME} was written by a newer fourlimb (version {lesson.version}, this one knows "
            f"{VERSION}): install the newer one, so that nothing is lost"
        )
    return lesson


def read_heard(folder: Path) -> Listening:
    """What was heard, before any correction. Raises LessonError when the file is missing or damaged."""
    raw = _read(folder, HEARD_NAME, f"has no {HEARD_NAME}: run fourlimb lesson SONG -o {folder} --again")
    return _decode(raw, Listening, folder / HEARD_NAME)


def _read(folder: Path, name: str, absent: str) -> bytes:
    if folder.is_file():
        raise LessonError(f"{folder} is a file, not a lesson folder: make one with fourlimb lesson SONG -o FOLDER")
    if not folder.is_dir():
        raise LessonError(f"{folder}: there is no such folder: make a lesson with fourlimb lesson SONG -o FOLDER")
    _recover(folder)
    try:
        return (folder / name).read_bytes()
    except FileNotFoundError:
        raise LessonError(f"{folder} {absent}") from None
    except OSError as error:
        raise LessonError(f"{folder / name} cannot be read ({error.strerror})") from None


def _decode(raw: bytes, kind: type[T], path: Path) -> T:
    try:
        return decode(raw, kind, where=str(path))
    except InputError as error:
        hint = f"; the version before is {PREVIOUS_NAME}" if (path.parent / PREVIOUS_NAME).exists() else ""
        raise LessonError(f"{error}{hint}") from None


def lesson_files(lesson: Lesson, heard: Listening | None = None) -> dict[str, bytes]:
    """The files that hold a lesson's truth."""
    files = {LESSON_NAME: pretty(lesson)}
    if heard is not None:
        files[HEARD_NAME] = pretty(heard)
    return files
