"""The practice page: charts, pictures, drums and words folded into one HTML file that opens from disk.

The file asks for nothing: no server, no network, no font, no second file; its content security policy forbids what it
does not need, and only the page's own script may run. Everything from the song goes in as text or as data. The same
sheets give the same bytes.

Cannot do: hold the recording (the page has our drums and click only); a student may lay an own copy under them.
"""

import re
from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from hashlib import sha256
from typing import Any, Final

import msgspec

from fourlimb.model import LEVEL_SAYS, LEVELS, LIMBS, Hit, InputError, Level, Sheet
from fourlimb.model.places import beat_lengths

from . import music, samples, words
from .cautions import Cautions
from .front import script, style, template
from .pictures import Picture, engraved
from .safe import data, text

SLOWEST_PERCENT: Final = 40
FASTEST_PERCENT: Final = 110
"""Tempi the page offers, percent of the song's own."""

START_PERCENT: Final = 70
"""Tempo the page opens with when the ladder has no rung near it (common practice: begin well under the goal)."""

Draw = Callable[[Sheet], Picture]
Strike = Callable[..., dict[str, Any]]


def build(
    sheets: Mapping[Level, Sheet],
    *,
    title: str = "",
    cautions: Cautions | None = None,
    made_by: str = "",
    draw: Draw = engraved,
    strike: Strike = samples.kit,
    heard: Sequence[Hit] = (),
) -> str:
    """One HTML document for the charts of one song, by level.

    `title` is the song's (its own name when empty). `cautions`: the sentences shown (the house's table when None).
    `draw` makes a level's picture, `strike` the drums. `heard`: hits of the recording, for a student's own copy
    of it. Raises InputError when there is no level or no bar to show.
    """
    order = [level for level in reversed(LEVELS) if level in sheets]
    if not order or not all(sheets[level].grid.bars for level in order):
        raise InputError("the lesson has no bars to practise: check that the song has a grid and at least one level")
    first = sheets[order[0]]
    said = cautions or Cautions.usual()
    drawn = {level: draw(sheets[level]) for level in order}
    song = _song(sheets, order, drawn, said, strike, heard)
    code = script()
    places = {
        "title": text(title or first.song.title or "Untitled"),
        "credits": "<br>".join(text(line) for line in first.song.credits),
        "facts": text(_facts(first, song)),
        "style": style(),
        "script": code,
        "script_hash": "sha256-" + b64encode(sha256(code.encode()).digest()).decode(),
        "start_percent": str(song["start_percent"]),
        "first_use": _sentences(said.first_use),
        "ladder": _sentences(said.ladder),
        "volume": _sentences(said.volume),
        "cautions": "".join(f"<li>{text(sentence)}</li>" for sentence in said.close),
        "made_by": text(made_by),
        "pictures": "\n".join(f'<template id="picture-{level}">{drawn[level].svg}</template>' for level in order),
        "data": data(song),
    }
    return re.sub(r"\{\{(\w+)\}\}", lambda found: places[found[1]], template())


def _sentences(sentences: tuple[str, ...]) -> str:
    return text(" ".join(sentences))


def _song(
    sheets: Mapping[Level, Sheet],
    order: list[Level],
    drawn: Mapping[Level, Picture],
    said: Cautions,
    strike: Strike,
    heard: Sequence[Hit],
) -> dict[str, Any]:
    """Everything the page's script is given."""
    first = sheets[order[0]]
    bars = music.bars(first.grid)
    goal = _goal(first, bars)
    rungs = _rungs(goal)
    levels = {level: _level(sheets[level], drawn[level]) for level in order}
    sounds = {music.VOICES[int(row[3])] for level in levels.values() for row in level["blows"]}
    return {
        "id": first.song.sha256[:16],
        "order": order,
        "sounds": music.VOICES,
        "limbs": LIMBS,
        "goal": round(goal, 1),
        "start_percent": _start(rungs),
        "bars": bars,
        "road": words.road(first),
        "rungs": rungs,
        "count_in": _count_in(),
        "record": music.record(first, heard),
        "levels": levels,
        "cautions": msgspec.to_builtins(said),
        "kit": strike(sounds, mirrored=first.kit.handed == "left"),
    }


def _level(sheet: Sheet, picture: Picture) -> dict[str, Any]:
    return {
        "says": LEVEL_SAYS[sheet.level],
        "grade": sheet.chart.grade,
        "blows": music.blows(sheet),
        "words": words.said(sheet),
        "unit": picture.unit,
        "lines": picture.lines,
        "boxes": picture.boxes,
    }


def _goal(sheet: Sheet, bars: list[dict[str, Any]]) -> float:
    """Felt beats a minute of the tempo that most bars have."""
    counted: dict[float, float] = {}
    for bar, entry in zip(sheet.grid.bars, bars, strict=True):
        beat = entry["tempo"] / 4 / float(beat_lengths(bar.meter)[0])
        counted[beat] = counted.get(beat, 0) + entry["quarters"]
    return max(counted, key=lambda beat: (counted[beat], -beat))


def _rungs(goal: float) -> list[dict[str, int]]:
    """The ladder's rungs within what the page can play, as beats a minute and percent, each percent once."""
    from fourlimb.teach.ladder import ladder

    rungs: dict[int, int] = {}
    for rung in ladder(goal):
        rungs.setdefault(min(max(round(100 * rung.bpm / goal), SLOWEST_PERCENT), FASTEST_PERCENT), rung.bpm)
    return [{"bpm": rungs[percent], "percent": percent} for percent in sorted(rungs)]


def _start(rungs: list[dict[str, int]]) -> int:
    near = [rung["percent"] for rung in rungs if abs(rung["percent"] - START_PERCENT) <= 5]
    return min(near, key=lambda percent: (abs(percent - START_PERCENT), percent), default=START_PERCENT)


def _count_in() -> dict[str, float]:
    from fourlimb.sound.click import FEWEST_COUNTED, TWO_BARS_UNDER_BPM

    return {"two_bars_under": TWO_BARS_UNDER_BPM, "fewest": FEWEST_COUNTED}


def _facts(sheet: Sheet, song: dict[str, Any]) -> str:
    """One line under the title, as on the chart: tempo, meters, bars, length. A pickup is no bar and has no meter."""
    whole = [bar for bar in sheet.grid.bars if bar.bar > 0]
    meters = list(dict.fromkeys(bar.meter for bar in whole))
    seconds = round(sum(bar["quarters"] * 60 / bar["tempo"] for bar in song["bars"]))
    bars = f"{len(whole)} bars" if len(whole) != 1 else "1 bar"
    return ", ".join([f"{round(song['goal'])} beats a minute", *meters, bars, f"{seconds // 60}:{seconds % 60:02d}"])
