"""A bar's notes -> its places: which of them fall together, and what the hands make of where a place stands.

Pure: times and divisions of the beat only; which limb plays what is decided elsewhere.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Container, Mapping
from fractions import Fraction
from itertools import pairwise
from typing import Final

import msgspec

from fourlimb.model import Limb
from fourlimb.model.places import beat_lengths, beat_of
from fourlimb.model.sounds import FOOT

from .comfort import DOUBLE_BELOW_US
from .note import Note, on_one_drum, time_kept
from .pair import Due, Place
from .timing import Clock, Ticks
from .turns import Dues

EIGHTH: Final = Fraction(1, 8)
SLOWEST_RUN_US: Final = 250_000
"""Strokes farther apart than this are within anyone's reach: nothing is asked of runs of them (ours)."""


def places_of(bar: int, notes: tuple[Note, ...], clock: Clock, dues: Dues = ()) -> list[Place]:
    """The places of a bar in order; `notes` sorted; `dues`: who strikes where, as far as that is decided."""
    due = dict(dues)
    meter = clock.grid.meter(bar)
    groups: list[list[tuple[int, Note]]] = []
    for index, note in enumerate(notes):
        if groups and groups[-1][0][1].position == note.position:
            groups[-1].append((index, note))
        else:
            groups.append([(index, note)])
    positions = [group[0][1].position for group in groups]
    beats = [beat_of(meter, position) for position in positions]
    time = time_kept(notes, meter)
    running: dict[int, bool] = {}
    for (beat, _), group in zip(beats, groups, strict=True):
        running[beat] = running.get(beat, False) or any(n.piece in time for _, n in group)
    times = [clock.us(bar, position) for position in positions]
    lengths = beat_lengths(meter)
    divisions = [division(lengths[beat], inside) for beat, inside in beats]
    accented = [any(n.accent for _, n in group) for group in groups]
    betweens = _betweens(meter, groups)
    phrase = on_one_drum(notes) and sum(n.accent for n in notes) > 1
    return [
        Place(
            now=times[index],
            notes=tuple(group),
            on_beat=divisions[index] == 1,
            off_eighth=divisions[index] == 2,
            keeps_time=running[beats[index][0]],
            split=_splits(times, index),
            strong=index > 0 and divisions[index] < divisions[index - 1],
            phrase=phrase,
            odd=divisions[index] not in (1, 2, 4),
            between=running[beats[index][0]] and betweens[index] != "no",
            turn=running[beats[index][0]] and betweens[index] == "in turn",
            closes=phrase and accented[(index + 1) % len(accented)],
            time=time,
            due=due.get(positions[index]) if due else None,
        )
        for index, group in enumerate(groups)
    ]


def division(length: Fraction, inside: Fraction) -> int:
    """How finely a beat of this length is divided at this place: 1 the beat, 2 its eighths, 4 its sixteenths ...

    The eighths of a beat of three are its thirds; thirds of a simple beat are 3.
    """
    if length.numerator != 3 or inside == 0:
        return inside.denominator
    return 2 * (3 * inside).denominator


def _betweens(meter: str, groups: list[list[tuple[int, Note]]]) -> list[str]:
    """Whether each place lies between the strokes of a hand that keeps time alone: "no", "yes", "in turn".

    In turn: the hands' places next to it tell how they run (in sixteenths, sextuplets), and it is an odd one of these
    from the beat on. Where that does not come out even, or beside a place where both hands strike, what is no eighth
    of the bar lies between and nothing is said of turns.
    """
    positions = [group[0][1].position for group in groups]
    ticks = Ticks(meter, positions)
    places, eighth = [ticks.of(at) for at in positions], ticks.whole // 8
    hands = {at: sum(n.piece not in FOOT for _, n in group) for at, group in zip(places, groups, strict=True)}
    struck = [at for at, count in hands.items() if count]
    found = []
    for at in places:
        before, after = bisect_left(struck, at), bisect_right(struck, at)
        near = [*struck[max(before - 1, 0) : before], *struck[after : after + 1]]
        gap = min((abs(other - at) for other in near if abs(other - at) <= eighth), default=eighth)
        steps, rest = divmod(at - ticks.beat(at), gap)
        if gap >= eighth or rest:
            found.append("no" if at % eighth == 0 else "yes")
        elif steps % 2 == 0:
            found.append("no")
        else:
            both = any(hands[other] > 1 for other in near if abs(other - at) == gap)
            found.append("yes" if both else "in turn")
    return found


def _splits(times: list[int], index: int) -> bool:
    """True when a place lies midway between its neighbours, alone: the pulse on both sides is twice as slow."""
    if not 0 < index < len(times) - 1:
        return False
    gap, after = times[index] - times[index - 1], times[index + 1] - times[index]
    if gap >= DOUBLE_BELOW_US or abs(gap - after) > 0.1 * gap:
        return False
    beside = [times[index - 1] - times[index - 2]] if index > 1 else []
    beside += [times[index + 2] - times[index + 1]] if index + 2 < len(times) else []
    return bool(beside) and all(abs(pulse - gap - after) <= 0.2 * gap for pulse in beside)


def every_second(places: list[Place], kept: Container[int], least_us: int) -> list[Place] | None:
    """The same with every second stroke of those even runs on drums that are too fast; None without such.

    Too fast: strokes of it are lost here and there, or its hands would take turns in less than `least_us`.

    What is left of a run are the strokes on its beats and every second one from there.
    """
    gone: set[int] = set()
    for run in _drum_runs(places):
        indexes = [i for place in run for i, n in place.notes if n.piece not in FOOT]
        if all(index in kept for index in indexes) and all(b.now - a.now >= least_us for a, b in pairwise(run)):
            continue
        anchor = next((at for at, place in enumerate(run) if place.on_beat), 0)
        for at, place in enumerate(run):
            anchor = at if place.on_beat else anchor
            if (at - anchor) % 2:
                gone.update(i for i, n in place.notes if n.piece not in FOOT and not n.pinned)
    if not gone:
        return None
    return [place.only(tuple(p for p in place.notes if p[0] not in gone)) for place in places]


def in_turns(places: list[Place], limbs: Mapping[int, Limb], lead: Limb) -> list[Place] | None:
    """The same with turns laid down in quick even runs on drums that mix singles and doubles; None without such.

    Runs with accents or graces are left to themselves: there the mixture may be meant (paradiddles).
    """
    dues: dict[Fraction, Due] = {}
    for run in _drum_runs(places):
        struck = [(i, n) for place in run for i, n in place.notes if n.piece not in FOOT]
        quick = run[1].now - run[0].now < DOUBLE_BELOW_US
        plain = not any(n.accent or n.grace or n.pinned for _, n in struck)
        if len(struck) != len(run) or not (quick and plain) or not run[0].on_beat:
            continue
        if _mixes([limbs.get(i) == lead for i, _ in struck]):
            dues.update((_position(place), "other" if at % 2 else "lead") for at, place in enumerate(run))
    return [place if _position(place) not in dues else _due(place, dues) for place in places] if dues else None


def _mixes(leads: list[bool]) -> bool:
    singles = all(a != b for a, b in pairwise(leads))
    doubles = all((a == b) == (at % 2 == 0) for at, (a, b) in enumerate(pairwise(leads)))
    return not singles and not doubles


def _due(place: Place, dues: Mapping[Fraction, Due]) -> Place:
    return msgspec.structs.replace(place, due=dues[_position(place)])


def _drum_runs(places: list[Place]) -> list[list[Place]]:
    """Hands' places that follow each other evenly, closer than an eighth, without time being kept."""
    struck = [place for place in places if any(n.piece not in FOOT for _, n in place.notes)]
    runs: list[list[Place]] = []
    for before, place in pairwise(struck):
        if place.now - before.now > SLOWEST_RUN_US or _keeps_time(before) or _keeps_time(place):
            continue
        gap = _position(place) - _position(before)
        if not 0 < gap < EIGHTH:
            continue
        last = runs[-1] if runs else []
        if len(last) > 1 and last[-1] is before and _position(before) - _position(last[-2]) == gap:
            last.append(place)
        else:
            runs.append([before, place])
    return [run for run in runs if len(run) > 2]


def _keeps_time(place: Place) -> bool:
    return any(n.piece in place.time for _, n in place.notes)


def _position(place: Place) -> Fraction:
    return place.notes[0][1].position
