"""Long work at the desk: one thing after the other in a thread of its own, so that the screen stays usable.

What is asked for waits its turn. What could not be done stays in the list with its words and the reason until the
teacher puts it away: no decision is lost. Whoever shows the work asks for news, and is answered when there are some.
"""

import threading
import time
import traceback
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

from fourlimb.model import FourlimbError, Progress

Act = Callable[[Progress], str]
"""Does the work and says what was done; raises FourlimbError, one line, when it cannot be."""

LOOKS_S: Final = 0.5
"""How often whoever waits for news looks at what changes by itself (ours)."""
KEPT: Final = 6
"""Answers kept of what was done (ours: what a teacher may want to read again); what could not be done is all kept."""


@dataclass
class Job:
    """One thing asked for. `words`: as the teacher said it; `kind`: what it is, for the screen."""

    n: int
    kind: str
    words: str
    act: Act = field(repr=False)

    def plain(self) -> dict[str, Any]:
        """For the screen."""
        return {"n": self.n, "kind": self.kind, "words": self.words}


class Work:
    """Jobs in order, their progress and their answers. All methods may be called from any thread."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._waiting: deque[Job] = deque()
        self._doing: Job | None = None
        self._answers: list[dict[str, Any]] = []
        self._stage, self._share = "", 0.0
        self._seen = 0
        self._last = 0
        self._thread: threading.Thread | None = None

    def ask(self, kind: str, words: str, act: Act) -> int:
        """Put something at the end of the line; returns its number."""
        with self._changed:
            self._last += 1
            self._waiting.append(Job(self._last, kind, words, act))
            self._tell()
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="desk work", daemon=True)
                self._thread.start()
            return self._last

    def put_away(self, n: int) -> bool:
        """Take what has not begun out of the line, or an answer out of the list; False when it is in neither."""
        with self._changed:
            waiting = [job for job in self._waiting if job.n != n]
            answers = [answer for answer in self._answers if answer["n"] != n]
            found = len(waiting) < len(self._waiting) or len(answers) < len(self._answers)
            self._waiting, self._answers = deque(waiting), answers
            self._tell()
            return found

    def unfinished(self) -> list[str]:
        """Words of everything that is not done yet, in order."""
        with self._changed:
            return [job.words for job in ([self._doing] if self._doing else []) + list(self._waiting)]

    def idle(self) -> bool:
        """Whether nothing is being done and nothing waits."""
        with self._changed:
            return self._doing is None and not self._waiting

    def news(self, seen: int, wait_s: float, state: Callable[[], str], known: str) -> dict[str, Any]:
        """How things are, once it is no longer number `seen` or `state()` not `known`, at the latest in `wait_s`."""
        until = time.monotonic() + wait_s
        while True:
            now = state()
            with self._changed:
                if self._seen != seen or now != known or time.monotonic() >= until:
                    return self._plain() | {"state": now}
                self._changed.wait(min(LOOKS_S, max(until - time.monotonic(), 0.01)))

    def _plain(self) -> dict[str, Any]:
        doing = self._doing.plain() | {"stage": self._stage, "share": round(self._share, 3)} if self._doing else None
        waiting = [job.plain() for job in self._waiting]
        return {"seen": self._seen, "doing": doing, "waiting": waiting, "answers": list(self._answers)}

    def _tell(self) -> None:
        self._seen += 1
        self._changed.notify_all()

    def _progress(self, stage: str, share: float) -> None:
        with self._changed:
            told = (stage, round(share, 2))
            if told != (self._stage, round(self._share, 2)):
                self._stage, self._share = stage, share
                self._tell()

    def _run(self) -> None:
        while True:
            with self._changed:
                while not self._waiting:
                    self._changed.wait()
                job = self._doing = self._waiting.popleft()
                self._stage, self._share = "", 0.0
                self._tell()
            done, said = _answer(job, self._progress)
            with self._changed:
                self._doing = None
                self._answers = _kept([*self._answers, job.plain() | {"done": done, "said": said}])
                self._tell()


def _kept(answers: list[dict[str, Any]]) -> list[dict[str, Any]]:
    done = [answer["n"] for answer in answers if answer["done"]]
    return [answer for answer in answers if answer["n"] not in done[:-KEPT]]


def _answer(job: Job, progress: Progress) -> tuple[bool, str]:
    try:
        return True, job.act(progress)
    except FourlimbError as error:
        return False, " ".join(str(error).split())
    except Exception as error:  # a defect of ours must not end the desk, nor swallow the teacher's words
        traceback.print_exc()
        return False, f"the program failed ({type(error).__name__}); nothing was changed: please report this"
