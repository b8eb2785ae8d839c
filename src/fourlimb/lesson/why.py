"""Why a place is written as it is: the chain from sounds heard to strokes written."""

import re
from fractions import Fraction

from fourlimb.model import CorrectionError, Lesson, Level
from fourlimb.model.count import read_place, say_place
from fourlimb.model.sounds import SAY

_PLACE = re.compile(r"^bar\s+(?P<bar>\d+)(?:\s+(?:beat|on)\s+(?P<place>\S+))?$", re.I)


def why(lesson: Lesson, place: str, *, level: Level = "full") -> str:
    """Everything heard and written at "bar 41 beat 1" (or in "bar 41"), and each reason.

    Raises CorrectionError when the place does not exist.
    """
    found = _PLACE.match(" ".join(place.split()))
    if not found:
        raise CorrectionError(f'"{place}" is not a place: write it like bar 41 beat 1, or bar 41 on 2&')
    bar = int(found["bar"])
    if not lesson.grid.has(bar):
        raise CorrectionError(f"there is no bar {bar}: the song has bars 1 to {lesson.grid.numbers[-1]}")
    meter = lesson.grid.meter(bar)
    wanted = read_place(meter, found["place"]) if found["place"] else None
    places = sorted(
        {h.position for h in lesson.hits if h.bar == bar and h.position is not None}
        | {s.position for s in lesson.charts[level].by_bar.get(bar, ())}
    )
    chosen = [p for p in places if wanted is None or p == wanted]
    if not chosen:
        where = f"bar {bar} on {say_place(meter, wanted)}" if wanted is not None else f"bar {bar}"
        return f"{where}: nothing was heard and nothing is written"
    return "\n".join(_at(lesson, level, bar, position, meter) for position in chosen)


def _at(lesson: Lesson, level: Level, bar: int, position: Fraction, meter: str) -> str:
    lines = [f"bar {bar} on {say_place(meter, position)}"]
    hits = [h for h in lesson.hits if h.bar == bar and h.position == position]
    for hit in hits:
        how = "written by the teacher" if hit.by == "teacher" else f"heard, confidence {hit.confidence:.2f}"
        layer = f", {hit.layer}" if hit.layer and hit.layer != "kit" else ""
        lines.append(f"  {SAY[hit.sound]} at {hit.time_s:.2f} s ({how}{layer})")
    for stroke in lesson.charts[level].by_bar.get(bar, ()):
        if stroke.position == position:
            lines.append(f"  -> {SAY[stroke.piece]}, {stroke.limb}")
    for reason in lesson.reasons:
        mine = reason.bar == bar and reason.position == position
        if mine and (not reason.levels or level in reason.levels):
            lines.append(f"  {SAY[reason.sound]} {reason.what}: {reason.why}")
    return "\n".join(lines)
