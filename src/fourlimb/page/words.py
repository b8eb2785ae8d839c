"""Sheet -> what the page says beside the music: the count, figures, differences, sections and landmarks."""

from fractions import Fraction
from typing import Any

from fourlimb.model import Sheet
from fourlimb.model.places import bar_length, beat_lengths, beat_starts

from .music import played

Mark = list[str | float]


def said(sheet: Sheet) -> list[dict[str, Any]]:
    """One entry per bar of the grid: its figure, the sentence that tells the figure, and the count line in places.

    Silence is no figure: its name is "".
    """
    from fourlimb.teach.figures import SILENT

    sentences = figure_sentences(sheet)
    figure_of = sheet.chart.figure_of
    entries = []
    for bar in sheet.grid.bars:
        figure = figure_of.get(bar.bar, "")
        entries.append(
            {
                "figure": "" if figure == SILENT else figure,
                "say": sentences.get(figure, ""),
                "first": figure in _firsts(sheet, bar.bar),
                "count": count_marks(sheet, bar.bar),
            }
        )
    return entries


def _firsts(sheet: Sheet, bar: int) -> set[str]:
    return {figure.name for figure in sheet.plan.figures if figure.first == bar}


def figure_sentences(sheet: Sheet) -> dict[str, str]:
    """What to say of each figure: how it differs from the known one it is told from, else which bars hold it."""
    from fourlimb.teach.say import say_bars

    told = {(d.from_, d.to): d.say for d in sheet.plan.differences}
    by = {step.figure: step.by or "" for step in sheet.plan.running_order}
    return {
        figure.name: told.get((by.get(figure.name, ""), figure.name)) or f"drums silent in {say_bars(figure.bars)}"
        for figure in sheet.plan.figures
    }


def count_marks(sheet: Sheet, bar: int) -> list[Mark]:
    """A bar's count line as [word, quarters] pairs, each at the place in the bar where it is said.

    The line counts every beat in even parts (or by the fractions played), so its words fall in order on the parts'
    places. A pickup's line opens with the numbers that are not played; they are left out. A line that does not fit
    its bar (a teacher's own words) is spread evenly.
    """
    line = sheet.plan.counts.get(bar, "").split()
    meter = sheet.grid.meter(bar)
    places = _said_places(sheet, bar)
    if not places or len(places) > len(line):
        places = [bar_length(meter) * Fraction(index, len(line)) for index in range(len(line))]
    marks = zip(line[len(line) - len(places) :], places, strict=True)
    return [[word, played(sheet.grid, bar, place)] for word, place in marks if word != "."]


def _said_places(sheet: Sheet, bar: int) -> list[Fraction]:
    """Where the words of a count line fall: positions in whole notes from the bar line."""
    from fourlimb.teach.count import parts_of

    meter = sheet.grid.meter(bar)
    struck = {stroke.position for stroke in sheet.chart.by_bar.get(bar, ())}
    found: list[Fraction] = []
    for start, length in zip(beat_starts(meter), beat_lengths(meter), strict=True):
        inside = {(at - start) / length for at in struck if start <= at < start + length}
        parts = parts_of(inside)
        shares = [Fraction(n, parts) for n in range(parts)] if parts else sorted(inside | {Fraction(0)})
        found += [start + share * length for share in shares]
    return found


def road(sheet: Sheet) -> dict[str, Any]:
    """Sections and landmarks by bar number; songs without sections have one, called by the song's own extent."""
    numbers = sheet.grid.numbers
    sections = [
        {"name": s.name, "from": s.from_bar, "to": s.to_bar, "like": s.like or "", "tacet": s.tacet}
        for s in sheet.sections
    ] or [{"name": "song", "from": numbers[0], "to": numbers[-1], "like": "", "tacet": False}]
    landmarks = [{"bar": mark.bar, "what": mark.what} for mark in sheet.landmarks if sheet.grid.has(mark.bar)]
    return {"sections": sections, "landmarks": landmarks}
