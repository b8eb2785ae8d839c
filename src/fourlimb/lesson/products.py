"""Everything a lesson folder holds besides its truth: charts, sound, the practice page, the cue sheet.

Pure: a lesson in, file names and bytes out. The same lesson gives the same bytes.
"""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Final

from fourlimb.model import LEVELS, Lesson, Level, Progress, Sheet, silent

from .build import sheets

SOUND_FORMAT: Final = "mp3"
"""Plays everywhere and is byte-identical in every run, which OGG is not (random stream serial)."""


def outputs(lesson: Lesson, *, levels: tuple[Level, ...] = LEVELS, progress: Progress = silent) -> dict[str, bytes]:
    """All files made from a lesson, by name. With fewer `levels`, only what concerns them, page and cues."""
    made = sheets(lesson)
    jobs: list[tuple[str, Callable[[], dict[str, bytes]]]] = [
        (f"Engraving the {level} chart", partial(charts, made[level])) for level in levels
    ]
    jobs.append(("Drawing the road map", partial(overview, made["full"])))
    jobs.append(("Writing the cue sheet", partial(cue_sheet, made["full"])))
    jobs.append(("Making the practice page", partial(page_of, made)))
    files: dict[str, bytes] = {}
    # encoding sound waits outside Python's lock, so one thread plays while this one draws
    with ThreadPoolExecutor(max_workers=1) as player:
        played = {level: player.submit(sound_of, made[level]) for level in levels}
        total = len(jobs) + len(played)
        for number, (stage, job) in enumerate(jobs):
            progress(stage, number / total)
            files.update(job())
        for number, (level, future) in enumerate(played.items(), start=len(jobs)):
            progress(f"Playing the {level} chart", number / total)
            files.update(future.result())
    return files


def charts(sheet: Sheet) -> dict[str, bytes]:
    """One level's chart in every score format."""
    from fourlimb import engrave

    name = f"charts/{sheet.level}"
    return {
        f"{name}.pdf": engrave.chart_pdf(sheet),
        f"{name}.musicxml": engrave.musicxml(sheet),
        f"{name}.mid": engrave.midi(sheet),
        f"{name}.mei": engrave.mei(sheet),
    }


def overview(full: Sheet) -> dict[str, bytes]:
    """The song on one page, and each figure once."""
    from fourlimb import engrave

    return {"charts/roadmap.pdf": engrave.roadmap_pdf(full), "charts/figures.pdf": engrave.figures_pdf(full)}


def sound_of(sheet: Sheet) -> dict[str, bytes]:
    """One level played, with count-in and click."""
    from fourlimb import sound

    played = sound.render(sheet)
    return {f"sound/{sheet.level}.{SOUND_FORMAT}": sound.encode(played.audio, SOUND_FORMAT)}


def cue_sheet(full: Sheet) -> dict[str, bytes]:
    """What to say and play, in running order."""
    from fourlimb import teach

    cues = teach.cue_sheet(full)
    return {
        "cues.md": teach.cues_markdown(cues, full).encode("utf-8"),
        "cues.csv": teach.cues_csv(cues).encode("utf-8"),
    }


def page_of(made: dict[Level, Sheet]) -> dict[str, bytes]:
    """The student's practice page."""
    from fourlimb import page

    return {"page/index.html": page.build(made).encode("utf-8")}


def names(levels: tuple[Level, ...] = LEVELS) -> Iterator[str]:
    """Names of the files that `outputs` makes, for those who look for them."""
    for level in levels:
        for ending in ("pdf", "musicxml", "mid", "mei"):
            yield f"charts/{level}.{ending}"
        yield f"sound/{level}.{SOUND_FORMAT}"
    yield from ("charts/roadmap.pdf", "charts/figures.pdf", "cues.md", "cues.csv", "page/index.html")
