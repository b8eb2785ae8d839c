"""Voices -> MEI 5. One builder for the file we hand out and for the single lines we have engraved.

Conventions: positions of heads are `loc` (steps above the bottom line). Every measure, note, chord, rest and repeat
carries our own xml:id, so that what comes back from the engraver can be checked and found again. Stem directions are
always written: left alone, the engraver turns stems below a silent second voice.
"""

import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Final

from fourlimb.model import Kit, Sheet, Stroke
from fourlimb.model.recent import Recent

from .blocks import Block, Line, block_units
from .folded import written_form
from .form import lines, section_groups
from .hats import closing_strokes
from .heads import RIMSHOT_SHAPE, SHAPE
from .layout import ORDINARY, Layout
from .marks import shown_meter
from .meities import inner_ties, outer_ties
from .meiwords import ScoreWords
from .notate import (
    Event,
    Voice,
    WrittenBar,
    is_groove,
    place_of,
    rest_line,
    short_values,
    slashes,
    tied_on,
    write_bar,
)
from .passes import bar_before, mark_at
from .spacing import spacer, step_of
from .spell import Tuplet
from .words import grace_steps, printable
from .xmltext import xml_text

Element = ElementTree.Element
NAMESPACE: Final = "http://www.music-encoding.org/ns/mei"
ID: Final = "xml:id"


def mei(sheet: Sheet, layout: Layout = ORDINARY) -> bytes:
    """The whole chart as MEI 5.1, as drawn, with its words (tempo, sections, cues, letters)."""
    sheet = written_form(sheet, layout)
    root, section, score_def = _frame(sheet.song.title or "Drum chart")
    first = shown_meter(sheet, sheet.grid.numbers[0]) if sheet.grid.bars else "4/4"
    for name, value in _meter(first).items():
        score_def.set(name, value)
    words = ScoreWords(sheet, layout)
    written = write_bars(sheet, layout)
    meter = first
    done: dict[int, Element] = {}
    for index, line in enumerate(lines(sheet, layout)):
        if index:
            ElementTree.SubElement(section, "sb")
        for block in line.blocks:
            now = shown_meter(sheet, block.bar)
            if now != meter:
                ElementTree.SubElement(section, "scoreDef", _meter(now))
                meter = now
            measure = measure_of(sheet, block, written, f"bar{block.bar}", None)
            words.add(measure, block)
            _bar_lines(measure, sheet, block)
            if block.kind == "written":
                done[block.bar] = measure
            _into_ending(section, sheet, block).append(measure)
    outer_ties(done, written, {bar: f"bar{bar}" for bar in done})
    measures = list(section.iter("measure"))
    if measures and measures[-1].get("right") != "rptend":
        measures[-1].set("right", "end")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{xml_text(root)}\n'.encode()


def line_mei(
    sheet: Sheet, line: Line, written: Mapping[int, WrittenBar], *, show_meter: bool, final: bool, wide: float
) -> bytes:
    """One line as a document of its own, without words.

    Ids count from the line's head, so that equal lines are equal text. A meter is written only where it is to be
    seen. Columns are kept even by a silent third layer.
    """
    root, section, _ = _frame("")
    ElementTree.SubElement(section, "pb")
    ElementTree.SubElement(section, "sb")
    step = step_of(sheet, line)
    for index, block in enumerate(line.blocks):
        meter = shown_meter(sheet, block.bar)
        last = bar_before(sheet, block.bar)
        before = None if last is None else shown_meter(sheet, last)
        if (index == 0 and show_meter) or (index > 0 and meter != before):
            ElementTree.SubElement(section, "scoreDef", _meter(meter))
        measure = measure_of(sheet, block, written, f"b_{index}", step)
        for long_rest in measure.iter("multiRest"):
            share = wide * block_units(block) / line.units - 1000
            long_rest.set("width", str(max(20, round(0.8 * share / 90))))
        starts_section = any(s.from_bar == block.bars[-1] + 1 for s in sheet.sections)
        if final and index == len(line.blocks) - 1:
            measure.set("right", "end")
        elif starts_section:
            measure.set("right", "dbl")
        _bar_lines(measure, sheet, block)
        section.append(measure)
    names = {block.bar: f"b_{index}" for index, block in enumerate(line.blocks) if block.kind == "written"}
    own = list(section.iter("measure"))
    outer_ties({bar: own[int(name[2:])] for bar, name in names.items()}, written, names)
    return xml_text(root).encode()


def measure_of(
    sheet: Sheet, block: Block, written: Mapping[int, WrittenBar], name: str, step: Fraction | None
) -> Element:
    """One measure. `name` begins its ids; `step` asks for the silent layer that keeps columns even."""
    measure = Element("measure", {ID: name, "n": str(block.bar) if step is None else "1"})
    if block.bar == 0:
        measure.set("metcon", "false")
        measure.set("type", "pickup")
    staff = ElementTree.SubElement(measure, "staff", {"n": "1"})
    if block.kind == "pair":
        ElementTree.SubElement(_layer(staff, 1), "multiRpt", {ID: f"{name}.r", "num": "2"})
        if step:
            spacer(_layer(staff, 3), sheet.grid.meter(block.bar), (), step / 2)
        return measure
    if block.kind == "repeat":
        ElementTree.SubElement(_layer(staff, 1), "mRpt", {ID: f"{name}.r", "num.visible": "false"})
        if step:
            # on a line of eight a sign needs one column only: the room goes to the bars that are written out
            wide = step if block.units == 1 else sheet.grid.length(block.bar)
            spacer(_layer(staff, 3), sheet.grid.meter(block.bar), (), wide)
        return measure
    if block.kind == "rest":
        ElementTree.SubElement(
            _layer(staff, 1), "multiRest", {ID: f"{name}.r", "num": str(block.count), "width": "40"}
        )
        return measure
    bar = written[block.bar]
    if not bar.voices:
        ElementTree.SubElement(_layer(staff, 1), "mRest", {ID: f"{name}.r"})
    for number, voice in enumerate(bar.voices, start=1):
        layer = _layer(staff, number)
        _fill(layer, voice, bar, sheet.kit, f"{name}.{voice.name[0]}")
        if step is None:
            _sing(layer, voice, f"{name}.{voice.name[0]}")
    if step:
        spacer(_layer(staff, 3), bar.meter, bar.voices, step, bar.start)
    inner_ties(measure, bar, name)
    return measure


def _into_ending(section: Element, sheet: Sheet, block: Block) -> Element:
    """Where a measure goes: the section, or the ending of a repeat that it belongs to."""
    passes = mark_at(sheet, block.bar).ending
    if not passes:
        return section
    name = ", ".join(map(str, passes))
    before = mark_at(sheet, bar_before(sheet, block.bar) or 0).ending
    if before == passes and len(section) and section[-1].tag == "ending":
        return section[-1]
    return ElementTree.SubElement(section, "ending", {"n": name, "lendsym": "angledown"})


def _bar_lines(measure: Element, sheet: Sheet, block: Block) -> None:
    """Repeat bar lines, and the double ones where a jump leaves the page."""
    first, last = mark_at(sheet, block.bar), mark_at(sheet, block.bars[-1])
    if first.start:
        measure.set("left", "rptstart")
    if last.end:
        measure.set("right", "rptend")
    elif last.fine:
        measure.set("right", "end")
    elif (last.jump or last.to_coda) and measure.get("right") != "end":
        measure.set("right", "dbl")


def write_bars(sheet: Sheet, layout: Layout, *, trim: bool = True, alone: bool = False) -> dict[int, WrittenBar]:
    """Every bar as written, with the closed-hat signs that what went before asks for.

    `trim`: a pickup starts at the beat of its first stroke, whatever silence the grid has before it. `alone`: each
    bar will be seen by itself, so a hat left open in the bar before closes nothing in it.
    """
    asked = layout.voices, layout.beam_halves, layout.show_close, trim, alone
    return dict(_written.ask(lambda: _write_bars(sheet, layout, trim, alone), sheet, *asked))


_written: Final[Recent[dict[int, WrittenBar]]] = Recent(8)


def _write_bars(sheet: Sheet, layout: Layout, trim: bool, alone: bool) -> dict[int, WrittenBar]:
    out: dict[int, WrittenBar] = {}
    before: tuple[Stroke, ...] = ()
    for group in section_groups(sheet):
        played = {n: sheet.chart.by_bar.get(n, ()) for n in group}
        short = any(short_values(sheet.grid.meter(n), strokes, sheet.kit) for n, strokes in played.items())
        grooves = any(is_groove(sheet.grid.meter(n), strokes) for n, strokes in played.items())
        for number, strokes in played.items():
            bar = write_bar(
                number, sheet.grid.meter(number), strokes, sheet.kit, layout, short=short, grooves=grooves, trim=trim
            )
            if layout.show_close:
                bar = replace(bar, closes=closing_strokes(strokes, () if alone else before))
            out[number], before = bar, strokes
    return tied_on(out)


def event_id(name: str, index: int) -> str:
    """The id of a voice's event."""
    return f"{name}{index}"


def _frame(title: str) -> tuple[Element, Element, Element]:
    root = Element("mei", {"xmlns": NAMESPACE, "meiversion": "5.1"})
    head = ElementTree.SubElement(root, "meiHead")
    description = ElementTree.SubElement(head, "fileDesc")
    statement = ElementTree.SubElement(description, "titleStmt")
    ElementTree.SubElement(statement, "title").text = printable(title)
    ElementTree.SubElement(description, "pubStmt")
    music = ElementTree.SubElement(root, "music")
    division = ElementTree.SubElement(ElementTree.SubElement(music, "body"), "mdiv")
    score = ElementTree.SubElement(division, "score")
    score_def = ElementTree.SubElement(score, "scoreDef")
    group = ElementTree.SubElement(score_def, "staffGrp")
    ElementTree.SubElement(group, "staffDef", {"n": "1", "lines": "5", "clef.shape": "perc", "clef.line": "3"})
    return root, ElementTree.SubElement(score, "section"), score_def


def _meter(meter: str) -> dict[str, str]:
    count, _, unit = meter.partition("/")
    return {"meter.count": count, "meter.unit": unit}


def _layer(staff: Element, number: int) -> Element:
    return ElementTree.SubElement(staff, "layer", {"n": str(number)})


def _fill(layer: Element, voice: Voice, bar: WrittenBar, kit: Kit, name: str) -> None:
    """Events into a layer, wrapped in tuplets and beams."""
    direction = "down" if voice.name == "feet" else "up"
    tuplet: Tuplet | None = None
    tuplet_at = layer
    beam: int | None = None
    beam_at = layer
    for index, event in enumerate(voice.events):
        slot = event.slot
        if slot.tuplet != tuplet:
            tuplet = slot.tuplet
            tuplet_at = layer if tuplet is None else _tuplet(layer, tuplet, voice, bar)
            beam, beam_at = None, tuplet_at
        own = event_id(name, index)
        starts = slot.beam != beam or slot.beam is None
        if starts:  # small notes stand before a beam that begins with their main note: inside they would join it
            _graces(tuplet_at, event.heads, kit, own)
            beam = slot.beam
            beam_at = tuplet_at if beam is None else ElementTree.SubElement(tuplet_at, "beam")
        else:
            _graces(beam_at, event.heads, kit, own)
        _event(beam_at, event, bar, kit, own, direction)


def _sing(layer: Element, voice: Voice, name: str) -> None:
    """Words said to the rhythm, as a verse of their notes."""
    said = {
        event_id(name, index): next((s.word for s in event.heads if s.word), "")
        for index, event in enumerate(voice.events)
    }
    for element in list(layer.iter()):
        if word := said.get(element.get(ID, ""), ""):
            syllable = ElementTree.SubElement(ElementTree.SubElement(element, "verse", {"n": "1"}), "syl")
            syllable.text = printable(word)


def _tuplet(layer: Element, tuplet: Tuplet, voice: Voice, bar: WrittenBar) -> Element:
    inside = [event for event in voice.events if event.slot.tuplet == tuplet]
    beams = {event.slot.beam for event in inside}
    whole = len(beams) == 1 and None not in beams
    below = voice.name == "feet" and len(bar.voices) == 2
    copied = below and any(e.slot.tuplet == tuplet for e in bar.voices[0].events)
    attributes = {
        "num": str(tuplet.actual),
        "numbase": str(tuplet.normal),
        "num.place": "below" if below else "above",
        "bracket.place": "below" if below else "above",
        "num.visible": "false" if copied else "true",
        "bracket.visible": "false" if copied or whole else "true",
    }
    return ElementTree.SubElement(layer, "tuplet", attributes)


def _event(parent: Element, event: Event, bar: WrittenBar, kit: Kit, name: str, direction: str) -> None:
    slot = event.slot
    timing = {"dur": str(slot.value)} | ({"dots": str(slot.dots)} if slot.dots else {})
    if not event.heads:
        kind = "space" if event.hidden else "rest"
        place = {} if event.hidden else {"loc": str(rest_line(event, bar, kit))}
        ElementTree.SubElement(parent, kind, {ID: name, **timing, **place})
        return
    stem = {"stem.dir": direction}
    if any(s.struck == "buzz" for s in event.heads):
        stem["stem.mod"] = "z"
    elif strokes := slashes(event):
        stem["stem.mod"] = f"{strokes}slash"
    if slot.split:
        stem["breaksec"] = "1"
    if len(event.heads) == 1:
        note = ElementTree.SubElement(parent, "note", {ID: name, **timing, **stem, **_head(event.heads[0], kit)})
        _marks(note, event.heads, bar, direction)
        return
    chord = ElementTree.SubElement(parent, "chord", {ID: name, **timing, **stem})
    for index, stroke in enumerate(event.heads):
        ElementTree.SubElement(chord, "note", {ID: f"{name}.{index}", **_head(stroke, kit)})
    _marks(chord, event.heads, bar, direction)


def _head(stroke: Stroke, kit: Kit) -> dict[str, str]:
    place = place_of(kit, stroke)
    found = {"loc": str(place.line)}
    shape = RIMSHOT_SHAPE if stroke.struck == "rimshot" else SHAPE[place.head]
    if shape:
        found["head.shape"] = shape
    types = ["triangle"] if place.head == "triangle" else []
    if stroke.struck == "let_ring":
        types.append("let-ring")
    if types:
        found["type"] = " ".join(types)
    if stroke.ghost:
        found["head.mod"] = "paren"
    return found


def _graces(parent: Element, heads: Sequence[Stroke], kit: Kit, name: str) -> None:
    steps = grace_steps(heads)
    if not steps:
        return
    single = len(steps) == 1
    group = ElementTree.SubElement(parent, "graceGrp", {"slash": "true"} if single else {})
    into = group if single else ElementTree.SubElement(group, "beam")
    for index, together in enumerate(steps):
        timing = {"dur": "8" if single else "16", "grace": "unacc", "stem.dir": "up"}
        if single:
            timing["stem.mod"] = "1slash"
        lines = sorted({place_of(kit, stroke).line for stroke in together})
        if len(lines) == 1:
            ElementTree.SubElement(into, "note", {ID: f"{name}.g{index}", **timing, "loc": str(lines[0])})
            continue
        chord = ElementTree.SubElement(into, "chord", {ID: f"{name}.g{index}", **timing})
        for number, line in enumerate(lines):
            ElementTree.SubElement(chord, "note", {ID: f"{name}.g{index}.{number}", "loc": str(line)})


def _marks(parent: Element, heads: Sequence[Stroke], bar: WrittenBar, direction: str) -> None:
    """Open, closed, choke and accent signs, nearest first."""
    place = "below" if direction == "down" else "above"
    signs = []
    half = any(s.struck == "half_open" for s in heads)
    if half or any(s.piece == "hat_open" or s.struck == "foot_splash" for s in heads):
        signs.append("open")
    if any(s.piece == "hat_closed" and s.position in bar.closes for s in heads):
        signs.append("stop")
    if any(s.struck == "choke" for s in heads):
        signs.append("stacc")
    if any(s.accent for s in heads):
        signs.append("acc")
    for sign in signs:
        kind = {"type": "half-open"} if sign == "open" and half else {}
        ElementTree.SubElement(parent, "artic", {"artic": sign, "place": place, **kind})
