"""Onsets in a bar -> written values: notes, rests, dots, tuplets, beams. Pure arithmetic, no drawing.

Conventions: positions and lengths are fractions of a whole note. A *slot* is one note, chord or rest.

Method (rules of beams and rests as printed in `docs/gallery.md`, most of them common practice): each beat is spelled
alone. Onsets on halvings of the beat need no tuplet; others take the smallest division that holds them all, written
in the largest halving below it (5 in the time of 4, 6 of 4, 7 of 4; 5 of 3 in a dotted beat). Three even notes over
two beats become one quarter triplet. A struck sound has no audible end, so a note is written up to the next one or to
the end of its beat; silence is written as rests that fall on the halvings of the beat. In 4/4 the middle of the bar
stays visible: a half rest only in either half.

A roll that is kept up is the exception: it is written through to its end, in as many tied notes as that takes.

Cannot do: tuplets inside tuplets.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from math import lcm
from typing import Final

from fourlimb.model import InputError
from fourlimb.model.places import bar_length, beat_lengths, is_compound, meter_groups, split_meter

Stretch = tuple[Fraction, Fraction]
"""Start and end in a bar, whole notes."""

FINEST: Final = 128
"""Finest written value, 1/128 of a whole note; anything between is refused."""


@dataclass(frozen=True)
class Tuplet:
    """`actual` notes of nominal `unit` in the time of `normal`, filling `length` from `start`."""

    start: Fraction
    length: Fraction
    actual: int
    normal: int
    unit: Fraction


@dataclass(frozen=True)
class Slot:
    """One note or rest: it sounds from `start` for `length`; written as 1/`value` with `dots`.

    `beam` numbers the beamed group inside the bar; `split` asks for a break of the inner beams before this slot.
    """

    start: Fraction
    length: Fraction
    value: int
    dots: int = 0
    sounds: bool = True
    tuplet: Tuplet | None = None
    beam: int | None = None
    split: bool = False


def spell(
    meter: str,
    onsets: Iterable[Fraction],
    *,
    short_notes: bool = False,
    beam_halves: bool = True,
    held: Iterable[Stretch] = (),
) -> tuple[Slot, ...]:
    """Slots that fill one bar.

    `onsets` are the places where something is struck. `short_notes` says that something shorter than an eighth stands
    elsewhere in the bar, so that eighths are beamed by beats. `held` are stretches (start, end) that sound through
    without a rest. Raises InputError for a place that cannot be written.
    """
    return _spell(meter, tuple(sorted(set(onsets))), short_notes, beam_halves, tuple(sorted(set(held))))


@lru_cache(maxsize=8192)
def _spell(
    meter: str, places: tuple[Fraction, ...], short_notes: bool, beam_halves: bool, held: tuple[Stretch, ...]
) -> tuple[Slot, ...]:
    """Most bars of a song come again: each is spelled once."""
    if places and not 0 <= places[0] <= places[-1] < bar_length(meter):
        raise InputError(f"position {places[-1]} lies outside a bar of {meter}: move it or change the meter")
    slots: list[Slot] = []
    edges = {edge for stretch in held for edge in stretch if edge < bar_length(meter)}
    for start, length in spans(meter, sorted({*places, *edges})):
        inside = {place for place in (*places, *edges) if start <= place < start + length}
        if any(first < start < last for first, last in held):
            inside.add(start)
        slots.extend(_span(start, length, sorted(inside), held, frozenset(places)))
    slots = _join_rests(meter, slots)
    return tuple(_beam(meter, slots, short_notes, beam_halves))


def spans(meter: str, places: Sequence[Fraction]) -> list[tuple[Fraction, Fraction]]:
    """Start and length of each stretch spelled alone: beats, quarters of long beats, or two beats in three."""
    cells: list[tuple[Fraction, Fraction]] = []
    at = Fraction(0)
    for length in beat_lengths(meter):
        pieces = int(length / Fraction(1, 4)) if length.numerator == 1 and length > Fraction(1, 4) else 1
        for _ in range(pieces):
            cells.append((at, length / pieces))
            at += length / pieces
    joined: list[tuple[Fraction, Fraction]] = []
    while cells:
        start, length = cells.pop(0)
        pair = cells and cells[0][1] == length == Fraction(1, 4) and start % Fraction(1, 2) == 0
        if pair and _three_over_two(start, [p for p in places if start <= p < start + 2 * length]):
            cells.pop(0)
            length *= 2
        joined.append((start, length))
    return joined


def _three_over_two(start: Fraction, inside: list[Fraction]) -> bool:
    second, third = start + Fraction(1, 6), start + Fraction(1, 3)
    return {second, third} <= set(inside) <= {start, second, third}


def _span(
    start: Fraction, length: Fraction, inside: list[Fraction], held: Sequence[Stretch], struck: frozenset[Fraction]
) -> list[Slot]:
    if not inside:
        return list(_rests(start, start, start + length, length))
    tuplet = _tuplet(start, length, inside)
    scale = Fraction(1) if tuplet is None else Fraction(tuplet.normal, tuplet.actual)
    slots: list[Slot] = []
    written_end = length / scale  # nominal length of the whole span
    nominal = [(place - start) / scale for place in inside]
    if nominal[0] > 0:
        slots.extend(_rests(Fraction(0), Fraction(0), nominal[0], written_end))
    for index, at in enumerate(nominal):
        end = nominal[index + 1] if index + 1 < len(nominal) else written_end
        place = inside[index]
        if any(first <= place < last for first, last in held):
            slots.extend(_held(at, end, written_end))
        elif any(last == place for _, last in held) and place not in struck:
            slots.extend(_rests(Fraction(0), at, end, written_end))
        else:
            slots.extend(_note(at, end, written_end))
    return [
        replace(
            slot,
            start=start + slot.start * scale if slot.start < written_end else slot.start,
            length=slot.length * scale,
            tuplet=tuplet,
        )
        for slot in slots
    ]


def _tuplet(start: Fraction, length: Fraction, inside: list[Fraction]) -> Tuplet | None:
    """The tuplet that a span needs, or None when halvings hold every onset."""
    if all(((place - start).denominator & ((place - start).denominator - 1)) == 0 for place in inside):
        if max((place - start).denominator for place in inside) > FINEST:
            raise InputError(
                f"position {inside[-1]} is finer than 1/{FINEST}: move it to a place that can be written"
            )
        return None
    division = lcm(*(((place - start) / length).denominator for place in inside))
    base = length.numerator  # 1, or 3 in a dotted beat
    normal = base
    while normal * 2 <= division:
        normal *= 2
    unit = length / normal
    if division == normal or unit.denominator > FINEST or unit.numerator != 1:
        raise InputError(f"positions {', '.join(map(str, inside))} share no division that can be written: move one")
    return Tuplet(start=start, length=length, actual=division, normal=normal, unit=unit)


def _plain(length: Fraction) -> tuple[int, int] | None:
    """(value, dots) of a length that one note can have, else None."""
    for dots, factor in ((0, Fraction(1)), (1, Fraction(3, 2))):
        base = length / factor
        if base.numerator == 1 and base.denominator & (base.denominator - 1) == 0:
            return base.denominator, dots
    return None


def _note(at: Fraction, end: Fraction, span: Fraction) -> list[Slot]:
    """A note from `at`, as long as one value can say up to `end`, and rests for what is left."""
    limit = end
    cell = Fraction(1, 8) if span.numerator == 3 and span.denominator <= 8 else span
    if at % cell and span.numerator == 3:  # off the beat's own parts in a dotted beat: stay inside the part
        limit = min(end, (at // cell + 1) * cell)
    length = limit - at if limit - at < Fraction(1, 2) else Fraction(1, 4)  # open x heads do not exist in print
    while (found := _plain(length)) is None:
        length -= Fraction(1, length.denominator)
    value, dots = found
    note = Slot(start=at, length=length, value=value, dots=dots)
    return [note, *_rests(Fraction(0), at + length, end, span)]


def _held(at: Fraction, end: Fraction, span: Fraction) -> list[Slot]:
    """Notes from `at` to `end` without a rest: as few as values allow."""
    found: list[Slot] = []
    while at < end:
        note = _note(at, end, span)[0]
        found.append(note)
        at += note.length
    return found


def _rests(origin: Fraction, begin: Fraction, end: Fraction, span: Fraction) -> Iterable[Slot]:
    """Rests from `begin` to `end`, each on a multiple of its own value counted from `origin`."""
    at = begin
    whole = _plain(span)
    if begin == origin and end == origin + span and whole is not None:
        yield Slot(start=begin, length=span, value=whole[0], dots=whole[1], sounds=False)
        return
    while at < end:
        length = Fraction(1)
        while (at - origin) % length or at + length > end:
            length /= 2
            if length.denominator > 4 * FINEST:
                raise InputError(f"a silence from {at} to {end} cannot be written: move the note before it")
        yield Slot(start=at, length=length, value=length.denominator, sounds=False)
        at += length


def _join_rests(meter: str, slots: list[Slot]) -> list[Slot]:
    """Two quarter rests in one half of a 4/4 bar become a half rest (Lacerda: none on beat 2, none in 3/4)."""
    if meter not in ("4/4", "2/2", "8/4"):
        return slots
    out: list[Slot] = []
    for slot in slots:
        last = out[-1] if out else None
        quarter = slot.length == Fraction(1, 4) and not slot.sounds and slot.tuplet is None
        if (
            quarter
            and last is not None
            and not last.sounds
            and last.tuplet is None
            and last.length == Fraction(1, 4)
            and last.start % Fraction(1, 2) == 0
        ):
            out[-1] = Slot(start=last.start, length=Fraction(1, 2), value=2, sounds=False)
        else:
            out.append(slot)
    return out


def _beam(meter: str, slots: list[Slot], short_notes: bool, beam_halves: bool) -> list[Slot]:
    out = list(slots)
    number = 0
    for start, end in beam_groups(meter, slots, short_notes=short_notes, beam_halves=beam_halves):
        run: list[int] = []
        for index, slot in [*enumerate(slots), (len(slots), None)]:
            inside = slot is not None and start <= slot.start < end and slot.value >= 8
            joins = inside and slot is not None and (not run or slots[run[-1]].tuplet == slot.tuplet)
            if joins:
                run.append(index)
                continue
            number += _close(out, run, number)
            run = [index] if inside else []
    return out


def _close(slots: list[Slot], run: list[int], number: int) -> int:
    """Beam the slots of a run from its first to its last note; 1 when a beam was made."""
    sounding = [index for index in run if slots[index].sounds]
    if len(sounding) < 2:
        return 0
    for index in range(sounding[0], sounding[-1] + 1):
        slot = slots[index]
        fine = slot.value >= 32 and slots[index - 1].value >= 32 and index > sounding[0]
        half = slot.tuplet is None and slot.start % Fraction(1, 8) == 0
        slots[index] = replace(slot, beam=number, split=fine and half)
    return 1


def beam_groups(
    meter: str, slots: Sequence[Slot], *, short_notes: bool = False, beam_halves: bool = True
) -> list[tuple[Fraction, Fraction]]:
    """Stretches inside which notes may share a beam: beats, or half bars of nothing but eighths."""
    beats = _cells(meter)
    joined = _larger_groups(meter)
    plain = not short_notes and all(slot.value <= 8 and slot.tuplet is None for slot in slots)
    if not (beam_halves and plain and joined):
        return beats
    groups: list[tuple[Fraction, Fraction]] = []
    for start, end in joined:
        eighths = [s for s in slots if start <= s.start < end]
        full = all(s.sounds and s.value == 8 and s.dots == 0 for s in eighths)
        groups.extend([(start, end)] if full else [b for b in beats if start <= b[0] < end])
    return groups


def _cells(meter: str) -> list[tuple[Fraction, Fraction]]:
    count, unit = split_meter(meter)
    if unit >= 8 and meter_groups(meter) == (3,):
        return [(Fraction(0), Fraction(3, unit))]
    if (
        unit >= 8 and not is_compound(meter) and count not in (5, 7) and len(meter_groups(meter)) == 1
    ):  # 2/8, 4/8, 8/8 ...: pairs of eighths
        pair, end = Fraction(2, unit), bar_length(meter)
        starts = [pair * n for n in range(-(-count // 2))]
        return [(s, min(s + pair, end)) for s in starts]
    at, cells = Fraction(0), []
    for length in beat_lengths(meter):
        pieces = int(length / Fraction(1, 4)) if length.numerator == 1 and length > Fraction(1, 4) else 1
        for _ in range(pieces):
            cells.append((at, at + length / pieces))
            at += length / pieces
    return cells


def _larger_groups(meter: str) -> list[tuple[Fraction, Fraction]]:
    """Half bars in 4/4 and 2/2, the whole bar in 2/4 and 3/4; none elsewhere."""
    if meter in ("4/4", "2/2"):
        return [(Fraction(0), Fraction(1, 2)), (Fraction(1, 2), Fraction(1))]
    if meter in ("2/4", "3/4"):
        return [(Fraction(0), bar_length(meter))]
    return []
