"""Everything a lesson folder holds besides its truth: charts, sound, the practice page, the cue sheet.

Pure: a lesson in, file names and bytes out. The same lesson gives the same bytes, with or without the files that were
there before: they only save work.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

import msgspec

from fourlimb.model import LEVELS, Hit, Lesson, Level, Progress, Sheet, silent
from fourlimb.model.tempo import tempo_said

from .build import is_played, sheets
from .printing import layout_of

if TYPE_CHECKING:
    from fourlimb.engrave import Layout
    from fourlimb.teach import Cue

Job = tuple[str, Callable[[], dict[str, bytes]]]

SOUND_FORMAT: Final = "mp3"
"""Plays everywhere and is byte-identical in every run, which OGG is not (random stream serial)."""

PAGE: Final = "page/index.html"

NOTHING: Final[Mapping[str, bytes]] = MappingProxyType({})


def outputs(
    lesson: Lesson,
    *,
    levels: tuple[Level, ...] = LEVELS,
    sounding: tuple[Level, ...] = LEVELS,
    kept: Mapping[str, bytes] = NOTHING,
    progress: Progress = silent,
) -> dict[str, bytes]:
    """All files made from a lesson, by name. With fewer `levels`, only what concerns them, page and cues.

    `sounding`: levels whose sound is wanted, as far as they are among `levels`; it takes longest. Of a
    song that is too long (see `build.is_played`) there is no sound. `kept`: files of the lesson as it was, made by
    the same version, from which sound that has not changed is taken.
    """
    made = sheets(lesson)
    layout = layout_of(lesson.printing)
    jobs: list[Job] = [(f"Engraving the {level} chart", partial(charts, made[level], layout)) for level in levels]
    jobs += [
        *_handouts(lesson, made["full"], layout),
        ("Making the practice page", partial(page_of, made, kept.get(PAGE, b""), lesson.hits)),
    ]
    files: dict[str, bytes] = {}
    # encoding sound waits outside Python's lock, so one thread plays while this one draws
    player = ThreadPoolExecutor(max_workers=1)
    try:
        wanted = [level for level in levels if level in sounding and is_played(lesson.grid)]
        played = {level: player.submit(sound_of, made[level], kept) for level in wanted}
        total = len(jobs) + len(played)
        for number, (stage, job) in enumerate(jobs):
            progress(stage, number / total)
            files.update(job())
        for number, (level, future) in enumerate(played.items(), start=len(jobs)):
            progress(f"Playing the {level} chart", number / total)
            files.update(future.result())
    finally:  # where this was broken off, nobody waits for what is being played
        player.shutdown(wait=False, cancel_futures=True)
    return files


def documents(lesson: Lesson, *, levels: tuple[Level, ...] = LEVELS, progress: Progress = silent) -> dict[str, bytes]:
    """Only what is printed: the charts of `levels` as PDF, road map, figures, practice sheet, teacher's book."""
    from fourlimb import engrave

    made = sheets(lesson)
    layout = layout_of(lesson.printing)
    files: dict[str, bytes] = {}
    for level in levels:
        progress(f"Engraving the {level} chart", 0.0)
        files[f"charts/{level}.pdf"] = engrave.chart_pdf(made[level], layout)
    for stage, job in _handouts(lesson, made["full"], layout):
        progress(stage, 0.5)
        files.update({name: data for name, data in job().items() if name.endswith(".pdf")})
    return files


def _handouts(lesson: Lesson, full: Sheet, layout: "Layout") -> list[Job]:
    from fourlimb import teach

    cues = teach.cue_sheet(full)
    return [
        ("Drawing the road map", partial(overview, full, layout)),
        ("Drawing the practice sheet", partial(practice_sheet, full, layout, cues, lesson.printing.week)),
        ("Drawing the teacher's book", partial(teachers_book, lesson, full, layout, cues)),
        ("Writing the cue sheet", partial(cue_sheet, full, cues)),
    ]


def charts(sheet: Sheet, layout: "Layout") -> dict[str, bytes]:
    """One level's chart in every score format."""
    from fourlimb import engrave

    name = f"charts/{sheet.level}"
    return {
        f"{name}.pdf": engrave.chart_pdf(sheet, layout),
        f"{name}.musicxml": engrave.musicxml(sheet),
        f"{name}.mid": engrave.midi(sheet),
        f"{name}.mei": engrave.mei(sheet, layout),
    }


def overview(full: Sheet, layout: "Layout") -> dict[str, bytes]:
    """The song on one page, and each figure once."""
    from fourlimb import engrave

    return {
        "charts/roadmap.pdf": engrave.roadmap_pdf(full, layout),
        "charts/figures.pdf": engrave.figures_pdf(full, layout),
    }


def practice_sheet(full: Sheet, layout: "Layout", cues: "Sequence[Cue]", week: int) -> dict[str, bytes]:
    """The week's figures, each with the ladder to its own tempo (its fastest), and how each fill lands."""
    from fourlimb import engrave, teach

    def goal_of(bars: Iterable[int]) -> int:
        return max(max(round(tempo_said(full.grid, bar)) for bar in bars), 1)

    goals = {figure.name: goal_of(figure.bars) for figure in full.plan.figures}
    figure_of = {bar: figure.name for figure in full.plan.figures for bar in figure.bars}
    landings = {figure_of.get(cue.to_bar - 1, ""): cue.say for cue in cues if cue.what == "land"}
    pdf = engrave.practice_pdf(
        full,
        layout,
        ladders={name: ([rung.bpm for rung in teach.ladder(goal)], goal) for name, goal in goals.items()},
        week=week,
        words=landings,
        care=teach.cautions("ladder"),
        clean=teach.LADDER.clean,
    )
    return {"charts/practice.pdf": pdf}


def teachers_book(lesson: Lesson, full: Sheet, layout: "Layout", cues: "Sequence[Cue]") -> dict[str, bytes]:
    """Everything about the full chart, with doubts and reasons."""
    from fourlimb import engrave, teach

    told = [
        engrave.CueLine(
            what=cue.what, bars=_span(cue.from_bar, cue.to_bar), tempo=f"{cue.tempo_bpm}", say=cue.say, play=cue.play
        )
        for cue in cues
    ]
    pdf = engrave.teacher_pdf(
        full,
        layout,
        cues=told,
        notes=[_sentence(note) for note in lesson.notes],
        doubts=lesson.doubts,
        reasons=lesson.reasons,
        phrases=[_sentence(line) for line in teach.phrase_lines(full)],
    )
    return {"charts/teacher.pdf": pdf}


def _sentence(line: str) -> str:
    return f"{line[:1].upper()}{line[1:].rstrip('.')}."


def _span(first: int, last: int) -> str:
    """(1, 4) -> "1–4"; the pickup has no number: (0, 45) -> "pickup–45"."""
    start = "pickup" if first == 0 else f"{first}"
    return start if first == last else f"{start}–{last}"


def sound_name(level: Level) -> str:
    """The file that holds a level's sound."""
    return f"sound/{level}.{SOUND_FORMAT}"


def sound_of(sheet: Sheet, kept: Mapping[str, bytes] = NOTHING) -> dict[str, bytes]:
    """One level played, with count-in and click; what sounds as in the file before is taken from it."""
    from fourlimb import sound

    name = sound_name(sheet.level)
    return {name: sound.pressed(sheet, kept.get(name, b""))}


def kept_names(levels: tuple[Level, ...] = LEVELS) -> tuple[str, ...]:
    """Files of the lesson as it was that save work (`outputs`, `kept`)."""
    return (*map(sound_name, levels), PAGE)


def sounds_alike(before: Lesson, after: Lesson, level: Level) -> bool:
    """True when a level is played the same in both: strokes, grid and player, made by the same version."""
    return _played(before, level) == _played(after, level)


def _played(lesson: Lesson, level: Level) -> object:
    return lesson.made_by, lesson.kit, lesson.grid, lesson.charts[level].strokes


def cue_sheet(full: Sheet, cues: "Sequence[Cue]") -> dict[str, bytes]:
    """What to say and play, in running order."""
    from fourlimb import teach

    return {
        "cues.md": teach.cues_markdown(cues, full).encode("utf-8"),
        "cues.csv": teach.cues_csv(cues).encode("utf-8"),
    }


def page_of(made: dict[Level, Sheet], before: bytes = b"", heard: Sequence[Hit] = ()) -> dict[str, bytes]:
    """The student's practice page; when it strikes the same pieces, its kit is that of the page before.

    `heard`: hits of the recording, for a student's own copy of it.
    """
    from fourlimb import page
    from fourlimb.page import samples

    def strike(sounds: Iterable[str], *, mirrored: bool = False) -> dict[str, Any]:
        wanted = set(sounds)
        return _kit_in(before, wanted) or samples.kit(wanted, mirrored=mirrored)

    return {PAGE: page.build(made, strike=strike, heard=heard).encode("utf-8")}


def _kit_in(page: bytes, wanted: set[str]) -> dict[str, Any] | None:
    """The kit in a practice page, if it has these pieces (and the firsts of their kind) and no others."""
    begin = page.find(b'"kit":{"sounds":{')
    end = page.find(b"</script>", begin)
    if begin < 0 or end < 0:
        return None
    try:  # the kit is the last thing in the page's data
        kit = msgspec.json.decode(page[begin + len(b'"kit":') : end - 1], type=dict[str, Any])
    except msgspec.DecodeError:
        return None
    return kit if set(kit["sounds"]) == wanted | {name.removeprefix("second ") for name in wanted} else None


def names(levels: tuple[Level, ...] = LEVELS) -> Iterator[str]:
    """Names of the files that `outputs` makes, for those who look for them."""
    for level in levels:
        for ending in ("pdf", "musicxml", "mid", "mei"):
            yield f"charts/{level}.{ending}"
        yield sound_name(level)
    yield from (f"charts/{name}.pdf" for name in ("roadmap", "figures", "practice", "teacher"))
    yield from ("cues.md", "cues.csv", PAGE)
