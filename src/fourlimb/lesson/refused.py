"""What the teacher has just written and one drummer cannot play: said at once, not only where it is asked for.

In: the lesson before a correction and after it. Out: lines for the terminal, at most a few. What the teacher writes
stays in the chart though nobody can play it, but for graces, which need a free hand.
"""

from collections.abc import Iterator
from typing import Final

from fourlimb.model import LEVELS, Lesson, Level
from fourlimb.model.count import speak_at
from fourlimb.model.sounds import ORDER, SAY

MOST: Final = 4
"""Lines, so that a correction of a whole section does not fill the screen (ours)."""


def not_as_written(before: Lesson, after: Lesson) -> tuple[str, ...]:
    """Lines on strokes of the teacher's that are written otherwise, and on places nobody can play since then."""
    lines = list(dict.fromkeys([*_otherwise(before, after), *_too_much(before, after)]))
    more = [f"and {len(lines) - MOST} more: fourlimb check and fourlimb why name them"] if len(lines) > MOST else []
    return (*lines[:MOST], *more)


def _otherwise(before: Lesson, after: Lesson) -> Iterator[str]:
    """New strokes of the teacher's that the full chart changes, with the arranger's reason."""
    known = {hit.id: hit for hit in before.hits}
    new = {hit.id for hit in after.hits if hit.by == "teacher" and known.get(hit.id) != hit}
    asked = [r for r in after.reasons if "full" in r.levels and new.intersection(r.hits)]
    for reason in sorted(asked, key=lambda r: (r.bar, r.position, ORDER[r.sound])):
        place = speak_at(after.grid, reason.bar, reason.position)
        yield f"{place}, {SAY[reason.sound]}, not quite so: {reason.why}"


def _too_much(before: Lesson, after: Lesson) -> Iterator[str]:
    """What the checker finds in charts that have changed and did not find before."""
    for level in LEVELS:
        if before.charts[level].strokes == after.charts[level].strokes:
            continue
        found = _breaches(after, level)
        known = _breaches(before, level) if found else []
        said = "" if level == "full" else f" in {level}"
        yield from (f"nobody can play {line}{said}" for line in found if line not in known)


def _breaches(lesson: Lesson, level: Level) -> list[str]:
    from fourlimb import arrange

    found = arrange.check(lesson.charts[level], lesson.grid, lesson.kit)
    return [f"{speak_at(lesson.grid, one.bar, one.position)}: {one.why}" for one in found]
