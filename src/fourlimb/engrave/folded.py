"""A sheet with what returns written once: repeat bar lines, endings, D.S. and coda.

`repeats` decides what is folded from what a player sees of each bar; here sheets become its keys and its answer
becomes a sheet again (`passes.FoldedSheet`). Sections that fall on one bar share its box; a cue that is heard on some
passes only says which. The song itself, MIDI and everything that counts bars stay as they are.
"""

from collections.abc import Hashable, Sequence
from itertools import pairwise

import msgspec

from fourlimb.model import Landmark, Section, Sheet
from fourlimb.model.grid import Bar, Beat, Grid
from fourlimb.model.tempo import tempo_marks

from .layout import Layout
from .marks import shown_feel
from .passes import FoldedSheet
from .repeats import Form, Mark, fold, played
from .simile import look


def written_form(sheet: Sheet, layout: Layout) -> Sheet:
    """The sheet as the layout wants it written: folded where it asks for repeats, else as it is."""
    return folded(sheet) if layout.repeats == "folded" else sheet


def folded(sheet: Sheet) -> Sheet:
    """The sheet with all that returns folded; the sheet itself where nothing does."""
    if isinstance(sheet, FoldedSheet) or len(sheet.grid.bars) < 2:
        return sheet
    numbers = sheet.grid.numbers
    starts = {section.from_bar for section in sheet.sections} | {next((n for n in numbers if n > 0), 1)}
    keys = _keys(sheet)
    states = [state for state, _ in keys]
    edges = [n for n, bar in enumerate(numbers) if bar in starts and bar > 0]
    form = fold(keys, edges, lambda form: _changes_show(form, states))
    if len(form.written) == len(numbers):
        return sheet
    passes = {numbers[bar]: tuple(numbers[n] for n in on) for bar, on in zip(form.written, form.passes, strict=True)}
    marks = {numbers[bar]: mark for bar, mark in zip(form.written, form.marks, strict=True)}
    return _short(sheet, passes, marks)


def _keys(sheet: Sheet) -> list[tuple[Hashable, Hashable]]:
    """What a player sees of each bar: its state (meter, tempo in force, feel), and every stroke as it looks."""
    tempi, tempo = tempo_marks(sheet.grid), 0.0
    found: list[tuple[Hashable, Hashable]] = []
    for bar in sheet.grid.bars:
        tempo = tempi.get(bar.bar, tempo)
        state = bar.meter, round(tempo), shown_feel(sheet, bar.bar)
        found.append((state, look(sheet.chart.by_bar.get(bar.bar, ()))))
    return found


def _changes_show(form: Form, states: Sequence[Hashable]) -> bool:
    """True when no pass begins in another meter, tempo or feel than it comes from without a sign that says so."""
    own = [states[bar] for bar in form.written]
    return all(
        own[before] == own[here] or here == 0 or own[here - 1] != own[here]
        for before, here in pairwise(played(form.marks))
    )


def _short(sheet: Sheet, passes: dict[int, tuple[int, ...]], marks: dict[int, Mark]) -> FoldedSheet:
    home = {bar: written for written, bars in passes.items() for bar in bars}
    chart = sheet.chart
    return FoldedSheet(
        song=sheet.song,
        level=sheet.level,
        chart=msgspec.structs.replace(
            chart,
            strokes=tuple(s for s in chart.strokes if s.bar in passes),
            bars=tuple(b for b in chart.bars if b.bar in passes),
        ),
        grid=_grid(sheet.grid, passes),
        kit=sheet.kit,
        plan=sheet.plan,
        sections=_sections(sheet.sections, home, passes),
        landmarks=_landmarks(sheet.landmarks, home, passes),
        doubts=tuple(sorted({home[bar] for bar in sheet.doubts if bar in home})),
        bar_marks=marks,
        passes=passes,
    )


def _grid(grid: Grid, kept: dict[int, tuple[int, ...]]) -> Grid:
    """The written bars one after the other, each as long as it is in the song."""
    bars: list[Bar] = []
    beats: list[Beat] = []
    at = grid.bars[0].start_s
    for bar in grid.bars:
        if bar.bar not in kept:
            continue
        shift = at - bar.start_s
        bars.append(msgspec.structs.replace(bar, start_s=round(at, 6)))
        beats += [
            msgspec.structs.replace(beat, time_s=round(beat.time_s + shift, 6))
            for beat in grid.beats
            if beat.bar == bar.bar
        ]
        at += grid.end(bar.bar) - bar.start_s
    return Grid(beats=tuple(beats), bars=tuple(bars), feel=grid.feel, end_s=round(at, 6))


def _sections(
    sections: Sequence[Section], home: dict[int, int], passes: dict[int, tuple[int, ...]]
) -> tuple[Section, ...]:
    """Sections at their written bars; those that fall on one bar under both their names."""
    found: dict[int, Section] = {}
    for section in sections:
        at = home.get(section.from_bar)
        if at is None:
            continue
        if at not in found:
            end = max((b for b in passes if at <= b <= at + section.to_bar - section.from_bar), default=at)
            found[at] = msgspec.structs.replace(section, from_bar=at, to_bar=end)
        elif section.name not in found[at].name.split(" · "):
            found[at] = msgspec.structs.replace(found[at], name=f"{found[at].name} · {section.name}")
    return tuple(found[at] for at in sorted(found))


def _landmarks(
    landmarks: Sequence[Landmark], home: dict[int, int], passes: dict[int, tuple[int, ...]]
) -> tuple[Landmark, ...]:
    """Cues at their written bars, each told with its pass unless every pass has it."""
    heard: dict[tuple[int, str], list[int]] = {}
    for mark in landmarks:
        if mark.bar in home:
            at = home[mark.bar]
            heard.setdefault((at, mark.what), []).append(passes[at].index(mark.bar) + 1)
    found = []
    for (at, what), turns in heard.items():
        every = len(set(turns)) == len(passes[at])
        said = what if every else f"{_turns(turns)} time: {what}"
        found.append(Landmark(bar=at, what=said))
    return tuple(found)


def _turns(turns: Sequence[int]) -> str:
    names = {1: "1st", 2: "2nd", 3: "3rd"}
    return ", ".join(names.get(turn, f"{turn}th") for turn in sorted(set(turns)))
