"""A chart for a target instead of a level, printed beside a lesson; the lesson stays as it is."""

from pathlib import Path

import msgspec

from fourlimb.model import InputError, Level, Sheet

from .build import plan_of
from .folder import read_lesson
from .printing import layout_of
from .show import counted, one_line


def aim_at(folder: Path, target: str, out: Path, *, level: Level = "full") -> str:
    """Write the chart as PDF, MusicXML and MIDI into `out`, named by song and target; says what was done.

    Songs, targets and levels have files of their own: one wish does not write over another's chart.

    Raises InputError, one line, when the target is not understood or cannot be met.
    """
    from fourlimb import arrange, engrave

    from .workshop import safe_words, write_file

    lesson = read_lesson(folder)
    chart, grid, reasons = arrange.aim(
        target, lesson.charts[level], lesson.grid, lesson.kit, lesson.sections, level=level
    )
    sheet = Sheet(
        song=msgspec.structs.replace(lesson.song, title=f"{lesson.song.title}: {one_line(target, 40)}"),
        level=level,
        chart=chart,
        grid=grid,
        kit=lesson.kit,
        plan=plan_of(chart, lesson, lesson.kit, lesson.printing),
        sections=lesson.sections,
        landmarks=lesson.landmarks,
    )
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{out} cannot be made ({error.strerror}): choose another folder with -o") from None
    words = (lesson.song.title, target, "" if level == "full" else f"from {level}")
    name = "-".join(filter(None, map(safe_words, words))) or "chart"
    write_file(out / f"{name}.pdf", engrave.chart_pdf(sheet, layout_of(lesson.printing)))
    write_file(out / f"{name}.musicxml", engrave.musicxml(sheet))
    write_file(out / f"{name}.mid", engrave.midi(sheet))
    before, steps = lesson.charts[level], [step for step in chart.steps if step not in lesson.charts[level].steps]
    lines = [
        f"{one_line(target)}: grade {chart.grade:.1f} (before {before.grade:.1f}), {len(chart.strokes)} of "
        f"{len(before.strokes)} strokes, in {out / name}.pdf, .musicxml and .mid",
        *(f"  {step}" for step in steps),
        f"  {hardest}" if (hardest := arrange.hardest(chart, grid, lesson.kit)) else "",
    ]
    lines.append(f"  {counted(len(reasons), 'change')}" if reasons else "  no stroke changes")
    return "\n".join(line for line in lines if line)
