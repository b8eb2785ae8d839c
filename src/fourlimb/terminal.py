"""The terminal of the command line: progress, results, and what Ctrl-C does. Imports nothing heavy."""

import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

if TYPE_CHECKING:
    from fourlimb.model import Progress

CLEAN: Final = "\r\x1b[K"
"""To a terminal: back to the line's beginning, and wipe it."""
STOPPED: Final = "fourlimb: stopped; nothing was half-written"
GRACE_S: Final = 1.0
"""After Ctrl-C, how long work may take to lay down its tools (judgement)."""


class Screen:
    """Progress on standard error: one line that is rewritten on a terminal, one line a stage elsewhere."""

    def __init__(self) -> None:
        self.stage = ""
        self.live = sys.stderr.isatty()

    def __call__(self, stage: str, share: float) -> None:
        """Show where the work is; `share` is 0 to 1."""
        stage = stage[:1].upper() + stage[1:]
        if self.live:
            done = int(24 * min(max(share, 0.0), 1.0))
            click.echo(f"{CLEAN}{'█' * done}{'░' * (24 - done)}  {stage}", nl=False, err=True)
        elif stage != self.stage:
            click.echo(f"{stage} ...", err=True)
        self.stage = stage

    def close(self) -> None:
        """Leave the terminal's line clean."""
        if self.live and self.stage:
            click.echo(CLEAN, nl=False, err=True)


@contextmanager
def told(quiet: bool) -> "Iterator[Progress]":
    """The progress for a command; always leaves a clean line."""
    if quiet:
        yield lambda stage, share: None
        return
    screen = Screen()
    try:
        yield screen
    finally:
        screen.close()


@contextmanager
def stoppable() -> Iterator[None]:
    """Ctrl-C ends the command within `GRACE_S`, whatever it is doing.

    A thread that plays sound, or a library that calls back into Python, would keep or swallow the interrupt; since a
    change to a lesson is one transaction, the process may simply end.
    """
    said = False

    def leave() -> None:
        if not said:
            with suppress(OSError, ValueError):
                os.write(2, f"{CLEAN if sys.stderr.isatty() else ''}{STOPPED}\n".encode())
        os._exit(130)

    def stop(*_: object) -> None:
        timer = threading.Timer(GRACE_S, leave)
        timer.daemon = True
        timer.start()
        waiting.append(timer)
        raise KeyboardInterrupt

    waiting: list[threading.Timer] = []
    if threading.current_thread() is not threading.main_thread():  # only there may a signal be caught
        yield
        return
    before = signal.signal(signal.SIGINT, stop)
    try:
        yield
        for timer in waiting:
            timer.cancel()
    except KeyboardInterrupt:
        said = True  # by who catches it; threads that go on may still keep the process
        raise
    finally:
        signal.signal(signal.SIGINT, before)


def reachable(path: Path, *, makes: bool = True) -> None:
    """Asks before minutes of work whether its result can be written: a file, or a folder that is made (`makes`).

    Raises InputError where it surely cannot.
    """
    from fourlimb.model import InputError

    if is_device(path):
        return
    place = path.absolute().parent
    while makes and not place.exists():
        place = place.parent
    if not place.is_dir() or not os.access(path if path.is_dir() else place, os.W_OK):
        why = "may not be written" if place.is_dir() else "is no folder" if place.exists() else "is not there"
        raise InputError(f"{path} cannot be written ({place} {why}): choose another place with -o")


def is_device(path: Path) -> bool:
    """Whether a path names no file that could be replaced but a device or a pipe, like /dev/stdout."""
    return path.exists() and not path.is_file() and not path.is_dir()


def pour(result: bytes, device: Path) -> None:
    """A result into a device or pipe, which stays what it is. Raises InputError when it does not get there."""
    from fourlimb.model import InputError

    try:
        with open(device, "wb") as out:
            out.write(result)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise InputError(f"{device} cannot be written ({error.strerror}): choose another place with -o") from None


def put(result: str | bytes) -> None:
    """A result on standard output, all of it. Raises InputError when it does not get there.

    Who reads only its beginning and closes the pipe is no error of ours: BrokenPipeError is let through.
    """
    from fourlimb.model import InputError

    if sys.stdout is None:
        raise InputError("there is no standard output to write to: leave it open, or name a file")
    try:
        if isinstance(result, bytes):
            sys.stdout.buffer.write(result)
        else:
            click.echo(result)
        sys.stdout.flush()
    except OSError as error:
        with suppress(OSError, ValueError):  # what is left must not be tried again when the program ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(error, BrokenPipeError):
            raise
        raise InputError(
            f"the result cannot be written ({error.strerror}): free some space or choose a file"
        ) from None
