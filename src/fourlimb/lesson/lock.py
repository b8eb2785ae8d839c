"""One writer at a time in a lesson folder; the lock goes with the process, however it ends."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from fourlimb.model import LessonError

LOCK_NAME = ".lock"


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the folder. Raises LessonError at once when another process holds it."""
    handle = _held(folder)
    try:
        yield
    finally:
        # The name goes while the lock is held: who opened it before finds it gone and opens the next one.
        with suppress(OSError):
            (folder / LOCK_NAME).unlink()
        os.close(handle)
        if sys.platform == "win32":  # where an open file keeps its name
            with suppress(OSError):
                (folder / LOCK_NAME).unlink()


def _held(folder: Path) -> int:
    while True:
        handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            _take(handle)
        except OSError:
            os.close(handle)
            raise LessonError(
                f"{folder}: another fourlimb is working on this lesson: wait until it is done, then run this again"
            ) from None
        if _has_name(handle, folder / LOCK_NAME):
            return handle
        os.close(handle)


def _has_name(handle: int, path: Path) -> bool:
    """Whether the file that is held is still the one of this name."""
    try:
        return os.path.samestat(os.fstat(handle), path.stat())
    except FileNotFoundError:
        return False


def _take(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
