"""A lesson as the screen is given it: plain data, and sentences in the words of the command line.

Everything the screen says about the lesson comes from here or from the functions that the command line uses.
"""

import re
from pathlib import Path
from typing import Any, Final

import msgspec

from fourlimb.lesson.show import facts, one_line
from fourlimb.model import LEVEL_SAYS, LEVELS, Lesson, Level, Sheet
from fourlimb.model.count import say_span
from fourlimb.model.keys import KEYS
from fourlimb.model.kit_words import kit_in_words
from fourlimb.model.sounds import SAY, SOUNDS, Sound
from fourlimb.page import music, pictures, words

from .counts import counts, key_of, struck
from .products import products

_TO_SAY: Final = re.compile(r"(?:;\s*)?to change it say: (?P<words>tempo (?:x2|/2))$")
"""The end of a note that says which correction makes it untrue (`listen.other_tempo`)."""


def lesson_view(folder: Path, lesson: Lesson, state: str) -> dict[str, Any]:
    """All that the screen shows but the pictures of the charts."""
    grid = lesson.grid
    yours = {hit.bar for hit in lesson.hits if hit.by == "teacher"}
    yours |= {stroke.bar for chart in lesson.charts.values() for stroke in chart.strokes if stroke.by == "teacher"}
    bars = [
        entry | {"key": key_of(grid, bar.bar), "at": minutes_of(bar.start_s), "start_s": round(bar.start_s, 4),
                 "end_s": round(grid.end(bar.bar), 4), "yours": bar.bar in yours}
        for entry, bar in zip(music.bars(grid), grid.bars, strict=True)
    ]  # fmt: skip
    return {
        "state": state,
        "folder": folder.resolve().name,
        "title": one_line(lesson.song.title) or "Untitled",
        "facts": facts(lesson),
        "kind": lesson.song.kind,
        "bars": bars,
        "counts": counts(grid),
        "pieces": [[SAY[sound], sound in _played(lesson)] for sound in SOUNDS],
        "sections": _sections(lesson),
        "checks": [{"bar": doubt.bar, "why": doubt.why} for doubt in lesson.doubts],
        "notes": [_note(note) for note in lesson.notes],
        "levels": [_level(lesson, level) for level in LEVELS],
        "corrections": [msgspec.to_builtins(item) for item in lesson.corrections],
        "printing": _printing(lesson),
        "products": products(folder),
    }


def _played(lesson: Lesson) -> set[Sound]:
    return {hit.sound for hit in lesson.hits}


def _sections(lesson: Lesson) -> list[dict[str, Any]]:
    return [
        {"name": one_line(part.name, 80), "from": part.from_bar, "to": part.to_bar, "like": part.like or "",
         "tacet": part.tacet}
        for part in lesson.sections
    ]  # fmt: skip


def _level(lesson: Lesson, level: Level) -> dict[str, Any]:
    chart = lesson.charts[level]
    return {"name": level, "says": LEVEL_SAYS[level], "grade": round(chart.grade, 1), "strokes": len(chart.strokes)}


def _note(note: str) -> dict[str, str]:
    """A note, and the correction that it names."""
    found = _TO_SAY.search(note)
    return {"say": note[: found.start()] if found else note, "words": found["words"] if found else ""}


def _printing(lesson: Lesson) -> dict[str, Any]:
    chosen: dict[str, Any] = msgspec.to_builtins(lesson.printing)
    chosen.pop("extra", None)
    key = next((name for name, school in KEYS.items() if dict(school) == lesson.kit.key), "")
    return chosen | {
        "rights": list(lesson.printing.rights),
        "key": key,
        "keys": list(KEYS),
        "kit": kit_in_words(lesson.kit),
    }


def chart_view(lesson: Lesson, sheet: Sheet, state: str) -> dict[str, Any]:
    """One level as the engraver draws it, what is said of each bar, and what stands where."""
    picture = pictures.engraved(sheet)
    places: dict[str, dict[str, list[Any]]] = {}
    for number in lesson.grid.numbers:
        inside = sheet.chart.by_bar.get(number, ())
        pieces = dict.fromkeys(stroke.piece for stroke in inside)
        places[str(number)] = {
            SAY[piece]: struck(lesson.grid, number, [s.position for s in inside if s.piece == piece])
            for piece in pieces
        }
    return {
        "state": state,
        "level": sheet.level,
        "svg": picture.svg,
        "unit": picture.unit,
        "lines": picture.lines,
        "boxes": picture.boxes,
        "words": words.said(sheet),
        "places": places,
    }


def bar_view(lesson: Lesson, level: Level, bar: int) -> dict[str, Any]:
    """What was heard in a bar and how sure that is, what stands there in a level's chart, and why, place by place."""
    from fourlimb import arrange

    grid, chart = lesson.grid, lesson.charts[level]
    positions = {hit.position for hit in lesson.hits if hit.bar == bar and hit.position is not None}
    positions |= {stroke.position for stroke in chart.by_bar.get(bar, ())}
    reasons = [reason for reason in lesson.reasons if not reason.levels or level in reason.levels]
    rows = []
    for position, (typed, told, _) in zip(sorted(positions), struck(grid, bar, positions), strict=True):
        heard, written, *why = arrange.why(
            lesson.hits, {level: chart}, reasons, bar, position, meter=grid.meter(bar), skipped=grid.skipped(bar)
        )
        rows.append(
            {
                "place": told if told.startswith("the ") else typed,
                "heard": heard.partition(": ")[2].removeprefix("heard "),
                "written": written.removeprefix(f"{level}: "),
                "why": why,
            }
        )
    return {"bar": bar, "name": say_span(bar, bar), "level": level, "sure_percent": SURE_PERCENT, "rows": rows}


SURE_PERCENT: Final = 70
"""What was heard less surely than this carries a mark (ours, for the eye: the number stands beside it)."""


def minutes_of(seconds: float) -> str:
    """Seconds of the recording as 1:07.3."""
    tenths = round(max(seconds, 0.0) * 10)
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"
