"""A chart for a target instead of a level, printed beside a lesson; the lesson stays as it is."""

from pathlib import Path

import msgspec

from fourlimb.model import InputError, Level, Sheet

from .build import plan_of
from .folder import read_lesson
from .printing import layout_of
from .show import one_line


def aim_at(folder: Path, target: str, out: Path, *, level: Level = "full") -> str:
    """Write aimed.pdf, .musicxml and .mid into `out`; says in a few lines what was done to get there.

    Raises InputError, one line, when the target is not understood or cannot be met.
    """
    from fourlimb import arrange, engrave

    from .workshop import write_file

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
    write_file(out / "aimed.pdf", engrave.chart_pdf(sheet, layout_of(lesson.printing)))
    write_file(out / "aimed.musicxml", engrave.musicxml(sheet))
    write_file(out / "aimed.mid", engrave.midi(sheet))
    before, steps = lesson.charts[level], [step for step in chart.steps if step not in lesson.charts[level].steps]
    lines = [
        f"{one_line(target)}: grade {chart.grade:.1f} (before {before.grade:.1f}), {len(chart.strokes)} of "
        f"{len(before.strokes)} strokes, in {out}",
        *(f"  {step}" for step in steps),
        arrange.hardest(chart, grid, lesson.kit),
    ]
    lines.append(f"  {len(reasons)} changes, each with its reason" if reasons else "  no stroke changes")
    return "\n".join(line for line in lines if line)
