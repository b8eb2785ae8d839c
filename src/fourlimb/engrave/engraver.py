"""The music engraver in a process of its own, so that its crash can never be ours.

Verovio is C++: a glyph that its font lacks, or a fault nobody has met yet, ends the process it runs in. So it runs in
a child that is started once, kept warm for the next drawing, and started again when it dies. A line that kills it
twice is reported by its number (`EngraverDiedError`), and whoever asked says which bars that is. Where no child can
be started (no interpreter to run, processes forbidden) the engraver runs in this process, as it would anyway.

The child runs one file of ours by path, with this process's import path: no main module is imported again, so it is
the same on Linux, macOS and Windows. A forked copy of this process starts a child of its own.
"""

import atexit
import json
import os
import subprocess
import sys
import threading
from collections.abc import Generator, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from fourlimb.model import FourlimbError

Document = tuple[str, Mapping[str, object]]
"""MEI text and the options that are its own."""

CHILD: Final = Path(__file__).with_name("engraver_child.py")

START_S: Final = 30.0
"""Longest that loading the engraver may take, seconds (0.1 measured)."""

BATCH_S: Final = 60.0
"""Longest that a batch of lines may take, seconds, and `LINE_S` more a line (a line takes 2 ms)."""

LINE_S: Final = 2.0


class EngraverDiedError(FourlimbError):
    """The engraver ended while it drew document number `index` of a batch, twice."""

    def __init__(self, index: int) -> None:
        super().__init__("the engraver stopped while it drew a line: please report the chart")
        self.index = index


def svgs(documents: Sequence[Document], options: Mapping[str, object]) -> Generator[str, None, None]:
    """The SVG of each document, in order. Raises EngraverDiedError at the one that the engraver cannot survive."""
    with _engraver.lock:
        done, failed = 0, -1
        while done < len(documents):
            child = _engraver.child()
            if child is None:
                yield from _here(documents[done:], options)
                return
            try:
                for answer in _answers(child, documents[done:], options):
                    done += 1
                    yield answer
            finally:
                if done < len(documents):  # dead, or left before its end: what it may still say is for nobody
                    _engraver.end()
            if done < len(documents):
                if failed == done:
                    raise EngraverDiedError(done)
                failed = done


def _here(documents: Sequence[Document], options: Mapping[str, object]) -> Iterator[str]:
    """The same without a child."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(dict(options))
    for text, own in documents:
        toolkit.setOptions(dict(own))
        toolkit.loadData(text)
        yield str(toolkit.renderToSVG(1))


def _answers(
    child: "subprocess.Popen[bytes]", documents: Sequence[Document], options: Mapping[str, object]
) -> Iterator[str]:
    """The answers to one request; ends early when the child does."""
    request = json.dumps({"options": dict(options), "documents": [(text, dict(own)) for text, own in documents]})
    timer = threading.Timer(BATCH_S + LINE_S * len(documents), child.kill)
    timer.daemon = True
    timer.start()
    try:
        if not _ask(child, request.encode()):
            return
        for _ in documents:
            answer = _answer(child)
            if answer is None:
                return
            if answer[:1] == b"E":
                raise FourlimbError("the engraver refused a line: please report the chart")
            yield answer[1:].decode()
    finally:
        timer.cancel()


def _ask(child: "subprocess.Popen[bytes]", body: bytes) -> bool:
    assert child.stdin is not None
    try:
        child.stdin.write(len(body).to_bytes(4, "big") + body)
        child.stdin.flush()
    except OSError:
        return False
    return True


def _answer(child: "subprocess.Popen[bytes]") -> bytes | None:
    assert child.stdout is not None
    try:
        head = child.stdout.read(4)
        length = int.from_bytes(head, "big")
        body = child.stdout.read(length) if len(head) == 4 else b""
    except (OSError, ValueError):
        return None
    return body if body and len(body) == length else None


class _Engraver:
    """The one child of this process."""

    def __init__(self) -> None:
        self.lock = threading.RLock()
        self._child: subprocess.Popen[bytes] | None = None
        self._owner = 0
        self._impossible = False

    def child(self) -> "subprocess.Popen[bytes] | None":
        """The running child, started when there is none; None where none can be."""
        if self._owner != os.getpid():  # a forked copy must not speak to its parent's child
            self._child, self._owner = None, os.getpid()
        if self._child is not None and self._child.poll() is not None:
            self.end()
        if self._child is None and not self._impossible:
            self._child = _start()
            self._impossible = self._child is None
        return self._child

    def end(self) -> None:
        """End the child, if it is ours."""
        child, self._child = self._child, None
        if child is None or self._owner != os.getpid():
            return
        child.kill()
        for pipe in (child.stdin, child.stdout):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:  # what was still to be written to a dead child
                    continue
        child.wait()


def _start() -> "subprocess.Popen[bytes] | None":
    if not sys.executable or getattr(sys, "frozen", False) or not CHILD.exists():
        return None
    paths = os.pathsep.join(path for path in sys.path if path)
    how: dict[str, Any] = {"creationflags": 0x08000000} if os.name == "nt" else {"start_new_session": True}
    try:
        child = subprocess.Popen(
            [sys.executable, "-P", str(CHILD)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": paths},
            **how,
        )
    except (OSError, ValueError):
        return None
    timer = threading.Timer(START_S, child.kill)
    timer.daemon = True
    timer.start()
    ready = _answer(child) == b"S"
    timer.cancel()
    if not ready:
        child.kill()
        child.communicate()
        return None
    return child


_engraver: Final = _Engraver()
atexit.register(_engraver.end)
