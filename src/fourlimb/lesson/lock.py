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
    handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o644)
    try:
        try:
            _take(handle)
        except OSError:
            raise LessonError(
                f"{folder}: another fourlimb is working on this lesson: wait until it is done, then run this again"
            ) from None
        yield
    finally:
        os.close(handle)
        with suppress(OSError):
            (folder / LOCK_NAME).unlink()


def _take(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
