"""Why a place is written as it is: the chain from what was heard to what is written, in sentences."""

from collections.abc import Iterable, Mapping
from fractions import Fraction

from fourlimb.model import LEVELS, Chart, Hit, InputError, Level, Reason, Sound, Stroke
from fourlimb.model.count import speak_place
from fourlimb.model.sounds import ORDER, SAY

from .levels import SAY_WAY


def why(
    hits: Iterable[Hit],
    charts: Mapping[Level, Chart],
    reasons: Iterable[Reason],
    bar: int,
    position: Fraction,
    *,
    meter: str = "4/4",
    skipped: int = 0,
    sound: Sound | None = None,
) -> tuple[str, ...]:
    """Sentences for one place, heard first, then written level by level, then every reason.

    `meter` is that of the bar, `skipped` the beats that it leaves out if it is a pickup. `sound` narrows it to
    one sound and what became of it. Raises InputError when the bar is in no chart.
    """
    if not any(line.bar == bar for chart in charts.values() for line in chart.bars):
        raise InputError(f"there is no bar {bar} in this song: name one of its bars")
    here = [h for h in hits if h.bar == bar and h.position == position and sound in (None, h.sound)]
    told = [r for r in reasons if r.bar == bar and r.position == position and sound in (None, r.sound, r.to)]
    place = f"{f'bar {bar}' if bar else 'the pickup'} on {speak_place(meter, position, skipped)}"
    lines = [_heard(place, here)]
    for level in (level for level in LEVELS if level in charts):
        strokes = [s for s in charts[level].by_bar.get(bar, ()) if s.position == position]
        if sound is not None:
            ids = {h.id for h in here}
            strokes = [s for s in strokes if s.piece == sound or ids & set(s.hits)]
        lines.append(_written(level, strokes))
    lines += [_told(reason) for reason in sorted(told, key=lambda r: (ORDER[r.sound], r.what, r.why))]
    return tuple(lines)


def _heard(place: str, hits: list[Hit]) -> str:
    if not hits:
        return f"{place}: nothing is heard here"
    parts = [f"{SAY[h.sound]} ({_sure(h)}{', ' + h.layer if h.layer and h.layer != 'kit' else ''})" for h in hits]
    return f"{place}: heard {', '.join(parts)}"


def _sure(hit: Hit) -> str:
    return "written by the teacher" if hit.by == "teacher" else f"{100 * hit.confidence:.0f} % sure"


def _written(level: Level, strokes: list[Stroke]) -> str:
    if not strokes:
        return f"{level}: nothing is written"
    return f"{level}: {', '.join(f'{_how(s)}{SAY[s.piece]} with the {s.limb}' for s in strokes)}"


def _how(stroke: Stroke) -> str:
    words = [word for word, true in (("ghost", stroke.ghost), ("accented", stroke.accent)) if true]
    words += [SAY_WAY[way] for way in (stroke.grace, stroke.struck) if way is not None]
    words += ["second"] if stroke.second else []
    return "".join(f"{word} " for word in words)


def _told(reason: Reason) -> str:
    to = f" to the {SAY[reason.to]}" if reason.to and reason.what == "moved" else ""
    to = f" with the {SAY[reason.to]}" if reason.to and reason.what == "merged" else to
    levels = f" ({', '.join(reason.levels)})" if len(reason.levels) < len(LEVELS) else ""
    rule = f" [{reason.rule}]" if reason.rule else ""
    return f"{SAY[reason.sound]} {reason.what}{to}{levels}: {reason.why}{rule}"
