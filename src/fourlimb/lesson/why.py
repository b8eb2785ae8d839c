"""Why a place is written as it is: the chain from sounds heard to strokes written."""

import re

from fourlimb.model import CorrectionError, Lesson
from fourlimb.model.count import read_place, say_span, speak_at

from .corrections import no_such_bar

_PLACE = re.compile(
    r"^(?:bar\s+(?P<bar>\d+)|(?:the\s+)?pickup)(?:\s*,?\s*(?:on\s+beat|beat|on)\s+(?P<place>\S+))?$", re.I
)


def why(lesson: Lesson, place: str) -> str:
    """Everything heard and written at "bar 41 beat 1" (or in "bar 41"), level by level, and each reason.

    Raises CorrectionError when the place does not exist.
    """
    from fourlimb import arrange

    found = _PLACE.match(" ".join(place.split()))
    if not found:
        raise CorrectionError(f'"{place}" is not a place: write it like bar 41 beat 1, or bar 41 on 2&')
    bar = int(found["bar"] or 0)
    if not lesson.grid.has(bar):
        raise CorrectionError(no_such_bar(bar, lesson.grid))
    meter, skipped = lesson.grid.meter(bar), lesson.grid.skipped(bar)
    wanted = read_place(meter, found["place"], skipped) if found["place"] else None
    known = {hit.position for hit in lesson.hits if hit.bar == bar and hit.position is not None}
    known |= {stroke.position for chart in lesson.charts.values() for stroke in chart.by_bar.get(bar, ())}
    chosen = sorted(position for position in known if wanted in (None, position))
    if not chosen:
        where = say_span(bar, bar) if wanted is None else speak_at(lesson.grid, bar, wanted)
        return f"{where}: nothing was heard and nothing is written"
    told = (
        arrange.why(lesson.hits, lesson.charts, lesson.reasons, bar, at, meter=meter, skipped=skipped)
        for at in chosen
    )
    return "\n\n".join("\n".join(lines) for lines in told)
