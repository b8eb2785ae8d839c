"""Words of the MEI file that is handed out: tempo, feel, sections, cues, jumps, count and letters.

The drawing has its own (`lettering`): words are set there by hand, here they are only said where they stand.
"""

import xml.etree.ElementTree as ElementTree
from fractions import Fraction
from typing import Final

from fourlimb.model import Sheet
from fourlimb.model.places import split_meter
from fourlimb.model.tempo import tempo_marks

from .blocks import Block
from .counting import count_words
from .layout import Layout
from .marks import beat_unit, modulations, shown_meter
from .passes import mark_at
from .words import end_words, feel_words, foot_letters, grace_letters, printable

Element = ElementTree.Element


class ScoreWords:
    """The words of the file we hand out."""

    def __init__(self, sheet: Sheet, layout: Layout) -> None:
        self._sheet, self._layout = sheet, layout
        self._tempi = tempo_marks(sheet.grid)
        self._equal = modulations(sheet)
        self._sections = {s.from_bar: s.name for s in sheet.sections}

    def add(self, measure: Element, block: Block) -> None:
        """All that is said at one measure."""
        sheet, bar = self._sheet, block.bar
        if bar in self._equal:
            old, new = (_say_value(*value) for value in self._equal[bar])
            self._direction(measure, "tempo", "1", f"{old} = {new}")
        if bar in self._tempi:
            value, dotted = beat_unit(shown_meter(sheet, bar))
            quarters = self._tempi[bar] * (6 if dotted else 4) / value
            said = f"{_say_value(value, dotted)} = {round(self._tempi[bar])}"
            mark = self._direction(measure, "tempo", "1", said)
            mark.set("midi.bpm", f"{quarters:.3f}")
        if bar in self._sections:
            self._direction(measure, "reh", "1", self._sections[bar])
        if words := feel_words(sheet, bar):
            self._direction(measure, "dir", "1", words)
        for sign in ("segno", "coda"):
            if getattr(mark_at(sheet, bar), sign):
                ElementTree.SubElement(
                    measure, "repeatMark", {"staff": "1", "tstamp": "1", "func": sign, "place": "above"}
                )
        _, unit = split_meter(sheet.grid.meter(block.bars[-1]))
        end = f"{float(1 + sheet.grid.length(block.bars[-1]) * unit):g}"
        for text in end_words(mark_at(sheet, block.bars[-1])):
            self._direction(measure, "dir", end, text)
        for landmark in sheet.landmarks:
            if landmark.bar in block.bars and self._layout.show_cues:
                self._direction(measure, "dir", "1", landmark.what)
        if block.kind == "written":
            if self._layout.show_count:
                for position, said in count_words(sheet, bar):
                    self._direction(measure, "dir", self._tstamp(bar, position), said, place="below")
            if self._layout.show_sticking:
                self._letters(measure, bar)

    def _letters(self, measure: Element, bar: int) -> None:
        for stroke in self._sheet.chart.by_bar.get(bar, ()):
            if stroke.letter:
                at = self._tstamp(bar, stroke.position)
                self._direction(measure, "dir", at, grace_letters(stroke), place="below")
        for position, letter in foot_letters(self._sheet, bar):
            self._direction(measure, "dir", self._tstamp(bar, position), letter, place="below")

    def _tstamp(self, bar: int, position: Fraction) -> str:
        """Beats of the meter's unit, counted from 1."""
        _, unit = split_meter(self._sheet.grid.meter(bar))
        return f"{float(1 + position * unit):.4f}".rstrip("0").rstrip(".")

    def _direction(self, measure: Element, kind: str, at: str, text: str, place: str = "above") -> Element:
        found = ElementTree.SubElement(measure, kind, {"staff": "1", "tstamp": at, "place": place})
        found.text = printable(text)
        return found


def _say_value(value: int, dotted: bool) -> str:
    return f"{'dotted ' if dotted else ''}{_SAY_UNIT.get(value, f'1/{value}')}"


_SAY_UNIT: Final = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th"}
