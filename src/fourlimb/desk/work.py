"""Long work at the desk: one thing after the other in a thread of its own, so that the screen stays usable.

What is asked for waits its turn. What could not be done stays in the list with its words and the reason until the
teacher puts it away: no decision is lost. Things that follow one another and need the same at their end (corrections:
the lesson's files) are applied each in its turn, and get that once. Whoever shows the work asks for news, and is
answered when there are some.
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

Then = Callable[[Progress], None]
"""What is done once for all that was applied in a row; raises FourlimbError, one line, when it cannot be."""

LOOKS_S: Final = 0.5
"""How often whoever waits for news looks at what changes by itself (ours)."""
KEPT: Final = 6
"""Answers kept of what was done (ours: what a teacher may want to read again); what could not be done is all kept."""
HALF: Final = 0.5
"""Of what is made at the end; with less done, it is begun anew when more is asked for that needs it too: what is lost
is less than what is saved."""
MOST_TOGETHER: Final = 8
"""Things applied before what they need is made, though more wait (ours: a killed desk has so many to say again)."""

FILES: Final = "files"
"""The kind of work that is done at the end of several things."""
STOPS: Final = frozenset({"film", "mark", "make"})
"""Kinds of work that can be stopped while they are done: they take minutes, and change nothing until they end."""


class MoreWaitsError(Exception):
    """What is being made for several things would have to be made again for another that waits."""


class StoppedError(Exception):
    """The teacher does not want it any more."""


@dataclass
class Job:
    """One thing asked for. `words`: as the teacher said it; `kind`: what it is, `about`: of which lesson.

    `then`: what follows once for all those in a row that have the same.
    """

    n: int
    kind: str
    words: str
    about: str
    act: Act = field(repr=False)
    then: Then | None = field(default=None, repr=False)

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
        self._stopped = False
        self._applied: list[tuple[Job, str]] = []
        self._answers: list[dict[str, Any]] = []
        self._stage, self._share = "", 0.0
        self._seen = 0
        self._last = 0
        self._thread: threading.Thread | None = None

    def ask(self, kind: str, words: str, act: Act, *, about: str = "", then: Then | None = None) -> int:
        """Put something at the end of the line; returns its number.

        With `then` it is done once that is done, for all of a row together; when that fails, none of them is.
        """
        with self._changed:
            number = self._number()
            self._waiting.append(Job(number, kind, words, about, act, then))
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

    def waits(self, kind: str) -> bool:
        """Whether something of a kind is being done or waits."""
        with self._changed:
            return any(job.kind == kind for job in self._open())

    def put_away(self, n: int) -> bool:
        """Take what has not begun out of the line, or an answer out of the list; stop what can be stopped.

        False where there is nothing of this number, or it is being done and cannot be stopped.
        """
        with self._changed:
            if self._doing is not None and self._doing.n == n and self._doing.kind in STOPS:
                self._stopped = True
                return True
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
            return not self._open()

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
        busy = self._doing or (_files(self._applied) if self._applied else None)
        doing = busy and busy.plain() | {"stage": self._stage, "share": round(self._share, 3), "stops": self._stops()}
        applied = [job.plain() | {"said": said} for job, said in self._applied]
        waiting = [job.plain() for job in self._waiting]
        answers = [answer for answer in self._answers if answer["about"] in ("", about)]
        return {"seen": self._seen, "doing": doing, "applied": applied, "waiting": waiting, "answers": answers}

    def _open(self) -> list[Job]:
        """Everything that is not done: applied, being done, waiting."""
        doing = [self._doing] if self._doing and self._doing.kind != FILES else []
        return [*(job for job, _ in self._applied), *doing, *self._waiting]

    def _stops(self) -> bool:
        return self._doing is not None and self._doing.kind in STOPS and not self._stopped

    def _joins(self) -> bool:
        """Whether what waits next ends as that which was applied."""
        first = self._applied[0][0].then
        return bool(self._waiting) and self._waiting[0].then == first and len(self._applied) < MOST_TOGETHER

    def _number(self) -> int:
        self._last += 1
        return self._last

    def _tell(self) -> None:
        self._seen += 1
        self._changed.notify_all()

    def _progress(self, stage: str, share: float) -> None:
        with self._changed:
            if self._stopped:
                raise StoppedError
            told = (stage, round(share, 2))
            if told != (self._stage, round(self._share, 2)):
                self._stage, self._share = stage, share
                self._tell()

    def _progress_unless_more(self, stage: str, share: float) -> None:
        with self._changed:
            if share < HALF and self._joins():
                raise MoreWaitsError
        self._progress(stage, share)

    def _run(self) -> None:
        while True:
            job = self._next()
            if job is None:
                self._end_together()
                continue
            done, said = _answer(job.act, self._progress)
            with self._changed:
                if done and job.then is not None:
                    self._applied.append((job, said))
                    self._doing = None
                    self._tell()
                    continue
                self._answered([(job, said)], done=done)
            self._note()

    def _next(self) -> Job | None:
        """What is to be done next; None when it is what all that was applied needs."""
        with self._changed:
            while not self._waiting and not self._applied:
                self._changed.wait()
            if self._applied and not self._joins():
                return None
            return self._begin(self._waiting.popleft())

    def _begin(self, job: Job) -> Job:
        self._doing, self._stopped = job, False
        self._stage, self._share = "", 0.0
        self._tell()
        return job

    def _end_together(self) -> None:
        """Once for all that was applied, unless more comes that needs it too; then that is applied first."""
        with self._changed:
            end = self._begin(_files(self._applied)).then
        assert end is not None, "only what has an end is applied"
        try:
            done, why = _answer(lambda progress: _end(end, progress), self._progress_unless_more)
        except MoreWaitsError:
            with self._changed:
                self._doing = None
            return
        with self._changed:
            applied, self._applied = self._applied, []
            self._answered([(job, said if done else why) for job, said in applied], done=done)
        self._note()

    def _answered(self, said: list[tuple[Job, str]], *, done: bool) -> None:
        self._doing = None
        fresh = (job.plain() | {"done": done, "said": line} for job, line in said)
        self._answers = _kept(sorted([*self._answers, *fresh], key=lambda answer: int(answer["n"])))
        self._tell()


def _files(applied: list[tuple[Job, str]]) -> Job:
    """The work that follows what was applied, as the screen shows it."""
    first = applied[0][0]
    return Job(0, FILES, "", first.about, lambda progress: "", first.then)


def _end(then: Then, progress: Progress) -> str:
    then(progress)
    return ""


def _kept(answers: list[dict[str, Any]]) -> list[dict[str, Any]]:
    done = [answer["n"] for answer in answers if answer["done"]]
    return [answer for answer in answers if answer["n"] not in done[:-KEPT]]


def _answer(act: Act, progress: Progress) -> tuple[bool, str]:
    try:
        return True, act(progress)
    except MoreWaitsError:
        raise
    except StoppedError:
        return True, "stopped: nothing was made"
    except FourlimbError as error:
        return False, " ".join(str(error).split())
    except Exception as error:  # a defect of ours must not end the desk, nor swallow the teacher's words
        traceback.print_exc()
        return False, f"the program failed ({type(error).__name__}); nothing was changed: please report this"
