"""Charts as MusicXML 4.0, written by ourselves: no library keeps which drum a note is.

One part; one score-instrument and midi-instrument per sound, and an instrument on every note. `midi-unpitched` counts
from 1 (W3C, MusicXML 4.0 reference), General MIDI keys from 0. Repeat signs and long rests are styles: the music
stands in full under them (W3C percussion tutorial). Hands are voice 1, feet voice 2; silence in the feet is a
`forward`. Hand letters are `fingering`; the limb and how a stroke is struck also stand in `play`, so that reading is
exact. `note@dynamics` is MIDI velocity as a percentage of 90, as the standard says.
"""

import io
import xml.etree.ElementTree as ElementTree
import zipfile
from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import gcd, lcm
from typing import Final

from fourlimb.model import Sheet, Stroke
from fourlimb.model.places import bar_length
from fourlimb.model.sounds import ORDER, say_sound
from fourlimb.model.tempo import tempo_marks

from .blocks import Block
from .counting import count_words
from .folded import written_form
from .form import lines
from .layout import Layout
from .marks import beat_unit, modulations, shown_meter
from .meidoc import write_bars
from .notate import Event, Voice, WrittenBar, slashes
from .passes import bar_before, mark_at
from .words import SWING_FROM, feel_words, printable
from .xmlbars import left_bar_line, right_bar_line, signs_after, signs_before
from .xmlgroups import beams_of, tuplet_edges
from .xmlnotes import (
    INSTRUMENT_SOUND,
    PART,
    TYPES,
    grace_notes,
    instrument_id,
    lyric,
    marks,
    notehead,
    place,
    play,
    tie_ends,
)

Element = ElementTree.Element
DOCTYPE: Final = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)

SIGNS: Final = {"repeat": 1, "pair": 2}
"""Bars that a repeat sign stands for."""


def musicxml(sheet: Sheet, layout: Layout | None = None) -> bytes:
    """The chart as an uncompressed MusicXML 4.0 document."""
    return _Writer(sheet, layout or Layout()).document()


def mxl(sheet: Sheet, layout: Layout | None = None) -> bytes:
    """The same, compressed as the standard's .mxl; the same sheet gives the same bytes."""
    container = (
        b'<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles><rootfile full-path="score.musicxml" '
        b'media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>\n'
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        parts = (
            ("mimetype", b"application/vnd.recordare.musicxml", zipfile.ZIP_STORED),
            ("META-INF/container.xml", container, zipfile.ZIP_DEFLATED),
            ("score.musicxml", musicxml(sheet, layout), zipfile.ZIP_DEFLATED),
        )
        for name, data, method in parts:
            info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            info.external_attr = 0o644 << 16
            archive.writestr(info, data, compress_type=method)
    return out.getvalue()


class _Writer:
    """One document being written."""

    def __init__(self, sheet: Sheet, layout: Layout) -> None:
        sheet = self._sheet = written_form(sheet, layout)
        self._written = write_bars(sheet, layout, trim=False)
        self._blocks: dict[int, Block] = {
            bar: block for line in lines(sheet, layout) for block in line.blocks for bar in block.bars
        }
        self._line_starts = {line.first for line in lines(sheet, layout)}
        self._tempi = tempo_marks(sheet.grid)
        self._equal = modulations(sheet)
        used = {(ORDER[s.piece], s.second, s.piece) for s in sheet.chart.strokes}
        self._pieces = [(piece, second) for _, second, piece in sorted(used)] or [("snare", False)]
        self._counts = {n: dict(count_words(sheet, n)) if layout.show_count else {} for n in sheet.grid.numbers}
        lengths = [e.slot.length for bar in self._written.values() for v in bar.voices for e in v.events]
        meters = [bar_length(bar.meter) for bar in sheet.grid.bars]
        self.divisions = lcm(1, *((length * 4).denominator for length in (*lengths, *meters)))

    def document(self) -> bytes:
        sheet = self._sheet
        root = Element("score-partwise", {"version": "4.0"})
        work = ElementTree.SubElement(root, "work")
        ElementTree.SubElement(work, "work-title").text = printable(sheet.song.title)
        identification = ElementTree.SubElement(root, "identification")
        for credit in sheet.song.credits:
            ElementTree.SubElement(identification, "creator", {"type": "credit"}).text = printable(credit)
        encoding = ElementTree.SubElement(identification, "encoding")
        ElementTree.SubElement(encoding, "software").text = "fourlimb"
        self._part_list(root)
        part = ElementTree.SubElement(root, "part", {"id": PART})
        for number in sheet.grid.numbers:
            part.append(self._measure(number))
        if not len(part):
            part.append(Element("measure", {"number": "1"}))
        body = ElementTree.tostring(root, encoding="unicode")
        return ('<?xml version="1.0" encoding="UTF-8"?>\n' + DOCTYPE + body + "\n").encode()

    def _part_list(self, root: Element) -> None:
        part = ElementTree.SubElement(ElementTree.SubElement(root, "part-list"), "score-part", {"id": PART})
        ElementTree.SubElement(part, "part-name").text = "Drum set"
        for piece, second in self._pieces:
            instrument = ElementTree.SubElement(part, "score-instrument", {"id": instrument_id(piece, second)})
            ElementTree.SubElement(instrument, "instrument-name").text = say_sound(piece, second=second)
            ElementTree.SubElement(instrument, "instrument-sound").text = INSTRUMENT_SOUND[piece]
        for piece, second in self._pieces:
            instrument = ElementTree.SubElement(part, "midi-instrument", {"id": instrument_id(piece, second)})
            ElementTree.SubElement(instrument, "midi-channel").text = "10"
            ElementTree.SubElement(instrument, "midi-program").text = "1"
            ElementTree.SubElement(instrument, "midi-unpitched").text = str(
                self._sheet.kit.midi(piece, second=second) + 1
            )

    def _measure(self, number: int) -> Element:
        sheet = self._sheet
        measure = Element("measure", {"number": str(number)})
        if number == 0:
            measure.set("implicit", "yes")
        first = number == sheet.grid.numbers[0]
        if not first and number in self._line_starts:
            ElementTree.SubElement(measure, "print", {"new-system": "yes"})
        left = left_bar_line(sheet, number)
        if left is not None:
            measure.append(left)
        self._attributes(measure, number, first)
        signs_before(measure, mark_at(sheet, number))
        self._directions(measure, number)
        bar = self._written[number]
        length = bar_length(bar.meter)
        if not bar.voices:
            note = ElementTree.SubElement(measure, "note")
            ElementTree.SubElement(note, "rest", {"measure": "yes"})
            ElementTree.SubElement(note, "duration").text = self._ticks(length)
            ElementTree.SubElement(note, "voice").text = "1"
        for index, voice in enumerate(bar.voices):
            if index:
                backup = ElementTree.SubElement(measure, "backup")
                ElementTree.SubElement(backup, "duration").text = self._ticks(length)
            self._voice(measure, voice, bar, index + 1)
        signs_after(measure, mark_at(sheet, number))
        right = right_bar_line(sheet, number, last=number == sheet.grid.numbers[-1])
        if right is not None:
            measure.append(right)
        return measure

    def _ticks(self, length: Fraction) -> str:
        ticks = length * 4 * self.divisions
        if ticks.denominator != 1:
            raise ValueError(f"{length} does not fall on the divisions {self.divisions}")
        return str(ticks.numerator)

    def _attributes(self, measure: Element, number: int, first: bool) -> None:
        found = Element("attributes")
        if first:
            ElementTree.SubElement(found, "divisions").text = str(self.divisions)
            ElementTree.SubElement(ElementTree.SubElement(found, "key"), "fifths").text = "0"
        now = shown_meter(self._sheet, number)
        last = bar_before(self._sheet, number)
        if last is None or now != shown_meter(self._sheet, last):
            count, _, unit = now.partition("/")
            time = ElementTree.SubElement(found, "time")
            ElementTree.SubElement(time, "beats").text = count
            ElementTree.SubElement(time, "beat-type").text = unit
        if first:
            clef = ElementTree.SubElement(found, "clef")
            ElementTree.SubElement(clef, "sign").text = "percussion"
        for style in self._styles(number):
            ElementTree.SubElement(found, "measure-style").append(style)
        if len(found):
            measure.append(found)

    def _styles(self, number: int) -> Iterable[Element]:
        last = bar_before(self._sheet, number)
        block, before = self._blocks.get(number), None if last is None else self._blocks.get(last)
        now = SIGNS.get(block.kind, 0) if block else 0
        then = SIGNS.get(before.kind, 0) if before else 0
        if then and now != then:
            yield Element("measure-repeat", {"type": "stop"})
        if now and now != then:
            style = Element("measure-repeat", {"type": "start"} | ({"slashes": "2"} if now == 2 else {}))
            style.text = str(now)
            yield style
        if block is not None and block.kind == "rest" and block.bar == number:
            style = Element("multiple-rest")
            style.text = str(block.count)
            yield style

    def _directions(self, measure: Element, number: int) -> None:
        sheet = self._sheet
        for section in sheet.sections:
            if section.from_bar == number:
                mark = ElementTree.SubElement(self._direction(measure), "rehearsal", {"enclosure": "rectangle"})
                mark.text = printable(section.name)
        self._tempo(measure, number)
        said = feel_words(sheet, number)
        if said:
            ElementTree.SubElement(self._direction(measure), "words").text = said
            self._swing(measure, number)
        for landmark in sheet.landmarks:
            if landmark.bar == number:
                words = ElementTree.SubElement(self._direction(measure), "words", {"font-style": "italic"})
                words.text = printable(landmark.what)

    def _direction(self, measure: Element) -> Element:
        direction = ElementTree.SubElement(measure, "direction", {"placement": "above"})
        return ElementTree.SubElement(direction, "direction-type")

    def _tempo(self, measure: Element, number: int) -> None:
        """A metronome mark where the tempo steps; a sound tempo wherever it moves at all."""
        if number in self._equal:
            mark = ElementTree.SubElement(self._direction(measure), "metronome")
            for value, dotted in self._equal[number]:
                _beat_unit(mark, value, dotted)
        quarters = quarter_bpm(self._sheet, number)
        if number in self._tempi:
            kind = self._direction(measure)
            mark = ElementTree.SubElement(kind, "metronome")
            _beat_unit(mark, *beat_unit(shown_meter(self._sheet, number)))
            ElementTree.SubElement(mark, "per-minute").text = str(round(self._tempi[number]))
            direction = measure[-1]
            ElementTree.SubElement(direction, "sound", {"tempo": quarters})
        elif (last := bar_before(self._sheet, number)) is None or quarters != quarter_bpm(self._sheet, last):
            ElementTree.SubElement(measure, "sound", {"tempo": quarters})

    def _swing(self, measure: Element, number: int) -> None:
        feel = self._sheet.grid.feel_of(number)
        sound = ElementTree.SubElement(measure[-1], "sound")
        swing = ElementTree.SubElement(sound, "swing")
        if feel.swing < SWING_FROM:
            ElementTree.SubElement(swing, "straight")
            return
        first, second = swing_ratio(feel.swing)
        ElementTree.SubElement(swing, "first").text = str(first)
        ElementTree.SubElement(swing, "second").text = str(second)
        ElementTree.SubElement(swing, "swing-type").text = "eighth" if feel.swing_unit == "8th" else "16th"

    def _voice(self, measure: Element, voice: Voice, bar: WrittenBar, number: int) -> None:
        beams = beams_of(voice.events)
        for index, event in enumerate(voice.events):
            if event.hidden:
                forward = ElementTree.SubElement(measure, "forward")
                ElementTree.SubElement(forward, "duration").text = self._ticks(event.slot.length)
                ElementTree.SubElement(forward, "voice").text = str(number)
                continue
            edges = tuplet_edges(voice.events, index)
            for note in self._notes(event, voice, bar, number, beams.get(index, ()), edges):
                measure.append(note)

    def _notes(
        self,
        event: Event,
        voice: Voice,
        bar: WrittenBar,
        number: int,
        beams: Sequence[str],
        edges: Sequence[str],
    ) -> Iterable[Element]:
        stem = "down" if voice.name == "feet" else "up"
        counted = self._counts.get(bar.bar, {})
        if not event.heads:
            note = Element("note")
            ElementTree.SubElement(note, "rest")
            ElementTree.SubElement(note, "duration").text = self._ticks(event.slot.length)
            self._timing(note, event, number)
            self._notations(note, (), edges, event)
            lyric(note, 1, "count", counted.get(event.slot.start, "") if number == 1 else "")
            yield note
            return
        yield from grace_notes(event.heads, self._sheet.kit, number)
        for index, stroke in enumerate(event.heads):
            note = Element("note", {"dynamics": f"{stroke.velocity / 0.9:.2f}"})
            if index:
                ElementTree.SubElement(note, "chord")
            place(note, stroke, self._sheet.kit)
            ElementTree.SubElement(note, "duration").text = self._ticks(event.slot.length)
            for kind in tie_ends(event, stroke):
                ElementTree.SubElement(note, "tie", {"type": kind})
            ElementTree.SubElement(note, "instrument", {"id": instrument_id(stroke.piece, stroke.second)})
            self._timing(note, event, number)
            ElementTree.SubElement(note, "stem").text = stem
            notehead(note, stroke, self._sheet.kit)
            for level, state in enumerate(beams if index == 0 else (), start=1):
                ElementTree.SubElement(note, "beam", {"number": str(level)}).text = state
            self._notations(note, (stroke,), edges if index == 0 else (), event, bar)
            if not index and number == 1:
                lyric(note, 1, "count", counted.get(event.slot.start, ""))
            lyric(note, 2, "words", stroke.word)
            if stroke.position == event.slot.start:  # a head that goes on has said all where it began
                play(note, stroke, self._sheet.kit)
            yield note

    def _timing(self, note: Element, event: Event, number: int) -> None:
        slot = event.slot
        ElementTree.SubElement(note, "voice").text = str(number)
        ElementTree.SubElement(note, "type").text = TYPES[slot.value]
        for _ in range(slot.dots):
            ElementTree.SubElement(note, "dot")
        if slot.tuplet:
            change = ElementTree.SubElement(note, "time-modification")
            ElementTree.SubElement(change, "actual-notes").text = str(slot.tuplet.actual)
            ElementTree.SubElement(change, "normal-notes").text = str(slot.tuplet.normal)
            ElementTree.SubElement(change, "normal-type").text = TYPES[slot.tuplet.unit.denominator]

    def _notations(
        self,
        note: Element,
        strokes: Sequence[Stroke],
        edges: Sequence[str],
        event: Event,
        bar: WrittenBar | None = None,
    ) -> None:
        found = Element("notations")
        for edge in edges:
            bracket = {"bracket": "no" if event.slot.beam is not None else "yes"} if edge == "start" else {}
            ElementTree.SubElement(found, "tuplet", {"type": edge, **bracket})
        for stroke in strokes:
            for kind in tie_ends(event, stroke):
                ElementTree.SubElement(found, "tied", {"type": kind})
            closes = bar is not None and stroke.piece == "hat_closed" and stroke.position in bar.closes
            marks(found, stroke, closes=closes, slashes=slashes(event))
        if len(found):
            note.append(found)


def _beat_unit(mark: Element, value: int, dotted: bool) -> None:
    ElementTree.SubElement(mark, "beat-unit").text = TYPES[value]
    if dotted:
        ElementTree.SubElement(mark, "beat-unit-dot")


def quarter_bpm(sheet: Sheet, number: int) -> str:
    """Quarter notes a minute of one bar, from where it starts and ends."""
    grid = sheet.grid
    seconds = grid.end(number) - grid.at(number).start_s
    length = float(bar_length(grid.meter(number)))
    if seconds <= 0:
        return "120"
    return f"{length * 240.0 / seconds:.4f}".rstrip("0").rstrip(".")


def swing_ratio(share: float) -> tuple[int, int]:
    """The share of a pair's first part as smallest whole numbers: 0.667 -> (2, 1), 0.6 -> (3, 2)."""
    found = Fraction(share).limit_denominator(12)
    first, second = found.numerator, found.denominator - found.numerator
    common = gcd(first, second) or 1
    return first // common, max(second // common, 1)
