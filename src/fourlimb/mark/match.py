"""Which hit is which written stroke: one to one, nearest first.

First each stretch of the take gets its own steady time from the strokes it surely holds; then, for every bar, the
stretch that holds most of it speaks (a bar played twice is marked by its better try, the later one when equal). In
steady time each stroke takes the nearest hit of its own sound, then of its instrument, then whatever else is struck
there.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np

from fourlimb.model import Hit, Sound
from fourlimb.model.sounds import INSTRUMENT

from .follow import REACH_S, Stretch
from .order import in_order
from .recut import recut
from .steady import Steady, keep_time
from .written import Floats, Written

SAME_S: Final = 0.12
"""Furthest that a hit of the same sound counts as the stroke (seconds of the take; ours)."""

OTHER_S: Final = 0.05
"""Furthest that a hit of another instrument counts as struck instead (seconds of the take; ours)."""

GAP_SHARE: Final = 0.5
"""... and never further than this share of the way to the next stroke of the same sound (ours)."""

STRETCH_LEAST: Final = 6
"""Fewer strokes than this found after a jump are no restart but a slip of the ears (ours)."""

SURE: Final = 0.4
"""A hit less certain than this may be a stroke, but is never called an extra one (ours)."""


class Pair(NamedTuple):
    """A written stroke (its index), the hit (its index; None: missed), how late it is, and when it was due.

    Seconds of the take; `due_s` None: the take never came there.
    """

    stroke: int
    hit: int | None
    late_s: float | None
    due_s: float | None = None


class Matched(NamedTuple):
    """Every written stroke once, the hits that are nothing written (with their written time), and the steady times.

    `restarts`: written times at which the take stopped and began again, and where it began. `known`: hits (their
    index) that are a stroke of their instrument in some try, also in one that another speaks for.
    """

    pairs: tuple[Pair, ...]
    extra: tuple[tuple[int, float], ...]
    steady: tuple[Steady, ...]
    restarts: tuple[tuple[float, float], ...]
    known: frozenset[int] = frozenset()


class _Try(NamedTuple):
    """One stretch with its steady time and the strokes that it reaches."""

    stretch: Stretch
    steady: Steady
    covers: frozenset[int]


def match(written: Written, hits: Sequence[Hit], stretches: Sequence[Stretch], ratio: float) -> Matched:
    """Pairs written strokes with hits. `hits` in order of time; `stretches` as `follow` gives them."""
    tries = [made for stretch in stretches if (made := _try(written, hits, stretch, ratio)) is not None]
    tries = _to_their_ends(written, hits, _cut_anew(written, hits, tries, ratio))
    found = [_assign(written, hits, one) for one in tries]
    choice = _choose(written, tries, found)
    due = [one.steady.at(written.time_s) for one in tries]
    pairs = []
    for index in range(len(written.strokes)):
        number = choice.get(index)
        hit, late_s = (None, None) if number is None else found[number].get(index, (None, None))
        pairs.append(Pair(index, hit, late_s, None if number is None else float(due[number][index])))
    used = {pair.hit for pair in pairs if pair.hit is not None}
    return Matched(
        pairs=tuple(pairs),
        extra=_extra(written, hits, tries, choice, used, found),
        steady=tuple(one.steady for one in tries),
        restarts=_restarts(tries, Counter(choice[pair.stroke] for pair in pairs if pair.hit is not None)),
        known=frozenset(j for one in found for i, (j, _) in one.items() if _is_own(written, hits, i, j)),
    )


def _is_own(written: Written, hits: Sequence[Hit], stroke: int, hit: int) -> bool:
    return INSTRUMENT[written.strokes[stroke].piece] == INSTRUMENT[hits[hit].sound]


def _restarts(tries: Sequence[_Try], spoken: Mapping[int, int]) -> tuple[tuple[float, float], ...]:
    """Where the take stops and begins again, between tries that some strokes (`spoken`) were found in."""
    sure = [one.stretch.written_s for number, one in enumerate(tries) if spoken.get(number, 0) >= STRETCH_LEAST]
    return tuple((float(a[-1]), float(b[0])) for a, b in pairwise(sure))


def _try(written: Written, hits: Sequence[Hit], stretch: Stretch, ratio: float) -> _Try | None:
    """The stretch with its steady time; None when nothing in it is surely a written stroke."""
    where, when = [], []
    for offset, written_s in enumerate(stretch.written_s):
        hit = hits[stretch.first + offset]
        near = _near(written.time_s, float(written_s), REACH_S)
        same = [i for i in near if INSTRUMENT[written.strokes[i].piece] == INSTRUMENT[hit.sound]]
        if same:
            best = min(same, key=lambda i: abs(written.time_s[i] - written_s))
            where.append(float(written.time_s[best]))
            when.append(hit.time_s)
    if not where:
        return None
    order = np.argsort(where, kind="stable")
    steady = keep_time(np.array(where)[order], np.array(when)[order], ratio, written.beat_s)
    low, high = min(where) - REACH_S, max(where) + REACH_S
    covers = frozenset(i for i, time_s in enumerate(written.time_s) if low <= time_s <= high)
    return _Try(stretch, steady, covers)


def _cut_anew(written: Written, hits: Sequence[Hit], tries: Sequence[_Try], ratio: float) -> list[_Try]:
    """The same with each jump at the hit where it fits best."""
    stretches = [one.stretch for one in tries]
    for n in range(len(tries) - 1):
        one, after = (stretches[n], tries[n].steady), (stretches[n + 1], tries[n + 1].steady)
        stretches[n], stretches[n + 1] = recut(written, hits, one, after)
    return [made for stretch in stretches if (made := _try(written, hits, stretch, ratio)) is not None]


def _to_their_ends(written: Written, hits: Sequence[Hit], tries: Sequence[_Try]) -> list[_Try]:
    """The same, each with the strokes before its first hit and after its last that it had the time for.

    Ears may have missed them. Between two tries that is the time until the next begins; where the take begins and
    ends it is the rest of the bar, for nobody knows whether the player went on. What another try holds is its own.
    """
    held = frozenset[int]().union(*(one.covers for one in tries))
    reached = []
    for number, one in enumerate(tries):
        before = hits[one.stretch.first - 1].time_s if number else -np.inf
        after = hits[one.stretch.last + 1].time_s if number + 1 < len(tries) else np.inf
        due = one.steady.at(written.time_s)
        bars = [written.strokes[i].bar for i in one.covers]
        more = (
            i
            for i, stroke in enumerate(written.strokes)
            if before + SAME_S < due[i] < after - SAME_S and min(bars) <= stroke.bar <= max(bars)
        )
        reached.append(one._replace(covers=one.covers.union(set(more) - held)))
    return reached


def _assign(written: Written, hits: Sequence[Hit], one: _Try) -> dict[int, tuple[int, float]]:
    """Stroke -> (hit, late) in one stretch: own sound first, then the instrument, then anything at that moment."""
    strokes = sorted(one.covers)
    due = dict(zip(strokes, one.steady.at(written.time_s[strokes]), strict=True))
    reach = _reaches(written, due)
    times = np.array([hit.time_s for hit in hits])
    pairs = _own_sound(written, hits, one, due)
    used = {j for j, _ in pairs.values()}
    for allowed, most in _PASSES:
        ranked = []
        for i in strokes:
            if i in pairs:
                continue
            limit = min(most, reach[i])
            for j in _near(times, due[i], limit):
                free = one.stretch.first <= j <= one.stretch.last and j not in used
                if free and allowed(written.strokes[i].piece, hits[j].sound):
                    ranked.append((abs(times[j] - due[i]), i, j))
        for _, i, j in sorted(ranked):
            if i not in pairs and j not in used:
                pairs[i] = j, float(times[j] - due[i])
                used.add(j)
    return pairs


def _own_sound(
    written: Written, hits: Sequence[Hit], one: _Try, due: dict[int, float]
) -> dict[int, tuple[int, float]]:
    """Strokes and hits of the same sound, paired in order."""
    pairs: dict[int, tuple[int, float]] = {}
    for sound in sorted({written.strokes[i].piece for i in due}):
        strokes = sorted((i for i in due if written.strokes[i].piece == sound), key=lambda i: (due[i], i))
        struck = [j for j in range(one.stretch.first, one.stretch.last + 1) if hits[j].sound == sound]
        times = np.array([hits[j].time_s for j in struck])
        trust = np.array([hits[j].confidence for j in struck])
        for a, b in in_order(np.array([due[i] for i in strokes]), times, SAME_S, trust):
            i, j = strokes[a], struck[b]
            pairs[i] = j, float(times[b] - due[i])
    return pairs


def _same_thing(a: Sound, b: Sound) -> bool:
    return INSTRUMENT[a] == INSTRUMENT[b]


def _any(a: Sound, b: Sound) -> bool:
    return (a in ("kick", "hat_pedal")) == (b in ("kick", "hat_pedal"))


_PASSES: Final[tuple[tuple[Callable[[Sound, Sound], bool], float], ...]] = (
    (_same_thing, SAME_S),
    (_any, OTHER_S),
)


def _reaches(written: Written, due: dict[int, float]) -> dict[int, float]:
    """How far from each stroke its hit may be: not past the half way to the next of the same sound."""
    reach = dict.fromkeys(due, SAME_S)
    last: dict[Sound, int] = {}
    for i in sorted(due, key=lambda index: due[index]):
        before = last.get(written.strokes[i].piece)
        if before is not None:
            gap = GAP_SHARE * (due[i] - due[before])
            reach[i], reach[before] = min(reach[i], gap), min(reach[before], gap)
        last[written.strokes[i].piece] = i
    return reach


def _near(times: Floats, at: float, reach: float) -> range:
    return range(int(np.searchsorted(times, at - reach)), int(np.searchsorted(times, at + reach, side="right")))


def _choose(written: Written, tries: Sequence[_Try], found: Sequence[dict[int, tuple[int, float]]]) -> dict[int, int]:
    """Which try speaks for each stroke: the one with most of its bar, the later when equal."""
    score: dict[tuple[int, int], int] = {}
    for number, pairs in enumerate(found):
        for i in pairs:
            key = written.strokes[i].bar, number
            score[key] = score.get(key, 0) + 1
    choice = {}
    for i, stroke in enumerate(written.strokes):
        reach = [n for n, one in enumerate(tries) if i in one.covers]
        if reach:
            choice[i] = max(reach, key=lambda n: (score.get((stroke.bar, n), 0), n))
    return choice


def _extra(
    written: Written,
    hits: Sequence[Hit],
    tries: Sequence[_Try],
    choice: dict[int, int],
    used: set[int],
    found: Sequence[dict[int, tuple[int, float]]],
) -> tuple[tuple[int, float], ...]:
    """Hits that are nothing written, with their written time, of a try that speaks for the bars there."""
    extra = []
    for number, one in enumerate(tries):
        taken = {hit for hit, _ in found[number].values()}
        loose = [j for j in range(one.stretch.first, one.stretch.last + 1) if j not in used and j not in taken]
        places = one.steady.written_at(np.array([hits[j].time_s for j in loose])) if loose else np.array([])
        for j, place in zip(loose, places, strict=True):
            nearest = int(np.argmin(np.abs(written.time_s - place)))
            inside = min(one.covers, default=0) <= nearest <= max(one.covers, default=-1)
            sure = hits[j].confidence >= SURE and written.start_s - OTHER_S <= place < written.end_s
            if sure and inside and choice.get(nearest) == number:
                extra.append((j, float(place)))
    return tuple(extra)
