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
    """One thing asked for. `words`: as the teacher said it; `kind`: what it is, `about`: of which lesson."""

    n: int
    kind: str
    words: str
    about: str
    act: Act = field(repr=False)

    def plain(self) -> dict[str, Any]:
        """For the screen."""
        return {"n": self.n, "kind": self.kind, "words": self.words, "about": self.about}


class Work:
    """Jobs in order, their progress and their answers. All methods may be called from any thread.

    `note` is called whenever something is asked for, done, or could not be done.
    """

    def __init__(self, note: Callable[[], None] = lambda: None) -> None:
        self._note = note
        self._changed = threading.Condition()
        self._waiting: deque[Job] = deque()
        self._doing: Job | None = None
        self._answers: list[dict[str, Any]] = []
        self._stage, self._share = "", 0.0
        self._seen = 0
        self._last = 0
        self._thread: threading.Thread | None = None

    def ask(self, kind: str, words: str, act: Act, *, about: str = "") -> int:
        """Put something at the end of the line; returns its number."""
        with self._changed:
            number = self._number()
            self._waiting.append(Job(number, kind, words, about, act))
            self._tell()
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="desk work", daemon=True)
                self._thread.start()
        self._note()
        return number

    def remember(self, kind: str, words: str, why: str, *, about: str) -> None:
        """Something that was asked for earlier and could not be done."""
        with self._changed:
            job = Job(self._number(), kind, words, about, lambda progress: "")
            self._answers.append(job.plain() | {"done": False, "said": why})
            self._tell()

    def undone(self, kind: str, about: str) -> list[tuple[str, str]]:
        """What was asked for and is not done: words, and why not ("" while it waits)."""
        with self._changed:
            jobs = [job for job in self._open() if (job.kind, job.about) == (kind, about)]
            refused = [item for item in self._answers if not item["done"] and item["about"] == about]
            answers = [(item["words"], item["said"]) for item in refused if item["kind"] == kind]
            return answers + [(job.words, "") for job in jobs]

    def put_away(self, n: int) -> bool:
        """Take what has not begun out of the line, or an answer out of the list; False when it is in neither."""
        with self._changed:
            waiting = [job for job in self._waiting if job.n != n]
            answers = [answer for answer in self._answers if answer["n"] != n]
            found = len(waiting) < len(self._waiting) or len(answers) < len(self._answers)
            self._waiting, self._answers = deque(waiting), answers
            self._tell()
        self._note()
        return found

    def unfinished(self) -> list[str]:
        """Words of everything that is not done yet, in order."""
        with self._changed:
            return [job.words for job in self._open()]

    def idle(self) -> bool:
        """Whether nothing is being done and nothing waits."""
        with self._changed:
            return self._doing is None and not self._waiting

    def news(
        self, seen: int, wait_s: float, state: Callable[[], str], known: str, *, about: str = ""
    ) -> dict[str, Any]:
        """How things are, once it is no longer number `seen` or `state()` not `known`, at the latest in `wait_s`."""
        until = time.monotonic() + wait_s
        while True:
            now = state()
            with self._changed:
                if self._seen != seen or now != known or time.monotonic() >= until:
                    return self._plain(about) | {"state": now}
                self._changed.wait(min(LOOKS_S, max(until - time.monotonic(), 0.01)))

    def _plain(self, about: str) -> dict[str, Any]:
        doing = self._doing.plain() | {"stage": self._stage, "share": round(self._share, 3)} if self._doing else None
        waiting = [job.plain() for job in self._waiting]
        answers = [answer for answer in self._answers if answer["about"] in ("", about)]
        return {"seen": self._seen, "doing": doing, "waiting": waiting, "answers": answers}

    def _open(self) -> list[Job]:
        return [*([self._doing] if self._doing else []), *self._waiting]

    def _number(self) -> int:
        self._last += 1
        return self._last

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
            self._note()


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
