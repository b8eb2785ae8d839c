"""MusicXML percussion parts, ours or made elsewhere, read into strokes on a grid.

What varies between writers, and what is done: the sound comes from the note's instrument (`midi-unpitched`,
one-based), else the instrument's name, else its place and head on the staff; a pitched note in a percussion part is a
General MIDI key; an open sign makes a hat open. Repeats, endings, D.S., D.C. and coda are played out
(`playing_order`). A bar that only carries a repeat
sign gets the music it stands for. Durations rounded to ticks are replaced by what the note's type says. Ties do not
strike again.

Cannot do: sounds that the kit does not know, jumps whose sign is missing (both said in `notes`, never guessed).
"""

import xml.etree.ElementTree as ElementTree
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

import msgspec

from fourlimb.model import FeelSpan, Grid, InputError, Section, Sound, Stroke
from fourlimb.model.grid import from_tempi
from fourlimb.model.places import bar_length, split_meter

from .flow import Flow, playing_order, read_flow
from .notes import NoteReader, child, drum_parts, text_of
from .safexml import score_root

Element = ElementTree.Element


class Score(msgspec.Struct, frozen=True, kw_only=True):
    """What a MusicXML part holds. `notes` are sentences for the teacher about what could not be read."""

    title: str
    credits: tuple[str, ...]
    grid: Grid
    strokes: tuple[Stroke, ...]
    sections: tuple[Section, ...] = ()
    notes: tuple[str, ...] = ()


def read_musicxml(data: bytes, *, name: str) -> Score:
    """A MusicXML document (.musicxml or .mxl) as a `Score`. `name` is used in messages.

    Raises InputError, one line, when it is no MusicXML, unsafe, or holds no drums.
    """
    root = score_root(data, name)
    if root.tag not in ("score-partwise", "score-timewise"):
        raise InputError(f"{name} is not MusicXML (its root is <{root.tag[:40]}>): export it as MusicXML")
    parts = drum_parts(root)
    if not parts:
        raise InputError(f"{name} has no percussion part: export the score with its drum part")
    unknown: Counter[str] = Counter()
    notes: list[str] = []
    read = [_read_part(root, part, unknown, notes) for part in parts]
    main = max(read, key=lambda bars: sum(len(bar.strokes) for bar in bars))
    if not any(bar.strokes for bars in read for bar in bars):
        raise InputError(f"{name} has a percussion part without a single drum note: export it again")
    order, lost = playing_order([bar.flow for bar in main])
    notes += [
        f'{count} notes for "{what}" were left out: the kit has no such piece'
        for what, count in sorted(unknown.items())
    ]
    notes += lost
    return _assemble(root, read, main, order, notes)


@dataclass
class ReadBar:
    """One written measure."""

    meter: str
    length: Fraction
    strokes: list[Stroke] = field(default_factory=list)
    tempo: float | None = None
    rehearsal: str | None = None
    feel: str | None = None
    swing: tuple[float, str] | None = None
    zero: bool = False
    flow: Flow = field(default_factory=Flow)


def _measures(root: Element, part: str) -> list[Element]:
    if root.tag == "score-partwise":
        return [m for p in root.iter("part") if p.get("id") == part for m in p.findall("measure")]
    found = []
    for measure in root.findall("measure"):
        for inner in measure.findall("part"):
            if inner.get("id") == part:
                for name, value in measure.attrib.items():
                    inner.attrib.setdefault(name, value)
                found.append(inner)
    return found


def _read_part(root: Element, part: str, unknown: Counter[str], notes: list[str]) -> list[ReadBar]:
    reader = NoteReader(root, part, unknown)
    if reader.counts_from_zero:
        notes.append("the part counts its percussion keys from 0, the standard from 1: they were read from 0")
    bars: list[ReadBar] = []
    repeat_of = 0
    ending: frozenset[int] = frozenset()
    for index, measure in enumerate(_measures(root, part)):
        strokes, length = reader.measure(measure, index)
        bar = ReadBar(meter=reader.meter, length=length, strokes=strokes)
        bar.zero = index == 0 and measure.get("number") == "0"
        for style in measure.iter("measure-repeat"):
            repeat_of = _whole(style.text, 1) if style.get("type") == "start" else 0
        if repeat_of and not strokes and len(bars) >= repeat_of:
            bar.strokes = [msgspec.structs.replace(s, bar=index) for s in bars[-repeat_of].strokes]
        _directions(measure, bar)
        bar.flow, ending = read_flow(measure, ending)
        bars.append(bar)
    return bars


def _whole(text: str | None, default: int) -> int:
    try:
        return max(1, min(8, int((text or "").strip())))
    except ValueError:
        return default


def _directions(measure: Element, bar: ReadBar) -> None:
    for sound in measure.iter("sound"):
        tempo = _number(sound.get("tempo"))
        if tempo and bar.tempo is None:
            bar.tempo = tempo
        swing = child(sound, "swing")
        if swing is not None:
            first, second = _number(text_of(swing, "first")), _number(text_of(swing, "second"))
            share = first / (first + second) if first and second else 0.5
            bar.swing = (round(share, 3), "16th" if text_of(swing, "swing-type") == "16th" else "8th")
    if bar.tempo is None:
        bar.tempo = _metronome(measure)
    for rehearsal in measure.iter("rehearsal"):
        bar.rehearsal = (rehearsal.text or "").strip() or bar.rehearsal
    for words in measure.iter("words"):
        said = (words.text or "").lower()
        for feel, names in _FEELS.items():
            if any(name in said for name in names):
                bar.feel = feel


_FEELS: Final = {
    "half-time": ("half-time", "half time"),
    "double-time": ("double-time", "double time"),
    "straight": ("normal feel", "a tempo feel"),
}
_QUARTERS: Final = {"whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5, "16th": 0.25}


def _metronome(measure: Element) -> float | None:
    for mark in measure.iter("metronome"):
        beats = _number(text_of(mark, "per-minute"))
        unit = _QUARTERS.get(text_of(mark, "beat-unit"))
        if beats and unit:
            return beats * unit * (1.5 if child(mark, "beat-unit-dot") is not None else 1.0)
    return None


def _number(text: str | None) -> float | None:
    try:
        value = float(text or "")
    except ValueError:
        return None
    return value if 1e-3 < value < 1e4 else None


def _assemble(
    root: Element, read: Sequence[Sequence[ReadBar]], main: Sequence[ReadBar], order: Sequence[int], notes: list[str]
) -> Score:
    first = main[order[0]]
    short = first.length < bar_length(first.meter)
    pickup = len(order) > 1 and (first.zero or short)
    number = 0 if pickup else 1
    tempo = next((bar.tempo for bar in main if bar.tempo), 120.0)
    tempi: list[tuple[str, float]] = []
    strokes: list[Stroke] = []
    sections: list[tuple[int, str]] = []
    feels: list[tuple[int, str, float, str]] = []
    feel, swing = "straight", (0.5, "8th")
    for played, index in enumerate(order):
        bar = main[index]
        tempo = bar.tempo or tempo
        overfull = bar.length > bar_length(bar.meter)
        meter = _own_meter(bar) if (pickup and played == 0) or overfull else bar.meter
        here = number + played
        tempi.append((meter, tempo))
        for bars in read:
            for stroke in bars[index].strokes if index < len(bars) else ():
                if stroke.position < bar_length(meter):
                    strokes.append(msgspec.structs.replace(stroke, bar=here))
        if bar.rehearsal:
            sections.append((here, bar.rehearsal))
        feel, swing = bar.feel or feel, bar.swing or swing
        feels.append((here, feel, *swing))
    grid = from_tempi(tempi, first_bar=number)
    last = number + len(order) - 1
    return Score(
        title=(text_of(root, "work/work-title") or text_of(root, "movement-title") or _first_credit(root)),
        credits=_credits(root),
        grid=msgspec.structs.replace(grid, feel=_feel_spans(feels)),
        strokes=tuple(sorted(_once(strokes), key=lambda s: s.sort_key)),
        sections=_sections(sections, last, {s.bar for s in strokes}),
        notes=tuple(notes),
    )


def _own_meter(bar: ReadBar) -> str:
    """The meter of a pickup or an overfull bar: as long as it is, in the unit of its time signature."""
    unit = split_meter(bar.meter)[1]
    while (bar.length * unit).denominator > 1 and unit < 32:
        unit *= 2
    count = bar.length * unit
    return f"{count.numerator}/{unit}" if count.denominator == 1 else bar.meter


def _once(strokes: Sequence[Stroke]) -> list[Stroke]:
    """One stroke a piece and place, the first (two parts may double each other)."""
    found: dict[tuple[int, Fraction, Sound], Stroke] = {}
    for stroke in strokes:
        found.setdefault((stroke.bar, stroke.position, stroke.piece), stroke)
    return list(found.values())


def _sections(starts: Sequence[tuple[int, str]], last: int, played: set[int]) -> tuple[Section, ...]:
    out = []
    for index, (bar, name) in enumerate(starts):
        end = starts[index + 1][0] - 1 if index + 1 < len(starts) else last
        silent = not any(number in played for number in range(bar, end + 1))
        out.append(Section(name=name, from_bar=bar, to_bar=max(end, bar), tacet=silent))
    return tuple(out)


def _feel_spans(feels: Sequence[tuple[int, str, float, str]]) -> tuple[FeelSpan, ...]:
    spans: list[FeelSpan] = []
    for bar, feel, swing, unit in feels:
        if spans and (spans[-1].feel, spans[-1].swing, spans[-1].swing_unit) == (feel, swing, unit):
            spans[-1] = msgspec.structs.replace(spans[-1], to_bar=bar)
        else:
            spans.append(msgspec.convert(
                {"from_bar": bar, "to_bar": bar, "feel": feel, "swing": swing, "swing_unit": unit}, FeelSpan
            ))  # fmt: skip
    plain = all(s.feel == "straight" and s.swing == 0.5 for s in spans)
    return () if plain else tuple(spans)


def _first_credit(root: Element) -> str:
    words = next(root.iter("credit-words"), None)
    return (words.text or "").strip() if words is not None else ""


def _credits(root: Element) -> tuple[str, ...]:
    found = []
    for tag in ("creator", "rights"):
        for element in root.iter(tag):
            said = " ".join((element.text or "").split())
            kind = element.get("type", "")
            if said:
                found.append(f"{kind}: {said}" if kind not in ("", "credit") else said)
    return tuple(dict.fromkeys(found))
