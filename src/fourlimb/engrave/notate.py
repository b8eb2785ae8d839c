"""Strokes of a bar -> voices of slots with heads: what every writer (MEI, MusicXML) and the drawing share.

Two voices (hands stems up, feet stems down) or one (all stems up), chosen bar by bar: a bar with a running
time-keeper is a groove and takes two voices; a fill or a figure in unison takes one. Both schools are in print; the
choice is `Layout.voices`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, Literal

from msgspec.structs import replace as replace_stroke

from fourlimb.model import Kit, Sound, StaffPlace, Stroke
from fourlimb.model.places import beat_lengths, beat_starts
from fourlimb.model.rolls import roll_ends
from fourlimb.model.sounds import CYMBALS, TIMEKEEPERS, TOMS

from .layout import Layout, VoiceChoice
from .spell import Slot, spell

Struck = tuple[Sound, bool]
"""What is struck: a piece, and whether the second of its kind."""

VoiceName = Literal["hands", "feet", "all"]

GROOVE_SHARE: Final = 0.5
"""Least share of beats with a time-keeper that makes a bar a groove (ours)."""


@dataclass(frozen=True)
class Event:
    """A slot and what is struck there, lowest head first. `hidden`: a silence that is not printed.

    `held` are the heads of rolls that go on from the event before, `holds` of those that go on in the next (or in the
    next bar): the strokes of both hang on ties. A head that is held stands for no stroke of its own.
    """

    slot: Slot
    heads: tuple[Stroke, ...] = ()
    hidden: bool = False
    held: frozenset[Struck] = frozenset()
    holds: frozenset[Struck] = frozenset()


@dataclass(frozen=True)
class Voice:
    """One line of events that fills the bar."""

    name: VoiceName
    events: tuple[Event, ...]


@dataclass(frozen=True)
class WrittenBar:
    """One bar ready to be written; no voices: a bar of rest.

    `closes`: positions of closed-hat strokes that carry the closed sign. `start`: where a pickup begins.
    """

    bar: int
    meter: str
    voices: tuple[Voice, ...]
    closes: frozenset[Fraction] = frozenset()
    start: Fraction = Fraction(0)


def write_bar(
    bar: int,
    meter: str,
    strokes: Sequence[Stroke],
    kit: Kit,
    layout: Layout,
    *,
    short: bool = False,
    grooves: bool = False,
    trim: bool = True,
) -> WrittenBar:
    """The voices of one bar. `strokes` in song order.

    `short`: sixteenths stand near, so eighths are beamed by beats. `grooves`: the section around is written in two
    voices. A pickup (bar 0) is written from the beat of its first stroke on, unless `trim` is off.
    """
    if not strokes:
        return WrittenBar(bar, meter, ())
    found = _voices_of(bar, meter, strokes, kit, layout, short, grooves)
    if bar != 0 or not trim:
        return found
    start = max(at for at in beat_starts(meter) if at <= strokes[0].position)
    voices = tuple(
        replace(voice, events=tuple(e for e in voice.events if e.slot.start + e.slot.length > start))
        for voice in found.voices
    )
    return replace(found, voices=voices, start=start)


def place_of(kit: Kit, stroke: Stroke) -> StaffPlace:
    """Where a stroke stands by the kit's key."""
    return kit.place(stroke.piece, second=stroke.second)


def rest_line(event: Event, bar: WrittenBar, kit: Kit) -> int:
    """Where a rest stands, steps over the bottom line: on the middle line, higher where a foot plays under it.

    Those of feet stand under what the hands play meanwhile.
    """
    start, end = event.slot.start, event.slot.start + event.slot.length
    if any(event is own for voice in bar.voices[1:] for own in voice.events):
        over = [e for e in bar.voices[0].events if start < e.slot.start + e.slot.length and e.slot.start < end]
        return min([0, *(place_of(kit, head).line - 5 for e in over for head in e.heads)])
    under = [e for v in bar.voices[1:] for e in v.events if e.heads]
    higher = 8 if event.slot.value >= 16 else 6
    return higher if any(start < e.slot.start + e.slot.length and e.slot.start < end for e in under) else 4


def slashes(event: Event) -> int:
    """Slashes on the stem of a measured roll: as many as its strokes have flags more than the note itself has."""
    roll = max((stroke.roll for stroke in event.heads), default=0)
    if roll < 8:
        return 0
    return max(0, min(5, roll.bit_length() - max(event.slot.value, 4).bit_length()))


def short_values(meter: str, strokes: Sequence[Stroke], kit: Kit) -> bool:
    """True when a bar holds anything shorter than an eighth."""
    lines = [[s.position for s in strokes if place_of(kit, s).voice == voice] for voice in ("hands", "feet")]
    return any(slot.value > 8 for line in lines for slot in spell(meter, line) if slot.sounds)


def _voices_of(
    bar: int, meter: str, strokes: Sequence[Stroke], kit: Kit, layout: Layout, short: bool, grooves: bool
) -> WrittenBar:
    in_feet = [s for s in strokes if place_of(kit, s).voice == "feet"]
    in_hands = [s for s in strokes if place_of(kit, s).voice == "hands"]
    if not in_feet or not in_hands or one_voice(meter, in_hands, in_feet, layout.voices, grooves):
        name: VoiceName = "all" if in_feet and in_hands else ("feet" if in_feet else "hands")
        return WrittenBar(bar, meter, (_voice(name, meter, strokes, kit, layout, short=short),))
    hands = _voice("hands", meter, in_hands, kit, layout, short=short)
    feet = _voice("feet", meter, in_feet, kit, layout, short=short, hidden=True)
    return WrittenBar(bar, meter, (hands, _with_rests_of_own_tuplets(feet, hands)))


def _with_rests_of_own_tuplets(feet: Voice, hands: Voice) -> Voice:
    """Feet whose tuplet the hands do not share print its rests: nothing else shows where in the beat they fall."""
    shared = {None, *(event.slot.tuplet for event in hands.events)}
    return replace(feet, events=tuple(replace(e, hidden=e.hidden and e.slot.tuplet in shared) for e in feet.events))


def one_voice(
    meter: str, hands: Sequence[Stroke], feet: Sequence[Stroke], choice: VoiceChoice, grooves: bool = False
) -> bool:
    """True when hands and feet share one line of stems: fills, and bars without a time-keeper outside grooves."""
    if choice != "auto":
        return choice == "one"
    if is_groove(meter, hands) or _foot_ostinato(beat_starts(meter), feet):
        return False
    return is_fill(hands) or not grooves


def is_groove(meter: str, strokes: Sequence[Stroke]) -> bool:
    """True when metal keeps time in at least half of a bar's beats."""
    starts, lengths = beat_starts(meter), beat_lengths(meter)
    kept = sum(
        any(s.piece in _METAL and start <= s.position < start + length for s in strokes)
        for start, length in zip(starts, lengths, strict=True)
    )
    return kept >= GROOVE_SHARE * len(starts) and not is_fill(strokes)


def is_fill(strokes: Sequence[Stroke]) -> bool:
    """True when drums under the hands outnumber the time-keeper's strokes, and are at least four (ours)."""
    drums = sum(s.piece in TOMS or s.piece == "snare" for s in strokes)
    time = sum(s.piece in _METAL for s in strokes)
    return drums >= 4 and drums > time


def _foot_ostinato(starts: Sequence[Fraction], feet: Sequence[Stroke]) -> bool:
    """Feet that run on every beat under the hands keep a line of their own."""
    struck = {s.position for s in feet}
    return len(starts) > 1 and all(start in struck for start in starts)


_METAL: Final = TIMEKEEPERS | CYMBALS


def _voice(
    name: VoiceName,
    meter: str,
    strokes: Sequence[Stroke],
    kit: Kit,
    layout: Layout,
    *,
    short: bool = False,
    hidden: bool = False,
) -> Voice:
    at: dict[Fraction, list[Stroke]] = {}
    for stroke in strokes:
        at.setdefault(stroke.position, []).append(stroke)
    kept = [(strokes[index], end) for index, end in roll_ends(meter, strokes).items()]
    held = [(stroke.position, end) for stroke, end in kept]
    slots = spell(meter, at, short_notes=short, beam_halves=layout.beam_halves, held=held)
    events = []
    for slot in slots:
        end = slot.start + slot.length
        going = [stroke for stroke, last in kept if stroke.position < slot.start < last]
        found = [*at.get(slot.start, []), *map(_going_on, going)] if slot.sounds else []
        heads = tuple(sorted(found, key=lambda s: (place_of(kit, s).line, s.sort_key)))
        before = {(s.piece, s.second) for s in going} | {(s.piece, s.second) for s in heads if s.tied}
        after = {(s.piece, s.second) for s, last in kept if s.position < end < last}
        events.append(Event(slot, heads, hidden and not slot.sounds, frozenset(before), frozenset(after)))
    return Voice(name, tuple(events))


def tied_on(bars: dict[int, WrittenBar]) -> dict[int, WrittenBar]:
    """The bars, with rolls held over the bar line where the next bar says that one goes on."""
    for number, bar in bars.items():
        after = bars.get(number + 1)
        going = {key for v in after.voices for key in v.events[0].held} if after else set()
        if going:
            bars[number] = replace(bar, voices=tuple(_holding(voice, going) for voice in bar.voices))
    return bars


def _holding(voice: Voice, going: set[Struck]) -> Voice:
    last = voice.events[-1]
    own = {(s.piece, s.second) for s in last.heads if s.rolls} & going
    return replace(voice, events=(*voice.events[:-1], replace(last, holds=last.holds | own)))


def _going_on(stroke: Stroke) -> Stroke:
    """The head of a roll that goes on: nothing that belongs to its beginning."""
    return replace_stroke(stroke, letter=None, accent=False, grace=None, word="", tied=True)
