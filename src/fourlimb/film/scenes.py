"""What a film shows, scene by scene: the song played through, or taught in the lesson's running order.

Nothing is decided here that the lesson has not decided: the teaching film follows the cue sheet line by line
(`teach.cue_sheet`: hear the whole song, each figure said before it is played, slowly, then at the song's own tempo,
joined up as soon as a phrase has nothing new left, at the end the whole song slowed and at its tempo), its tempi are
the ladder's rungs, and a bar that is practised round and round is played as often as makes a rung passed.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import msgspec

from fourlimb.model import LEVEL_SAYS, InputError, Level, Sheet
from fourlimb.model.count import say_span
from fourlimb.model.tempo import tempo_said

if TYPE_CHECKING:
    from fourlimb.teach import Cue

Kind = Literal["card", "look", "play"]

OPENING_S: Final = 6.0
CLOSING_S: Final = 6.0
"""How long the first and the last card stand, seconds (ours: their few lines read at ease)."""

LOOK_LEAST_S: Final = 3.0
LOOK_MOST_S: Final = 10.0
LETTERS_A_SECOND: Final = 15.0
"""How long a sentence over a bar stands before it is played: 15 letters a second (the upper end of what subtitles
are read at, common practice), never less or more than these."""

HEADING_LEAST: Final = 8
"""A section must last this many bars without drums for the film to say how many are still to come (ours)."""


@dataclass(frozen=True, kw_only=True)
class Scene:
    """One stretch of a film.

    kind: a card of words; a look at bars without sound; bars played. `bars`: first and last, inclusive; `known`: the
    bar that a look tells them from. `rounds`: how often they are played without a stop. `speed` 0.3 to 1.2 of the
    song's tempo, `bpm` the same in felt beats a minute. `heading`: what is done, in a few words. `say`: the sentence.
    `lines`: those of a card; `key`: it shows where each piece stands. `chapter`: begins one of that name;
    `by_section`: each section begins one. `seconds`: how long a card or a look stands.
    """

    kind: Kind
    bars: tuple[int, int] = (0, 0)
    known: int | None = None
    rounds: int = 1
    speed: float = 1.0
    bpm: int = 0
    heading: str = ""
    say: str = ""
    lines: tuple[str, ...] = ()
    key: bool = False
    chapter: str = ""
    by_section: bool = False
    seconds: float = 0.0


def cut(sheet: Sheet, first: int, last: int) -> Sheet:
    """The sheet of bars `first` to `last` only, under their own numbers; its plan stays that of the whole song.

    Raises InputError when the song lacks one of them.
    """
    grid = sheet.grid
    if not grid.has(first) or not grid.has(last) or last < first:
        raise InputError(f"bars {first}-{last} are not in the song: it has bars {grid.numbers[0]}-{grid.numbers[-1]}")
    inside = range(first, last + 1)
    return msgspec.structs.replace(
        sheet,
        grid=msgspec.structs.replace(
            grid,
            beats=tuple(beat for beat in grid.beats if beat.bar in inside),
            bars=tuple(bar for bar in grid.bars if bar.bar in inside),
            end_s=grid.end(last),
        ),
        chart=msgspec.structs.replace(
            sheet.chart,
            strokes=tuple(stroke for stroke in sheet.chart.strokes if stroke.bar in inside),
            bars=tuple(bar for bar in sheet.chart.bars if bar.bar in inside),
        ),
        sections=tuple(
            msgspec.structs.replace(s, from_bar=max(s.from_bar, first), to_bar=min(s.to_bar, last))
            for s in sheet.sections
            if s.from_bar <= last and s.to_bar >= first
        ),
        landmarks=tuple(mark for mark in sheet.landmarks if mark.bar in inside),
        doubts=(),
    )


def excerpt(sheet: Sheet, first: int, last: int) -> Sheet:
    """The same as if it were the whole song: what differs is told from bars among them. Raises as `cut`."""
    from fourlimb import teach

    part = cut(sheet, first, last)
    plan = teach.plan(part.chart, part.grid, part.kit)
    return msgspec.structs.replace(part, plan=msgspec.structs.replace(plan, counts=sheet.plan.counts))


def news_of(sheet: Sheet) -> dict[int, str]:
    """What is new, by the bar in which it is met first: "as bars 2-3, but a kick is added on 4&"."""
    said = {difference.to: difference.say.removeprefix("new: ") for difference in sheet.plan.differences}
    return {figure.first: said[figure.name] for figure in sheet.plan.figures if figure.name in said}


def played_through(sheet: Sheet, *, bpm: float | None = None, care: tuple[str, ...] = ()) -> list[Scene]:
    """The bars of a sheet once, from the first to the last; `bpm` felt beats a minute (None: the song's tempo).

    `care`: sentences for the last card.
    """
    whole = sheet.grid.numbers[0], sheet.grid.numbers[-1]
    own = tempo_said(sheet.grid, whole[0])
    speed = 1.0 if bpm is None else bpm / own
    return [
        _opening(sheet),
        Scene(
            kind="play", bars=whole, speed=speed, bpm=round(own * speed), by_section=True,
            heading=tempo_heading(sheet, whole[0], speed),
        ),
        *_closing(sheet, care),
    ]  # fmt: skip


def taught(sheet: Sheet, *, care: tuple[str, ...] = ()) -> list[Scene]:
    """The lesson as the cue sheet has it. `care`: sentences for the last card."""
    from fourlimb import teach

    scenes = [_opening(sheet)]
    for cue in teach.cue_sheet(sheet):
        scenes += _CUES[cue.what](sheet, cue)
    return [*scenes, *_closing(sheet, care)]


def _opening(sheet: Sheet) -> Scene:
    from fourlimb.teach.cautions import caution

    title = sheet.song.title or "Drum lesson"
    level: Level = sheet.level
    numbers = sheet.grid.numbers
    tempo = _tempo_words(round(tempo_said(sheet.grid, numbers[0])))
    bars = f"{say_span(numbers[0], numbers[-1]).capitalize()}, {tempo}"
    lines = (title, *sheet.song.credits, f"{level}: {LEVEL_SAYS[level]}", bars, caution("file level"))
    return Scene(kind="card", lines=lines, key=True, seconds=OPENING_S)


def _closing(sheet: Sheet, care: tuple[str, ...]) -> list[Scene]:
    if not care:
        return []
    title = sheet.song.title or "Drum lesson"
    seconds = max(CLOSING_S, _reading_s(" ".join(care)))
    return [Scene(kind="card", lines=(title, *sheet.song.credits, *care), seconds=seconds)]


def tempo_heading(sheet: Sheet, bar: int, speed: float) -> str:
    """The tempo in force at a bar, played at a speed, in words."""
    own = tempo_said(sheet.grid, bar)
    return _tempo_words(round(own * speed), round(own))


def _tempo_words(bpm: int, own: int = 0) -> str:
    """What tempo is played: "132 beats a minute", "79 beats a minute (the song: 132)"."""
    return f"{bpm} beats a minute" + (f" (the song: {own})" if own and own != bpm else "")


def _played(sheet: Sheet, cue: "Cue", bpm: int, how: str, *, rounds: int = 1, chapter: str = "") -> Scene:
    own = tempo_said(sheet.grid, cue.from_bar)
    at_tempo = bpm == goal(sheet, cue)
    return Scene(
        kind="play",
        bars=(cue.from_bar, cue.to_bar),
        rounds=rounds,
        speed=1.0 if at_tempo else bpm / own,
        bpm=bpm,
        heading=f"{how}: {_tempo_words(bpm, goal(sheet, cue))}",
        say=cue.say,
        chapter=chapter,
    )


def goal(sheet: Sheet, cue: "Cue") -> int:
    """The song's own tempo where a cue begins."""
    from fourlimb.teach.cues import goal_bpm

    return goal_bpm(sheet, cue.from_bar)


def _listen(sheet: Sheet, cue: "Cue") -> Iterator[Scene]:
    yield _played(sheet, cue, cue.tempo_bpm, "The whole song", chapter="The whole song")


def _say(sheet: Sheet, cue: "Cue") -> Iterator[Scene]:
    """A figure's bar with what is new in it; the caution before all practice is a card."""
    from fourlimb.teach.cautions import caution

    if cue.say == caution("hearing"):
        yield Scene(kind="card", lines=(cue.say, cue.play), seconds=_reading_s(cue.say + cue.play))
        return
    bars = (0, 1) if cue.from_bar == 0 and sheet.grid.has(1) else (cue.from_bar, cue.from_bar)
    yield Scene(
        kind="look",
        bars=bars,
        known=_known(sheet, cue.from_bar),
        heading=say_span(cue.from_bar, cue.from_bar).capitalize(),
        say=cue.say,
        seconds=_reading_s(cue.say),
        chapter=cue.say.partition(":")[0],
    )


def _known(sheet: Sheet, bar: int) -> int | None:
    """The bar that a new one is told from, if it is told from one."""
    figures = {figure.name: figure for figure in sheet.plan.figures}
    name = next((figure.name for figure in figures.values() if figure.first == bar), "")
    told = next((difference for difference in sheet.plan.differences if difference.to == name), None)
    return figures[told.from_].first if told is not None and told.from_ else None


def _play(sheet: Sheet, cue: "Cue") -> Iterator[Scene]:
    """A bar round and round, or once where a pickup leads into it, at each rung that the cue names."""
    from fourlimb.teach import LADDER

    rounds = LADDER.clean if cue.from_bar == cue.to_bar else 1
    yield from _rungs(sheet, cue, rounds)


def _land(sheet: Sheet, cue: "Cue") -> Iterator[Scene]:
    """A fill with the bar before and the landing."""
    yield from _rungs(sheet, cue, 1)


def _rungs(sheet: Sheet, cue: "Cue", rounds: int) -> Iterator[Scene]:
    from fourlimb.teach.cues import three_rungs

    rungs = three_rungs(goal(sheet, cue))
    for bpm in rungs:
        how = "At the song's tempo" if bpm == rungs[-1] else "Slowly" if bpm == rungs[0] else "Faster"
        said = cue if bpm == rungs[0] or cue.what == "land" else cue._replace(say="")
        yield _played(sheet, said, bpm, how, rounds=rounds)


def _join(sheet: Sheet, cue: "Cue") -> Iterator[Scene]:
    chapter = f"{say_span(cue.from_bar, cue.to_bar).capitalize()} joined up"
    yield _played(sheet, cue, cue.tempo_bpm, "Joined up", chapter=chapter)


def _along(sheet: Sheet, cue: "Cue") -> Iterator[Scene]:
    slow = cue.tempo_bpm != goal(sheet, cue)
    chapter = f"Play along {'slowly' if slow else 'at tempo'}"
    yield _played(sheet, cue, cue.tempo_bpm, "Play along", chapter=chapter)


_CUES: Final = {"listen": _listen, "say": _say, "play": _play, "land": _land, "join": _join, "along": _along}


def _reading_s(text: str) -> float:
    return min(max(len(text) / LETTERS_A_SECOND, LOOK_LEAST_S), LOOK_MOST_S)
