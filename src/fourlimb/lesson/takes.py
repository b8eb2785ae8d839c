"""A student's take against a lesson: heard, marked, and the marking put into the lesson's `takes/`.

The take is only read: it is neither copied nor changed. Of sound the ears' first answer is taken, without the second
pass that lets bars of a song teach each other: in a take the bar that is unlike the others is what is looked for.
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from fourlimb.model import (
    LEVELS,
    Grid,
    Hit,
    InputError,
    Lesson,
    Level,
    Marking,
    Progress,
    silent,
)
from fourlimb.model.codec import decode, pretty
from fourlimb.model.count import say_span
from fourlimb.model.sounds import PERCUSSION

from .build import sheets
from .folder import Disk, read_lesson, write
from .show import counted, one_line
from .source import hear_song, kind_of
from .workshop import level_named, safe_name

if TYPE_CHECKING:
    from fourlimb.mark import Heights

FEWEST: Final = 4
FEWEST_A_MINUTE: Final = 6.0
"""Fewer strokes than this in a take, or in a minute of it, are noises (ours; music without drums has fewer)."""

FASTER_MOST: Final = 1.7
"""Fastest that a take is followed, as a share of the song's tempo: a shorter take holds no bar."""

BETTER: Final = 0.15
"""Another level is spoken of when the take fits it by so much better (ours)."""

LISTED: Final = 8
"""Bars that the terminal lists (ours: the page has them all)."""

_BARS = re.compile(r"^\s*(\d+)\s*(?:(?:-|–|to)\s*(\d+)\s*)?$")


@dataclass(frozen=True)
class Take:
    """What was played. `heights`: what ears hear where no hit is (see `mark`); None for a file that was read."""

    name: str
    sha256: str
    duration_s: float
    hits: tuple[Hit, ...]
    heights: "Heights | None" = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Marked:
    """A marking and where it was put."""

    lesson: Lesson
    take: Take
    marking: Marking
    page: Path
    data: Path
    better: Level | None = None


def mark_take(
    take: Path,
    folder: Path,
    *,
    level: str | None = None,
    bars: str | None = None,
    progress: Progress = silent,
    disk: Disk | None = None,
) -> Marked:
    """Mark a take of the chart of a level (full unless named), of some bars ("5-8"; else of those it plays).

    Writes takes/NAME.marking.json and .html into the lesson, both or neither; the same take is marked over its last
    marking, another of the same name gets a number. Raises InputError when the take cannot be marked, LessonError
    when the folder cannot be used; the lesson is then as it was.
    """
    lesson = read_lesson(folder)
    chosen = level_named(level) or "full"
    first, last = bars_named(bars, lesson.grid)
    write(folder, {}, disk=disk)  # asked first, so that nobody waits for a folder that may not be written
    played = hear_take(take, progress)
    _must_be_playing(played, lesson.grid, first, last)
    progress("Comparing with the chart", 0.0)
    marking, better = _compared(played, lesson, chosen, first, last)
    name = _name_in(folder, safe_name(take), played.sha256)
    data, page = f"takes/{name}.marking.json", f"takes/{name}.marking.html"
    progress("Writing the marking", 0.0)
    html = page_of(lesson, marking, played)
    write(folder, {data: pretty(marking), page: html.encode("utf-8")}, disk=disk)
    return Marked(lesson, played, marking, folder / page, folder / data, better)


def hear_take(path: Path, progress: Progress = silent) -> Take:
    """What was played in a file: sound is heard, a MIDI performance read. Raises InputError, one line."""
    kind, digest = kind_of(path)
    if kind != "audio":
        read = hear_song(path)
        return Take(path.name, digest, read.song.duration_s, read.hits, notes=read.notes)
    from fourlimb import listen

    audio = listen.open_recording(path, progress)
    heard = listen.default_ears().hear(audio, progress)
    said = (*audio.notes, *heard.notes)
    return Take(path.name, digest, audio.duration_s, listen.hits_of_take(heard), listen.heights(heard), said)


def page_of(lesson: Lesson, marking: Marking, take: Take) -> str:
    """The marking to read and print, one HTML file."""
    from fourlimb import page

    sheet = sheets(lesson)[marking.take.level]
    return page.marked(sheet, marking, take=one_line(take.name, 80), heard=take.heights is not None, notes=take.notes)


def bars_named(text: str | None, grid: Grid) -> tuple[int | None, int | None]:
    """First and last bar asked for; None: as the take plays. Raises InputError when they are not in the song."""
    from fourlimb import mark

    if text is None:
        return None, None
    found = _BARS.match(text)
    if found is None:
        raise InputError(f'"{one_line(text, 40)}" names no bars: write --bars 5-8, or --bars 5 for one')
    first = int(found[1])
    return mark.bars_asked(grid, first, int(found[2] or first))


def _must_be_playing(take: Take, grid: Grid, first: int | None, last: int | None) -> None:
    """Raises InputError on a take without drums, or one that cannot hold a whole bar."""
    inside = [bar.bar for bar in grid.bars if (first or bar.bar) <= bar.bar <= (last or bar.bar) and bar.bar > 0]
    bar_s = min((grid.end(bar) - grid.at(bar).start_s for bar in inside), default=0.0)
    if take.duration_s < bar_s / FASTER_MOST:
        raise InputError(
            f"{take.name} is {take.duration_s:.1f} s long, shorter than a bar of this song "
            f"({bar_s:.1f} s at its tempo): record at least one whole bar"
        )
    if len(take.hits) < max(FEWEST, FEWEST_A_MINUTE * take.duration_s / 60):
        count = len(take.hits)
        heard = "no drums were" if not count else f"only {count} stroke{'' if count == 1 else 's'} could be"
        raise InputError(f"{take.name}: {heard} heard in it: check that it is the right file, and the microphone")


def _compared(
    take: Take, lesson: Lesson, level: Level, first: int | None, last: int | None
) -> tuple[Marking, Level | None]:
    """The marking, and another level that the take fits much better.

    Claps, shakers and the like that stand nowhere in the lesson are not the student's: ears hear them in hats.
    """
    from fourlimb.mark import mark

    written = {stroke.piece for chart in lesson.charts.values() for stroke in chart.strokes}
    hits = tuple(hit for hit in take.hits if hit.sound not in PERCUSSION or hit.sound in written)

    def of(one: Level) -> Marking:
        return mark(
            hits, lesson.charts[one], lesson.grid, level=one, from_bar=first, to_bar=last,
            sha256=take.sha256, heights=take.heights,
        )  # fmt: skip

    marking = of(level)
    if marking.summary.score >= 1 - BETTER:
        return marking, None
    scores = {one: of(one).summary.score for one in LEVELS if one != level and _has(lesson, one, first, last)}
    best = max(scores, key=lambda one: scores[one], default=None)
    return marking, best if best and scores[best] >= marking.summary.score + BETTER else None


def _has(lesson: Lesson, level: Level, first: int | None, last: int | None) -> bool:
    """True when the level's chart has strokes in these bars."""
    return any((first or bar) <= bar <= (last or bar) for bar in lesson.charts[level].by_bar)


def _name_in(folder: Path, name: str, sha256: str) -> str:
    """`name`, or with a number when that is the marking of another take."""
    number = 1
    while True:
        tried = name if number == 1 else f"{name}-{number}"
        data = folder / "takes" / f"{tried}.marking.json"
        free = not data.exists() and not data.with_suffix(".html").exists()
        if free or _sha_in(data) == sha256:
            return tried
        number += 1


def _sha_in(path: Path) -> str | None:
    """The take that a marking is of; None when that cannot be told."""
    try:
        return decode(path.read_bytes(), Marking).take.sha256
    except (OSError, InputError):
        return None


def told(marked: Marked) -> str:
    """A marking in a few lines, for the terminal."""
    marking, facts = marked.marking, marked.marking.take
    title = one_line(marked.lesson.song.title, 60)
    span = say_span(facts.from_bar, facts.to_bar)
    lines = [
        f"{one_line(marked.take.name, 60)}: {span} of {title}, {facts.level}, "
        f"at {facts.tempo_bpm:.0f} beats a minute",
        f"  {100 * marking.summary.score:.0f} of 100",
        *(f"  {say}" for say in marking.summary.say),
    ]
    if marked.better is not None:
        lines.append(f"  It fits the {marked.better} chart much better: was that played? --level {marked.better}")
    look = [bar for bar in marking.bars if bar.say]
    lines += [f"  bar {bar.bar}: {bar.say}" for bar in look[:LISTED]]
    if len(look) > LISTED:
        lines.append(f"  ... and {counted(len(look) - LISTED, 'bar')} more")
    lines += [
        f"  Next: {say_span(one.from_bar, one.to_bar)} at {one.rung_bpm}" for one in marking.summary.practise_next
    ]
    lines += [f"  Note: {one_line(note, 200)}" for note in marked.take.notes]
    lines += [f"  {marked.page}", f"  {_care()}"]
    return "\n".join(lines)


def _care() -> str:
    from fourlimb.teach.cautions import caution

    return f"{caution('local take')} {caution('delete')}"
