"""A lesson in words, for the terminal."""

import json
from dataclasses import dataclass
from pathlib import Path

from fourlimb.model import LEVELS, Breach, Lesson, Level, Section
from fourlimb.model.chart import LEVEL_SAYS
from fourlimb.model.count import say_span, speak_at
from fourlimb.model.grid import Bar
from fourlimb.model.kit_words import kit_in_words
from fourlimb.model.tempo import tempo_marks

MAX_LISTED = 12
"""Lines of one kind shown before the rest is only counted (ours: half a terminal screen)."""


def show(lesson: Lesson) -> str:
    """What is in a lesson: song, form, charts, figures, doubts, corrections, notes."""
    parts = [_song(lesson), _form(lesson), _charts(lesson), _figures(lesson), _doubts(lesson)]
    parts += [_block("Corrections", corrections_text(lesson).splitlines()) if lesson.corrections else ""]
    parts += [_block("Notes", list(lesson.notes)) if lesson.notes else ""]
    return "\n\n".join(part for part in parts if part)


def one_line(text: str, longest: int = 120) -> str:
    """Text from outside made safe for a terminal: one line, no control characters, not too long."""
    clean = "".join(c if c.isprintable() else " " for c in text)
    clean = " ".join(clean.split())
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"


def minutes(seconds: float) -> str:
    """Seconds as 3:07."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def _song(lesson: Lesson) -> str:
    return "\n".join([one_line(lesson.song.title), *facts(lesson)])


def facts(lesson: Lesson) -> list[str]:
    """Length, tempo, meters and bars in one line; what the tempo is counted by; a kit that is not the usual."""
    from fourlimb.listen import drums_in_words

    whole = whole_bars(lesson)
    meters = list(dict.fromkeys(bar.meter for bar in whole))
    first = [minutes(lesson.song.duration_s), _tempo(lesson), " and ".join(meters), counted(len(whole), "bar")]
    kit, drums = kit_in_words(lesson.kit), drums_in_words(lesson.grid, lesson.hits)
    counted_with = [f"Counted with {drums}"] if drums else []
    return [", ".join(fact for fact in first if fact), *counted_with, *([f"Kit: {kit}"] if kit else [])]


def whole_bars(lesson: Lesson) -> tuple[Bar, ...]:
    """The bars that are counted: a pickup is no bar, here as on the chart."""
    return tuple(bar for bar in lesson.grid.bars if bar.bar > 0)


def counted(number: int, word: str) -> str:
    """(1, "bar") -> "1 bar"; (2, "bar") -> "2 bars"."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _tempo(lesson: Lesson) -> str:
    """The tempo that the chart says, or from which to which it goes."""
    tempi = sorted({round(bpm) for bpm in tempo_marks(lesson.grid).values()})
    if not tempi:
        return "no beat found"
    return f"{tempi[0]} to {tempi[-1]} beats a minute" if len(tempi) > 1 else f"{tempi[0]} beats a minute"


def _form(lesson: Lesson) -> str:
    marks = {mark.bar: mark.what for mark in lesson.landmarks}
    lines = []
    for section in lesson.sections:
        inside = [f"bar {bar}: {what}" for bar, what in sorted(marks.items()) if _in(section, bar)]
        like = f", like {one_line(section.like, 40)}" if section.like else ""
        tacet = ", no drums" if section.tacet else ""
        feel = lesson.grid.feel_of(section.from_bar)
        felt = f", {feel.feel}" if feel.feel != "straight" else ""
        felt += f", swing {feel.swing:.2f}" if feel.swing > 0.52 else ""
        head = f"{one_line(section.name, 40)}: {say_span(section.from_bar, section.to_bar)}{like}{tacet}{felt}"
        lines.append(head + (f" ({'; '.join(inside[:3])})" if inside else ""))
    return _block("Form", lines)


def _in(section: Section, bar: int) -> bool:
    return section.from_bar <= bar <= section.to_bar


def _charts(lesson: Lesson) -> str:
    from fourlimb import arrange

    lines = []
    for level in LEVELS:
        chart = lesson.charts[level]
        lines.append(f"{level}: {len(chart.strokes)} strokes, grade {chart.grade:.1f} ({LEVEL_SAYS[level]})")
        if said := arrange.hardest(chart, lesson.grid, lesson.kit):
            lines.append(f"  {said}")
    return _block("Charts", lines)


def _figures(lesson: Lesson) -> str:
    from fourlimb.teach.say import say_bars

    lines = []
    told = {difference.to: difference for difference in lesson.differences}
    bars = {figure.name: figure.bars for figure in lesson.figures}
    for step in lesson.running_order:
        say = told[step.figure].say if step.figure in told else "new"
        where = f"{step.figure}, {say_bars(bars.get(step.figure, ()))}"
        lines.append(f"{where}{', ' if say.startswith('new') else ': '}{say}")
    return _block("Figures, in the order to teach them", lines)


def _doubts(lesson: Lesson) -> str:
    block = _block("Worth checking first", [f"bar {doubt.bar}: {doubt.why}" for doubt in lesson.doubts])
    if not block or lesson.song.kind != "audio":
        return block
    return f'{block}\n  once it is right, the other bars follow: "learn from bar {lesson.doubts[0].bar}"'


def corrections_text(lesson: Lesson) -> str:
    """The corrections so far, one a line."""
    if not lesson.corrections:
        return "no corrections yet"
    lines = []
    for item in lesson.corrections:
        state = {"applied": "", "undone": "  (undone)", "unfit": f"  (does not fit: {item.why})"}[item.state]
        lines.append(f"{item.n}. {one_line(item.what)}{state}")
    return "\n".join(lines)


def _block(title: str, lines: list[str]) -> str:
    if not lines:
        return ""
    shown = [f"  {line}" for line in lines[:MAX_LISTED]]
    if len(lines) > MAX_LISTED:
        shown.append(f"  ... and {len(lines) - MAX_LISTED} more")
    return "\n".join([title, *shown])


def summary(folder: Path, lesson: Lesson) -> str:
    """What was made, where, and what to look at next."""
    lines = [
        f"{one_line(lesson.song.title)}: lesson in {folder}",
        f"  {counted(len(whole_bars(lesson)), 'bar')}, {counted(len(lesson.sections), 'section')}, "
        f"{counted(len(lesson.figures), 'figure')}",
        "  charts/   full, steady and bones (PDF, MusicXML, MIDI, MEI); roadmap, figures and practice sheet (PDF);",
        "            teacher.pdf, all of it with doubts and reasons",
        *(["  sound/    each level with count-in and click"] if (folder / "sound").is_dir() else []),
        "  page/     index.html, the practice page: open it in a browser",
        "  cues.md   what to say and play, in teaching order",
    ]
    if lesson.doubts:
        bars = ", ".join(str(doubt.bar) for doubt in lesson.doubts[:6])
        lines.append(f"  Worth checking first: bar{'s' * (len(lesson.doubts) > 1)} {bars}")
    lines += [f"  Note: {one_line(note, 300)}" for note in lesson.notes]
    return "\n".join(lines)


@dataclass(frozen=True)
class Verdict:
    """The checker's word on each level."""

    lesson: Lesson
    breaches: dict[Level, tuple[Breach, ...]]

    def text(self) -> str:
        """One block a level."""
        blocks = []
        for level, found in self.breaches.items():
            if not found:
                blocks.append(f"{level}: one drummer can play it")
                continue
            lines = [f"{speak_at(self.lesson.grid, b.bar, b.position)}: {b.why}" for b in found]
            blocks.append(_block(f"{level}: {counted(len(found), 'place')} nobody can play", lines))
        return "\n".join(blocks)

    def json(self) -> str:
        """The same as data."""
        from fourlimb.model.codec import to_plain

        levels = {
            level: {"playable": not found, "breaches": to_plain(found)} for level, found in self.breaches.items()
        }
        return json.dumps({"schema": "fourlimb/check/1", "levels": levels}, indent=1)


def verdict(lesson: Lesson) -> Verdict:
    """Ask the checker about every level."""
    from fourlimb import arrange

    return Verdict(
        lesson,
        {level: tuple(arrange.check(lesson.charts[level], lesson.grid, lesson.kit)) for level in LEVELS},
    )
