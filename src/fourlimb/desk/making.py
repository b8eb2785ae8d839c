"""What the desk makes of a lesson beside its charts: markings of takes, and films.

They are made by what `fourlimb mark` and `fourlimb film` call, as work that waits its turn. A take is found by
looking its name up among those that lie in the lesson.
"""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from fourlimb import lesson as room
from fourlimb.lesson.build import is_played
from fourlimb.lesson.filming import needs_for_film
from fourlimb.lesson.handed import HANDED, keep_take, take_name, takes_in
from fourlimb.lesson.takes import Marked, bars_named
from fourlimb.model import Grid, InputError, Level, Progress
from fourlimb.model.count import say_span

from .opened import Opened
from .work import Work

MOST_TAKE: Final = 1 << 27
"""Longest take that is handed over, bytes (ours: twelve minutes as a CD has them; it is held in memory meanwhile)."""
MOST_LISTED: Final = 200
"""Takes that are listed (ours)."""

Bars = tuple[int, int] | None
"""First and last bar, both included; None: as the take plays, or all."""


def making_view(folder: Path) -> dict[str, Any]:
    """The takes that lie in the lesson, what can be handed over, and why no film can be made ("" where one can)."""
    takes = [{"name": path.name, "size": _size(path)} for path in takes_in(folder)[:MOST_LISTED]]
    return {"takes": takes, "endings": sorted(HANDED), "most": MOST_TAKE, "no_film": needs_for_film()}


def hand_over(opened: Opened, work: Work, name: str, read: Callable[[], bytes]) -> int:
    """Ask for a take to be put into the lesson; returns the job's number.

    `read` gives its bytes, and is called only when it may be one. Raises InputError when it may not, or another is on
    its way: one is held in memory, not many.
    """
    safe = take_name(name)
    if work.waits("take"):
        raise InputError("another take is just being put into the lesson: wait until it is there")
    data = read()

    def put(progress: Progress) -> str:
        progress("Writing", 0.0)
        kept = keep_take(opened.folder, safe, data)
        return f"{kept} lies in the lesson: it can be marked"

    return work.ask("take", f"take {safe}", put, about=str(opened.folder))


def mark(opened: Opened, work: Work, name: str, level: Level, bars: Bars) -> int:
    """Ask for a take of the lesson to be marked; returns the job's number. Raises InputError when it cannot be."""
    take = next((path for path in takes_in(opened.folder) if path.name == name), None)
    if take is None:
        raise InputError(f'no take "{name[:80]}" lies in this lesson: hand it over first')
    asked = _said(opened.now()[1].grid, bars)

    def do(progress: Progress) -> str:
        return _told(room.mark_take(take, opened.folder, level=level, bars=asked, progress=progress))

    return work.ask("mark", f"mark {name}, {_words(level, bars)}", do, about=str(opened.folder))


def film(opened: Opened, work: Work, level: Level, bars: Bars, *, teach: bool, song: Path | None) -> int:
    """Ask for a film, with the recording `song` under the drums if given. Raises InputError when it cannot be."""
    if missing := needs_for_film():
        raise InputError(missing)
    grid = opened.now()[1].grid
    asked = _said(grid, bars)
    if asked is None and not is_played(grid):
        raise InputError("this song is too long to be filmed whole: choose bars")

    def do(progress: Progress) -> str:
        said = room.filmed(opened.folder, level=level, teach=teach, bars=asked, song=song, progress=progress)
        return f"{said.splitlines()[0].removeprefix(f'{opened.folder}{os.sep}')}; it is under Finished"

    how = "taught" if teach else "played through"
    under = ", with the recording" if song else ""
    return work.ask("film", f"film, {_words(level, bars)}, {how}{under}", do, about=str(opened.folder))


def _said(grid: Grid, bars: Bars) -> str | None:
    """Bars as the command line is given them. Raises InputError when they are not in the song."""
    if bars is None:
        return None
    said = f"{bars[0]}" if bars[0] == bars[1] else f"{bars[0]}-{bars[1]}"
    bars_named(said, grid)
    return said


def _words(level: Level, bars: Bars) -> str:
    return f"{level}, {say_span(*bars)}" if bars else level


def _told(marked: Marked) -> str:
    facts, summary = marked.marking.take, marked.marking.summary
    span = say_span(facts.from_bar, facts.to_bar)
    lines = [f"{marked.take.name}: {span} of {facts.level}, {100 * summary.score:.0f} of 100", *summary.say]
    if marked.better is not None:
        lines.append(
            f"It fits the {marked.better} chart much better: was that played? Then mark it with {marked.better}."
        )
    return "\n".join([*lines, "Its marking is under Finished."])


def _size(path: Path) -> str:
    try:
        size = path.stat().st_size
    except OSError:
        return ""
    return f"{size / 1e6:.1f} MB" if size >= 1e5 else f"{size / 1e3:.1f} kB"
