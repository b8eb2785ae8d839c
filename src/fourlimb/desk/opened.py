"""One lesson lying open on the desk: what it is now, and changes to it, one after the other.

The folder is the truth. The desk remembers the states (`folder.state_of`) that it has shown and in which a bar's
number means the same as now; a change is made only to a lesson that the teacher has seen so. What the command line
does meanwhile is never written over: the change is refused, its words are kept, and the lesson is shown anew.
Corrections that wait are built one upon the other in memory, and their files are made and written once for all.
"""

import threading
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, Final, NamedTuple, TypeVar

from fourlimb import lesson as room
from fourlimb.lesson import corrections, workshop
from fourlimb.lesson.folder import state_of, state_once_written
from fourlimb.model import CorrectionError, Grid, Lesson, LessonError, Progress

from .kept import CLOSED, keep, kept
from .work import MoreWaitsError, Work

CHANGED: Final = (
    "the lesson is not as it was when this was said: it was changed outside the desk, or its bars are counted "
    "otherwise now; look at it again, then say it again"
)

TRIES: Final = 10
TRY_S: Final = 0.05
"""How often, and how long after, a lesson is read again (ours: a change is put in place within milliseconds)."""

T = TypeVar("T")


class ChangedError(LessonError):
    """The lesson is not the one that the teacher has seen."""


class Coming(NamedTuple):
    """A lesson that is built and not yet written, its state, and what lies in the folder until then."""

    base: str
    before: Lesson
    state: str
    lesson: Lesson


class Opened:
    """A lesson's folder at the desk. Its methods may be called from any thread."""

    def __init__(self, folder: Path, work: Work) -> None:
        from fourlimb.arrange import Memory

        self.folder = folder
        self._work = work
        self._memory = Memory()
        self._lock = threading.Lock()
        self._state = ""
        self._lesson: Lesson | None = None
        self._coming: Coming | None = None
        self._fits: set[str] = set()

    def recall(self) -> None:
        """Bring back what an earlier desk could not do."""
        left = kept(self.folder)
        closed = sum(why == CLOSED for _, why in left)  # it may have ended between doing and noting
        corrected = self.now()[1].corrections
        known = {item.what for item in corrected[len(corrected) - min(closed, len(corrected)) :]}
        undone = {words for words, _ in self._work.undone("correct", str(self.folder))}
        for words, why in left:
            if words in undone or (why == CLOSED and words in known):
                continue
            self._work.remember("correct", words, why, about=str(self.folder))
        self.note()

    def note(self) -> None:
        """Write down what is not done."""
        keep(self.folder, self._work.undone("correct", str(self.folder)))

    def state(self) -> str:
        """A word that changes with the lesson: as soon as a correction is built, that of the corrected lesson."""
        state = state_of(self.folder)
        coming = self._coming
        return coming.state if coming is not None and coming.base == state else state

    def now(self) -> tuple[str, Lesson]:
        """The lesson, as soon as it is built, and its state. Raises LessonError when it cannot be read."""
        state, lesson = self._on_disk()
        coming = self._coming
        return (coming.state, coming.lesson) if coming is not None and coming.base == state else (state, lesson)

    def _on_disk(self) -> tuple[str, Lesson]:
        with self._lock:
            state = state_of(self.folder)
            if self._lesson is None or state != self._state:
                found = patiently(room.read_lesson, self.folder)
                state = state_of(self.folder)
                self._state, self._lesson = state, found
            if state not in self._fits and self._coming is None:  # made by nobody here
                self._fits = {state}
            return state, self._lesson

    def read_words(self, words: str) -> None:
        """Raises CorrectionError, one line, when a correction is not understood as the lesson is now."""
        corrections.read(words, self.now()[1].grid)

    def correct(self, since: str, words: str) -> int:
        """Asks for a correction of the lesson as it was seen in the state `since`; returns the job's number.

        Raises CorrectionError when it is not understood, ChangedError when the lesson is another by now.
        """
        self._must_fit(since)
        self.read_words(words)
        return self._ask_correction(since, "correct", " ".join(words.split()), text=words)

    def switch(self, since: str, n: int, *, undo: bool) -> int:
        """Asks for correction `n` to be taken back, or to be applied again. Raises as `correct`."""
        self._must_fit(since)
        found = next((item for item in self.now()[1].corrections if item.n == n), None)
        if found is None or (found.state == "undone") == undo:
            raise CorrectionError(f"there is no correction {n} to be {'taken back' if undo else 'applied again'}")
        kind = "undo" if undo else "redo"
        return self._ask_correction(since, kind, found.what, **{kind: n})

    def print_as(self, since: str, choices: dict[str, Any]) -> int:
        """Asks for other choices of print, key or kit (see `lesson.rebuild`). Raises as `correct`."""

        def do(progress: Progress) -> str:
            seen, before = self._on_disk()
            self._must_fit(since)
            room.rebuild(self.folder, since=seen, progress=progress, **choices)
            self._goes_on(before, patiently(room.read_lesson, self.folder), state_of(self.folder))
            return "it is printed so from now on"

        self._must_fit(since)
        return self._work.ask("print", "print it another way", do, about=str(self.folder))

    def _ask_correction(self, since: str, kind: str, words: str, **wish: Any) -> int:
        act = partial(self._apply, since, wish)
        return self._work.ask(kind, words, act, about=str(self.folder), then=self._put_in)

    def _apply(self, since: str, wish: dict[str, Any], progress: Progress) -> str:
        """Builds upon the lesson that the teacher has seen, and upon no other: it can be looked at from now on."""
        base, before = self._on_disk()
        self._must_fit(since)
        coming = self._coming
        if coming is not None and coming.base != base:
            raise ChangedError(CHANGED)
        last = coming.lesson if coming is not None else before
        heard = patiently(room.read_heard, self.folder)
        lesson, said = workshop.corrected(last, heard, **wish, progress=progress, memory=self._memory)
        state = state_once_written(lesson)
        self._goes_on(last, lesson, state)
        self._coming = Coming(base, before, state, lesson)
        return said

    def _put_in(self, progress: Progress) -> None:
        """Makes the files of the lesson that is built and puts them into the folder; without them it is forgotten."""
        coming = self._coming
        if coming is None:
            return
        try:
            workshop.put_in(self.folder, coming.before, coming.lesson, since=coming.base, progress=progress)
        except MoreWaitsError:
            raise
        except BaseException:
            self._coming = None
            raise
        self._coming = None
        self._goes_on(coming.lesson, patiently(room.read_lesson, self.folder), state_of(self.folder))

    def _goes_on(self, before: Lesson, after: Lesson, state: str) -> None:
        """What was seen before still fits, if bars' numbers mean the same."""
        with self._lock:
            kept = self._fits if bars_of(before.grid) == bars_of(after.grid) else set()
            self._fits = {*kept, state}

    def _must_fit(self, since: str) -> None:
        self.now()
        if since not in self._fits:
            raise ChangedError(CHANGED)


def patiently(read: Callable[[Path], T], folder: Path) -> T:
    """What `read` finds in a folder, though somebody may be putting a change in place at this moment."""
    for _ in range(TRIES):
        try:
            return read(folder)
        except LessonError:
            time.sleep(TRY_S)
    return read(folder)


def bars_of(grid: Grid) -> list[tuple[int, str, float]]:
    """What bars' numbers mean: meter, and where each begins."""
    return [(bar.bar, bar.meter, bar.start_s) for bar in grid.bars]
