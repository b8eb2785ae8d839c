"""Doubt settled by what goes on: one hand keeps time on one surface, one beat has one division, one figure is one.

A single stroke that sounds unlike all around it is more often heard wrong than played. Each stroke carries how sure
the ears were (`Note.sure`); what that is worth is `doubt`, the log-odds scale of being wrong. Nothing here touches a
stroke surer than `SURE`, nor one that the teacher wrote, so written music (MIDI, MusicXML) passes through unchanged.

Method: along each stretch of the song the time-keeping line is a path over sounds (dynamic programming): leaving a
stroke's own sound costs its doubt, changing the surface costs a hop, at bar lines half a hop. Bars with the same kick
and snare on the same time-keeper then vote on the rest.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from fractions import Fraction
from math import log
from typing import Final

import msgspec

from fourlimb.model import LEVELS, Grid, Sound
from fourlimb.model.places import beat_of
from fourlimb.model.sounds import ORDER, SAY, TIMEKEEPERS, TOMS

from .fidelity import WEIGHT
from .memory import Book, Memory
from .note import Bars, Ledger, Note

SURE: Final = 0.9
"""Strokes at least this sure are never changed here (ours)."""
HOP: Final = 1.5
"""Cost of the time-keeping hand going to another surface (ours; doubt scale: 1.5 is a stroke 78 % sure)."""
COLOUR_HOP: Final = 0.7
"""The same for another sound of one surface: open and closed hat, ride and bell (ours)."""
CRASH_HOP: Final = 0.75
"""The same to a crash and back, which drummers do (ours)."""
AT_BAR_LINE: Final = 0.5
"""Share of a hop where a bar begins: patterns change there (ours)."""
RECURS: Final = 0.5
"""What a sound that comes back at the same place of another bar is worth (ours)."""
FIGURE_LEAST: Final = 3
"""Bars alike in kick, snare and time-keeper that may vote on the rest (ours)."""
FINE: Final = 6
"""Parts of a beat beyond which a doubtful ghost is left out (ours)."""
RARE: Final = 0.3
USUAL: Final = 0.7
"""Shares of such bars below which a doubtful stroke goes, and from which one is missed (ours)."""
DOUBTFUL: Final = 0.7
"""A stroke less sure than this goes where few like bars have it (ours)."""

SURFACE: Final[Mapping[Sound, str]] = {
    "hat_closed": "hat",
    "hat_open": "hat",
    "ride": "ride",
    "ride_bell": "ride",
    "crash": "crash",
    "china": "crash",
    "splash": "crash",
}
LINE: Final[frozenset[Sound]] = TIMEKEEPERS | {"crash", "china"}
Line = list[tuple[int, Fraction, list[Note]]]
"""Places of the time-keeping line: bar, position, what is heard there."""
ONE_HAND: Final = "one hand keeps time: a single doubtful {0} is taken for the {1} around it"
CRASH_HAND: Final = "the hand that keeps time strikes the {1} here: a doubtful {0} with it is left out"


def settle(bars: Bars, blocks: Mapping[int, int], grid: Grid, book: Book, memory: Memory) -> Bars:
    """The same bars with doubtful strokes settled; every change is written to the book for all levels."""
    if not any(memory.recall(("doubtful", bar), _any_doubtful, notes) for bar, notes in bars.items()):
        return bars
    made: Bars = {}
    for bar, notes in bars.items():
        made[bar], ledger = memory.recall(("beats", bar), _one_stroke, bar, notes, grid)
        book.add(bar, ledger)
    stretches: dict[int, list[int]] = defaultdict(list)
    for bar in made:
        stretches[blocks[bar]].append(bar)
    for block, numbers in stretches.items():
        settled, ledgers = memory.recall(("line", block), _one_line, {bar: made[bar] for bar in numbers})
        made.update(settled)
        for bar, ledger in ledgers.items():
            book.add(bar, ledger)
    return _one_figure(made, grid, book, memory)


def _any_doubtful(notes: tuple[Note, ...]) -> bool:
    return any(_doubtful(n) for n in notes)


def _one_stroke(bar: int, notes: tuple[Note, ...], grid: Grid) -> tuple[tuple[Note, ...], Ledger]:
    ledger = Ledger()
    return _one_division(bar, _one_tom(bar, notes, ledger), grid, ledger), ledger


def doubt(note: Note) -> float:
    """What it costs to say that a stroke was heard wrong: minus the log of that chance."""
    return -log(max(1.0 - note.sure, 1e-3))


def _doubtful(note: Note) -> bool:
    return not note.pinned and note.sure < SURE


def _one_tom(bar: int, notes: tuple[Note, ...], ledger: Ledger) -> tuple[Note, ...]:
    """Two toms at one place, one of them doubtful: one stroke."""
    toms: dict[Fraction, list[Note]] = defaultdict(list)
    for note in notes:
        if note.piece in TOMS:
            toms[note.position].append(note)
    for group in toms.values():
        best = max(group, key=lambda n: (n.pinned, n.sure, -ORDER[n.piece]))
        for other in group:
            if other is not best and _doubtful(other) and other.sure < best.sure:
                why = f"two toms at once, one of them doubtful: only the {SAY[best.piece]} is struck"
                notes = _merged(bar, notes, other, best, why, ledger)
    return notes


def _merged(
    bar: int, notes: tuple[Note, ...], gone: Note, into: Note, why: str, ledger: Ledger, rule: str = "doubt"
) -> tuple[Note, ...]:
    ledger.note(LEVELS, "merged", bar, gone, why, rule, into.piece)
    return tuple(
        msgspec.structs.replace(n, hits=n.hits + gone.hits) if n.position == into.position and n.piece == into.piece
        else n for n in notes if n is not gone
    )  # fmt: skip


def _one_division(bar: int, notes: tuple[Note, ...], grid: Grid, ledger: Ledger) -> tuple[Note, ...]:
    """A beat in sixteenths and triplets at once: doubtful strokes follow the division that the bar keeps."""
    meter = grid.meter(bar)
    inside = {n.position: beat_of(meter, n.position) for n in notes}
    kinds: dict[int, set[int]] = defaultdict(set)
    for beat, part in inside.values():
        kinds[beat].add(_division(part))
    for note in notes:
        if note.ghost and _doubtful(note) and note.sure < DOUBTFUL and inside[note.position][1].denominator > FINE:
            ledger.note(LEVELS, "dropped", bar, note, "a doubtful ghost finer than the bar's own grid", "doubt")
            notes = tuple(n for n in notes if n is not note)
    mixed = {beat for beat, found in kinds.items() if {2, 3} <= found}
    if not mixed:
        return notes
    weights = {2: 0.0, 3: 0.0, 0: 0.0}
    for note in notes:
        weights[_division(inside[note.position][1])] += note.sure * (0.4 if note.ghost else 1.0)
    wrong = 3 if weights[2] >= weights[3] else 2
    for note in notes:
        beat, part = inside[note.position]
        if beat in mixed and _division(part) == wrong and _doubtful(note):
            why = "two divisions in one beat: a doubtful stroke between them is left out"
            ledger.note(LEVELS, "dropped", bar, note, why, "doubt")
            notes = tuple(n for n in notes if n is not note)
    return notes


def _division(part: Fraction) -> int:
    """2 for places that only halving reaches, 3 for those of triplets, 0 for the beat itself and its half."""
    if part.denominator % 3 == 0:
        return 3
    return 2 if part.denominator > 2 else 0


def _one_line(bars: Bars) -> tuple[Bars, dict[int, Ledger]]:
    """The time-keeping line of one stretch, each place on the sound that fits what goes on; ledgers by bar."""
    made: Bars = {}
    ledger = Ledger()
    chicks = Counter(n.position for notes in bars.values() for n in notes if n.piece == "hat_pedal")
    places: Line = []
    for bar, notes in bars.items():
        notes = _crash_takes_the_hand(bar, _foot_hat(bar, notes, chicks, ledger), ledger)
        made[bar] = notes
        here: dict[Fraction, list[Note]] = defaultdict(list)
        for note in notes:
            if note.piece in LINE and (note.position != 0 or note.piece not in ("crash", "china")):
                here[note.position].append(note)
        places += [(bar, position, group) for position, group in here.items()]
    if not any(_doubtful(n) for _, _, group in places for n in group):
        return made, ledger.by_bar()
    for (bar, _, group), chosen in zip(places, _path(places, _recurring(places)), strict=True):
        made[bar] = _follow(bar, made[bar], group, chosen, ledger)
    return made, ledger.by_bar()


def _foot_hat(bar: int, notes: tuple[Note, ...], chicks: Counter[Fraction], ledger: Ledger) -> tuple[Note, ...]:
    """A doubtful chick under a stick on the hat, or alone in its place in the whole stretch, is not written."""
    struck = {n.position for n in notes if n.piece in ("hat_closed", "hat_open")}
    for note in notes:
        if note.piece != "hat_pedal" or not _doubtful(note):
            continue
        if note.position in struck:
            why = "a doubtful foot on the hat while the stick strikes it"
        elif note.sure < DOUBTFUL and chicks[note.position] < 2:
            why = "a doubtful foot on the hat that never comes back"
        else:
            continue
        ledger.note(LEVELS, "dropped", bar, note, why, "doubt")
        notes = tuple(n for n in notes if n is not note)
    return notes


def _crash_takes_the_hand(bar: int, notes: tuple[Note, ...], ledger: Ledger) -> tuple[Note, ...]:
    crash = next((n for n in notes if n.position == 0 and n.piece in ("crash", "china")), None)
    if crash is None:
        return notes
    for note in notes:
        if note.position == 0 and note.piece in TIMEKEEPERS and _doubtful(note):
            why = CRASH_HAND.format(SAY[note.piece], SAY[crash.piece])
            notes = _merged(bar, notes, note, crash, why, ledger)
    return notes


def _recurring(places: Line) -> set[tuple[Fraction, Sound]]:
    """Sounds that come back at the same place of another bar of the stretch: less likely heard wrong."""
    counts: dict[tuple[Fraction, Sound], int] = defaultdict(int)
    for _, position, group in places:
        for piece in {n.piece for n in group}:
            counts[position, piece] += 1
    return {key for key, count in counts.items() if count > 1}


def _path(places: Line, recurring: set[tuple[Fraction, Sound]]) -> list[Sound]:
    """The cheapest sound at every place; of equals the one first in the fixed order."""
    sounds = sorted({n.piece for _, _, group in places for n in group}, key=ORDER.__getitem__)
    hops = {(a, b): _hop(a, b) for a in sounds for b in sounds}
    cost = dict.fromkeys(sounds, 0.0)
    back: list[dict[Sound, Sound]] = []
    last = places[0][0]
    for bar, position, group in places:
        share = AT_BAR_LINE if bar != last else 1.0
        last = bar
        again = {n.piece for n in group if (position, n.piece) in recurring}
        here = {sound: _leaving(sound, group, again) for sound in sounds}
        came: dict[Sound, Sound] = {}
        after: dict[Sound, float] = {}
        for sound in sounds:
            best = min(sounds, key=lambda old: (cost[old] + share * hops[old, sound], ORDER[old]))
            came[sound] = best
            after[sound] = cost[best] + share * hops[best, sound] + here[sound]
        back.append(came)
        cost = after
    at = min(sounds, key=lambda sound: (cost[sound], ORDER[sound]))
    found: list[Sound] = []
    for came in reversed(back):
        found.append(at)
        at = came[at]
    return found[::-1]


def _hop(a: Sound, b: Sound) -> float:
    if a == b:
        return 0.0
    one, other = SURFACE.get(a, a), SURFACE.get(b, b)
    if one == other:
        return COLOUR_HOP
    return CRASH_HOP if "crash" in (one, other) else HOP


_MOST: Final = -log(1.0 - SURE)


def _leaving(sound: Sound, group: Iterable[Note], again: set[Sound]) -> float:
    """Cost of a place on `sound`: the doubt of all that is heard there otherwise (a sure stroke stays beside it)."""
    return sum(
        (_MOST if not _doubtful(n) else doubt(n)) + (RECURS if n.piece in again else 0.0)
        for n in group if n.piece != sound
    )  # fmt: skip


def _follow(bar: int, notes: tuple[Note, ...], group: list[Note], chosen: Sound, ledger: Ledger) -> tuple[Note, ...]:
    strange = [n for n in group if n.piece != chosen and _doubtful(n)]
    if not strange:
        return notes
    kept = next((n for n in group if n.piece == chosen), None) or next((n for n in group if n not in strange), None)
    strange.sort(key=lambda n: (-n.sure, ORDER[n.piece]))
    for note in strange:
        if kept is not None:
            why = ONE_HAND.format(SAY[note.piece], SAY[kept.piece])
            notes = _merged(bar, notes, note, kept, why, ledger)
            continue
        weight = note.weight * WEIGHT[chosen] / WEIGHT[note.piece]
        kept = msgspec.structs.replace(note, piece=chosen, weight=weight, struck=None, second=False)
        ledger.note(LEVELS, "moved", bar, note, ONE_HAND.format(SAY[note.piece], SAY[chosen]), "doubt", chosen)
        notes = tuple(sorted([n for n in notes if n is not note] + [kept], key=lambda n: n.sort_key))
    return notes


Spot = tuple[Fraction, Sound]
CORE: Final[frozenset[Sound]] = frozenset[Sound]({"kick", "snare", "rim"}) | TOMS
SOFT: Final[frozenset[Sound]] = TIMEKEEPERS | frozenset[Sound]({"hat_pedal", "snare"})
"""What like bars vote on: time-keeping, the hat foot, ghosts."""


def _one_figure(bars: Bars, grid: Grid, book: Book, memory: Memory) -> Bars:
    """Bars with the same skeleton vote on doubtful rests of it, so that one figure is one."""
    groups: dict[object, list[int]] = defaultdict(list)
    for bar, notes in bars.items():
        core = memory.recall(("core", bar), _core, notes, memory)
        if core:
            groups[grid.meter(bar), core].append(bar)
    missed = _missed(bars, memory)
    made = dict(bars)
    for key, numbers in groups.items():
        if len(numbers) < FIGURE_LEAST:
            continue
        shares = memory.recall(("shares", key), _shares, [bars[bar] for bar in numbers])
        for bar in numbers:
            made[bar], ledger = memory.recall(("figure", bar), _as_most, bar, bars[bar], shares, missed)
            book.add(bar, ledger)
    return made


def _core(notes: tuple[Note, ...], memory: Memory) -> int:
    """A number for what bars must share to vote together; 0 where they may not."""
    core = frozenset((n.position, n.piece) for n in notes if n.piece in CORE and not n.ghost)
    if not core or any(n.pinned for n in notes):
        return 0
    return memory.number(("core", core, _surface(notes)))


def _surface(notes: tuple[Note, ...]) -> str:
    counts: dict[str, int] = defaultdict(int)
    for note in notes:
        if note.piece in TIMEKEEPERS:
            counts[SURFACE.get(note.piece, note.piece)] += 1
    return max(sorted(counts), key=counts.__getitem__, default="")


def _shares(rows: list[tuple[Note, ...]]) -> tuple[dict[Spot, float], dict[tuple[Fraction, str], float]]:
    """Shares of bars that have a sound, and that have a surface, at each place."""
    sounds: dict[Spot, float] = defaultdict(float)
    surfaces: dict[tuple[Fraction, str], float] = defaultdict(float)
    for notes in rows:
        for note in notes:
            sounds[note.position, note.piece] += 1.0 / len(rows)
        for key in {(n.position, SURFACE.get(n.piece, n.piece)) for n in notes}:
            surfaces[key] += 1.0 / len(rows)
    return sounds, surfaces


def _missed(bars: Bars, memory: Memory) -> set[Sound]:
    """Time-keepers that the ears are unsure of in this song, and so may miss."""
    total: dict[Sound, float] = defaultdict(float)
    count: Counter[Sound] = Counter()
    for bar, notes in bars.items():
        for piece, (sure, many) in memory.recall(("sure", bar), _sureness, notes).items():
            total[piece] += sure
            count[piece] += many
    return {piece for piece, many in count.items() if total[piece] < SURE * many - 1e-6}


def _sureness(notes: tuple[Note, ...]) -> dict[Sound, tuple[float, int]]:
    found: dict[Sound, tuple[float, int]] = {}
    for note in notes:
        sure, many = found.get(note.piece, (0.0, 0))
        found[note.piece] = sure + note.sure, many + 1
    return found


def _as_most(
    bar: int,
    notes: tuple[Note, ...],
    shares: tuple[dict[Spot, float], dict[tuple[Fraction, str], float]],
    missed: set[Sound],
) -> tuple[tuple[Note, ...], Ledger]:
    sounds, surfaces = shares
    ledger = Ledger()
    left = []
    for note in notes:
        part = surfaces.get((note.position, SURFACE.get(note.piece, note.piece)), 0.0)
        soft = note.piece in SOFT and (note.piece != "snare" or note.ghost)
        if soft and note.sure < DOUBTFUL and part < RARE:
            why = f"doubtful, and {round(100 * (1 - part))} % of the like bars are without it"
            ledger.note(LEVELS, "dropped", bar, note, why, "one figure")
        else:
            left.append(note)
    taken = {n.position for n in left if n.piece in LINE}
    for (position, piece), part in sorted(sounds.items(), key=lambda item: (item[0][0], ORDER[item[0][1]])):
        if part >= USUAL and piece in TIMEKEEPERS and piece in missed and position not in taken:
            new = Note(position=position, piece=piece, heard=piece, weight=WEIGHT[piece] * 0.5, sure=0.5)
            why = f"not heard here, but {round(100 * part)} % of the like bars have it"
            ledger.note(LEVELS, "added", bar, new, why, "one figure", piece)
            left.append(new)
            taken.add(position)
    return tuple(sorted(left, key=lambda n: n.sort_key)), ledger
