"""The steps down from full to steady to bones: each one named change, in the order teachers use.

A step sees one bar of notes and gives back the notes that stay, with what it did to the others. It never moves
the backbeat, never changes bars, never touches the start of a section, and adds nothing but time-keeping strokes.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, Literal

import msgspec

from fourlimb.model import Kit, Level, Sound
from fourlimb.model.places import beat_lengths, beat_of, beat_starts
from fourlimb.model.sounds import FOOT, SAY, TIMEKEEPERS, TOMS

from .fidelity import WEIGHT
from .note import Note, What, time_kept

FAST_BPM: Final = 150.0
"""Above this beat tempo, time is kept in beats, not their halves (tutors' first beats; the number ours)."""


@dataclass(frozen=True, slots=True)
class View:
    """What a step may know of its bar.

    `kick_next`: the next bar begins with a kick. `groove_toms`: its toms come again and again, so they are no fill.
    `time`: what the bar's hands keep time on, before any step.
    """

    bar: int
    meter: str
    tempo_bpm: float
    section_start: bool
    kit: Kit
    kick_next: bool = False
    groove_toms: bool = False
    time: frozenset[Sound] = TIMEKEEPERS

    def keeping(self, notes: Sequence[Note]) -> "View":
        """The same with what the hands of these notes keep time on."""
        return replace(self, time=time_kept(notes, self.meter))


@dataclass(frozen=True, slots=True)
class Deed:
    """One thing a step did: to which note, what, why, and the piece it went to."""

    what: What
    note: Note
    why: str
    to: Sound | None = None


Result = tuple[list[Note], list[Deed]]


@dataclass(frozen=True, slots=True)
class Step:
    """One named simplification, first used at `level`."""

    name: str
    level: Level
    does: Callable[[list[Note], View], Result]


def simplify(notes: tuple[Note, ...], view: View, level: Level) -> tuple[tuple[Note, ...], list[tuple[Step, Deed]]]:
    """The bar after all steps of one level, and what each step did."""
    left = list(notes)
    view = view.keeping(left)
    deeds: list[tuple[Step, Deed]] = []
    for step in STEPS:
        if step.level == level:
            left, done = step.does(left, view)
            deeds += [(step, deed) for deed in done]
    return tuple(sorted(left, key=lambda n: n.sort_key)), deeds


def _drop(notes: list[Note], which: Callable[[Note], bool], why: str) -> Result:
    gone = [n for n in notes if which(n)]
    places = {(n.position, n.piece, n.second) for n in gone}
    left = [n for n in notes if (n.position, n.piece, n.second) not in places]
    return left, [Deed("dropped", n, why) for n in gone]


def _plain(notes: list[Note], view: View) -> Result:
    """Ghosts go; flams, drags and ruffs become plain strokes."""
    left, deeds = _drop(notes, lambda n: n.ghost, "ghost strokes are texture, the groove stands without them")
    deeds += [Deed("dropped", n, f"{SAY_WAY[n.grace]} played as one plain stroke") for n in left if n.grace]
    deeds += [
        Deed("dropped", n, f"{SAY_WAY[n.struck]} played as one plain stroke") for n in left if n.struck in TEXTURE
    ]
    return [_without_texture(n) for n in left], deeds


TEXTURE: Final = ("rimshot", "buzz", "foot_splash")
"""Ways of striking that go with the ghosts; chokes stay with their crash, half-open hats go with the open ones."""
SAY_WAY: Final[dict[str | None, str]] = {
    "flam": "flam", "drag": "drag", "ruff": "ruff", "long_ruff": "ruff", "rimshot": "rimshot", "buzz": "buzz",
    "choke": "choked", "half_open": "half-open", "foot_splash": "foot splash", "let_ring": "ringing",
}  # fmt: skip
"""What ornaments and ways of striking are called."""


def _without_texture(note: Note) -> Note:
    if note.grace is None and note.struck not in TEXTURE:
        return note
    return msgspec.structs.replace(note, grace=None, struck=None if note.struck in TEXTURE else note.struck)


def _timekeeper(notes: list[Note], time: frozenset[Sound]) -> Sound | None:
    """The surface most time-keeping strokes of a bar are on."""
    counts: Counter[Sound] = Counter()
    counts.update(n.piece for n in notes if n.piece in time)
    return sorted(counts, key=lambda piece: (-counts[piece], piece))[0] if counts else None


def _colour(notes: list[Note], view: View) -> Result:
    """Open hats are closed; bells become ride; crashes stay on 1, and where time is kept on them."""
    main = _timekeeper([n for n in notes if n.piece not in ("hat_open", "ride_bell")], view.time)
    swap: dict[Sound, Sound] = {"hat_open": "hat_closed", "ride_bell": "ride"}
    left: list[Note] = []
    deeds: list[Deed] = []
    for note in notes:
        to = "hat_closed" if note.struck == "half_open" else swap.get(note.piece)
        if note.piece in ("crash", "china", "splash") and note.position != 0 and note.piece not in view.time:
            to = main or "hat_closed"
        if to is None or to not in view.kit.pieces:
            left.append(note)
            continue
        why = (
            "crashes only where a bar or section begins"
            if note.piece in ("crash", "china", "splash")
            else f"one colour: {'half-open hat' if note.struck == 'half_open' else SAY[note.piece]} as {SAY[to]}"
        )
        deeds.append(Deed("moved", note, why, to))
        left.append(
            msgspec.structs.replace(note, piece=to, weight=WEIGHT[to], accent=False, struck=None, second=False)
        )
    return _merge(left, deeds)


def _merge(notes: list[Note], deeds: list[Deed]) -> Result:
    """Two notes on one piece at one place become one."""
    kept: dict[tuple[Fraction, Sound, bool], Note] = {}
    for note in notes:
        key = (note.position, note.piece, note.second)
        if key in kept:
            other = kept[key]
            first = other if other.weight >= note.weight else note
            kept[key] = msgspec.structs.replace(
                first, hits=other.hits + note.hits, pinned=other.pinned or note.pinned
            )
        else:
            kept[key] = note
    return sorted(kept.values(), key=lambda n: n.sort_key), deeds


def _is_fill(notes: list[Note], view: View) -> bool:
    """A beat is fill when toms are struck in it, or the hands play three or more strokes without keeping time.

    Toms that keep time, or that belong to the groove, are none.
    """
    hands = [n for n in notes if n.piece not in FOOT]
    keeps_time = any(n.piece in view.time for n in hands)
    toms = any(n.piece in TOMS and n.piece not in view.time for n in hands)
    return (toms and not view.groove_toms) or (not keeps_time and len(hands) >= 3)


def beats(notes: list[Note], meter: str) -> list[list[Note]]:
    """The notes of each beat of a bar."""
    found: list[list[Note]] = [[] for _ in beat_starts(meter)]
    for note in notes:
        found[beat_of(meter, note.position)[0]].append(note)
    return found


def _even_time(notes: list[Note], view: View) -> Result:
    """The time-keeping hand plays an even pulse: parts of the beat, or beats when the song is fast or sparse."""
    return _pulse(notes, view, _unit(notes, view))


def _beat_time(notes: list[Note], view: View) -> Result:
    """The time-keeping hand plays the beats, and nothing between them, in the beats of a fill either."""
    even, deeds = _pulse(notes, view, "beats")
    left, gone = _drop(even, lambda n: n.piece in view.time and _inside(n, view) != 0, EVEN)
    return left, deeds + gone


EVEN: Final = "the time-keeping hand plays an even pulse"


Unit = Literal["beats", "parts", "offs"]
"""What an even pulse strikes: beats, all their parts (halves, thirds of a beat of three), or parts without beats."""


def parts_of(length: Fraction) -> tuple[Fraction, ...]:
    """The even parts of a beat of this length, as fractions of it: halves, or thirds of a beat of three."""
    count = 3 if length.numerator == 3 else 2
    return tuple(Fraction(n, count) for n in range(count))


def _struck_in(unit: Unit, length: Fraction) -> tuple[Fraction, ...]:
    parts = parts_of(length)
    return {"beats": parts[:1], "parts": parts, "offs": parts[1:]}[unit]


def _unit(notes: list[Note], view: View) -> Unit:
    """What this bar's time-keeping mostly strikes, in the beats in which time is kept."""
    struck = {beat_of(view.meter, n.position) for n in notes if n.piece in view.time}
    lengths = beat_lengths(view.meter)
    kept = [lengths[beat] for beat in {beat for beat, _ in struck}]
    on = sum(inside == 0 for _, inside in struck)
    offs = sum(inside != 0 and inside in parts_of(lengths[beat]) for beat, inside in struck)
    possible = sum(len(parts_of(length)) - 1 for length in kept)
    if view.tempo_bpm > FAST_BPM and on * 2 >= len(kept):
        return "beats"
    if offs * 2 >= possible:
        return "parts" if on * 2 >= len(kept) or lengths[0].numerator == 3 else "offs"
    return "beats"


def _pulse(notes: list[Note], view: View, unit: Unit) -> Result:
    time = view.time
    main = _timekeeper(notes, time)
    if main is None:
        return notes, []
    starts, lengths = beat_starts(view.meter), beat_lengths(view.meter)
    left: list[Note] = []
    deeds: list[Deed] = []
    for beat, group in enumerate(beats(notes, view.meter)):
        line = [n for n in group if n.piece in time]
        left += [n for n in group if n.piece not in time]
        if not line or _is_fill(group, view):
            left += line
            continue
        wanted = {starts[beat] + inside * lengths[beat] for inside in _struck_in(unit, lengths[beat])}
        cymbals = {n.position for n in group if n.piece in ("crash", "china", "splash") and n.piece not in time}
        for note in line:
            if note.position in wanted and note.position not in cymbals:
                wanted.discard(note.position)
                to = "crash" if note.piece == "crash" and note.position == 0 else main
                left.append(msgspec.structs.replace(note, piece=to, accent=False, struck=None, second=False))
                if note.piece != to:
                    deeds.append(Deed("moved", note, "the time-keeping hand stays on one surface", main))
            else:
                deeds.append(Deed("dropped", note, EVEN))
        for position in sorted(wanted - cymbals):
            new = Note(position=position, piece=main, heard=main, weight=WEIGHT[main])
            left.append(new)
            deeds.append(Deed("added", new, EVEN, main))
    return left, deeds


def _inside(note: Note, view: View) -> Fraction:
    return beat_of(view.meter, note.position)[1]


def _off_eighth(note: Note, view: View) -> bool:
    """Not on a beat or on an even part of it (halves of a simple beat, thirds of a compound one)."""
    beat, inside = beat_of(view.meter, note.position)
    return inside not in parts_of(beat_lengths(view.meter)[beat])


def _kicks_on_eighths(notes: list[Note], view: View) -> Result:
    return _drop(
        notes, lambda n: n.piece == "kick" and _off_eighth(n, view), "kicks between the eighths are left for later"
    )


def _kicks_on_beats(notes: list[Note], view: View) -> Result:
    """A kick on & stays only where no kick on the beat stands beside it."""
    on = {beat_of(view.meter, n.position)[0] for n in notes if n.piece == "kick" and _inside(n, view) == 0}
    if view.kick_next:
        on.add(len(beat_starts(view.meter)))

    def leaves(note: Note) -> bool:
        beat = beat_of(view.meter, note.position)[0]
        return note.piece == "kick" and _inside(note, view) != 0 and bool({beat, beat + 1} & on)

    return _drop(notes, leaves, "a kick on the beat beside it already carries the line")


def _snares_on_eighths(notes: list[Note], view: View) -> Result:
    which = ("snare", "rim", "clap")
    return _drop(
        notes,
        lambda n: n.piece in which and _off_eighth(n, view),
        "snare strokes between the eighths are left for later",
    )


def _no_groove_toms(notes: list[Note], view: View) -> Result:
    """Toms that come again and again under a hand that keeps time are colour."""
    if not view.groove_toms or _timekeeper(notes, view.time) is None:
        return notes, []
    why = "toms that belong to the groove are left for later"
    return _drop(notes, lambda n: n.piece in TOMS and n.piece not in view.time, why)


def _one_drum(notes: list[Note], view: View) -> Result:
    """Toms of a fill go to the one most used in the bar; the rhythm stays."""
    toms = TOMS - view.time
    counts: Counter[Sound] = Counter()
    counts.update(n.piece for n in notes if n.piece in toms)
    if len(counts) < 2:
        return notes, []
    main = min(counts, key=lambda piece: (-counts[piece], piece))
    deeds = [
        Deed("moved", n, "the fill keeps its rhythm on one drum", main)
        for n in notes
        if n.piece in toms and n.piece != main
    ]
    moved = [
        msgspec.structs.replace(n, piece=main, second=False) if n.piece in toms and n.piece != main else n
        for n in notes
    ]
    return _merge(moved, deeds)


def _fill_in_eighths(notes: list[Note], view: View) -> Result:
    left: list[Note] = []
    deeds: list[Deed] = []
    for group in beats(notes, view.meter):
        if not _is_fill(group, view):
            left += group
            continue
        kept, done = _drop(
            group,
            lambda n: n.piece not in FOOT and _off_eighth(n, view),
            "the fill in eighths, same start and landing",
        )
        left += kept
        deeds += done
    return left, deeds


def _left_foot(notes: list[Note], view: View) -> Result:
    return _drop(notes, lambda n: n.piece == "hat_pedal", "the hi-hat foot rests")


STEPS: Final[tuple[Step, ...]] = (
    Step("ghosts, flams and drags left out", "steady", _plain),
    Step("open hats closed, crashes only on 1", "steady", _colour),
    Step("time-keeping hand even", "steady", _even_time),
    Step("16th kicks left out", "bones", _kicks_on_eighths),
    Step("kicks on & only where they carry the line", "bones", _kicks_on_beats),
    Step("16th snares left out", "bones", _snares_on_eighths),
    Step("toms of a groove left out", "bones", _no_groove_toms),
    Step("fill on one drum", "bones", _one_drum),
    Step("fill in eighths", "bones", _fill_in_eighths),
    Step("hi-hat foot rests", "bones", _left_foot),
    Step("time-keeping hand on the beats", "bones", _beat_time),
)
"""In the order in which teachers simplify (common practice)."""
