"""A bar's notes -> its places: which of them fall together, and what the hands make of where a place stands.

Pure: times and divisions of the beat only; which limb plays what is decided elsewhere.
"""

from fractions import Fraction
from typing import Final

from fourlimb.model.places import beat_of, beat_starts
from fourlimb.model.sounds import FOOT

from .comfort import DOUBLE_BELOW_US
from .note import Note, on_one_drum, time_surfaces
from .pair import Place
from .timing import Clock
from .turns import Dues

EIGHTH: Final = Fraction(1, 8)


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
    time = time_surfaces(n.piece for n in notes if not n.second)
    running: dict[int, bool] = {}
    for (beat, _), group in zip(beats, groups, strict=True):
        running[beat] = running.get(beat, False) or any(n.piece in time for _, n in group)
    times = [clock.us(bar, position) for position in positions]
    divisions = [inside.denominator for _, inside in beats]
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
            turn=positions[index] not in due and running[beats[index][0]] and betweens[index] == "in turn",
            closes=phrase and accented[(index + 1) % len(accented)],
            time=time,
            due=due.get(positions[index]),
        )
        for index, group in enumerate(groups)
    ]


def _betweens(meter: str, groups: list[list[tuple[int, Note]]]) -> list[str]:
    """Whether each place lies between the strokes of a hand that keeps time alone: "no", "yes", "in turn".

    In turn: the hands' places next to it tell how they run (in sixteenths, sextuplets), and it is an odd one of these
    from the beat on. Where that does not come out even, or beside a place where both hands strike, what is no eighth
    of the bar lies between and nothing is said of turns.
    """
    starts = beat_starts(meter)
    hands = {group[0][1].position: sum(n.piece not in FOOT for _, n in group) for group in groups}
    struck = [at for at, count in hands.items() if count]
    found = []
    for at in hands:
        near = [other for other in struck if other != at and abs(other - at) <= EIGHTH]
        gap = min((abs(other - at) for other in near), default=EIGHTH)
        step = (at - starts[beat_of(meter, at)[0]]) / gap
        if gap >= EIGHTH or step.denominator > 1:
            found.append("no" if at % EIGHTH == 0 else "yes")
        elif step % 2 == 0:
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
