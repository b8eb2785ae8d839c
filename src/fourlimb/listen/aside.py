"""What C libraries print to the terminal, taken aside.

libsndfile's MP3 decoder writes its notes on broken files straight to the error stream, past Python. Here that stream
leads into a file of our own for as long as a library works, so that the terminal shows our sentence and no other. The
stream belongs to the whole process: what another thread prints meanwhile is taken aside too.
"""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

ERRORS = 2
"""The error stream's number."""

_one_at_a_time = Lock()


class Aside:
    """What was printed so far, as text."""

    def __init__(self) -> None:
        self.text = ""

    @contextmanager
    def taken(self) -> Iterator[None]:
        """Nothing reaches the error stream inside."""
        with _one_at_a_time, tempfile.TemporaryFile() as file:
            try:
                kept = os.dup(ERRORS)
            except OSError:  # a program without a terminal has none
                yield
                return
            try:
                os.dup2(file.fileno(), ERRORS)
                yield
            finally:
                os.dup2(kept, ERRORS)
                os.close(kept)
                file.seek(0)
                self.text += file.read().decode("utf-8", "replace")
