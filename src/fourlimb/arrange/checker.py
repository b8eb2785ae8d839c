"""Can two hands and two feet play this chart, at its tempo, on this kit? Verdict per stroke.

Independent of the arranger: it shares only the model, the limits table and the layout with it, and believes
nothing but the chart: which limb plays what, when. Limits are the ceiling's: what nobody can. Times are as played
(swung).

Each limb is followed alone through the song (one stroke at a time; repeat, burst, sustained, travel), then what
ties limbs together (graces, hat foot against open hat, chokes). It cannot see fatigue, loudness or taste.
"""

from bisect import bisect_left
from collections.abc import Callable, Iterator
from fractions import Fraction

from fourlimb.model import FEET, HANDS, Breach, Chart, Grid, Kit, Limb, Sound, Stroke
from fourlimb.model.sounds import FOOT, SAY

from .layout import Spot, has_second, spot, travel_table
from .limits import SUSTAINED_GAPS, limit_us

TOLERANCE_MS = 0.5
"""Times in a grid are rounded to the microsecond; half a millisecond is far below any limit."""

Timed = tuple[float, Stroke]
"""Milliseconds from the song's start, and the stroke."""
Travel = dict[tuple[Spot, Spot], float]


def check(chart: Chart, grid: Grid, kit: Kit) -> tuple[Breach, ...]:
    """Every place where a limit is broken, in song order; an empty tuple when the chart can be played."""
    outside = [s for s in chart.strokes if not _inside(s, grid)]
    found = [_breach(s, "outside the bar", "no such place in the song") for s in outside]
    times: dict[tuple[int, Fraction], float] = {}
    timed: list[Timed] = []
    for stroke in sorted((s for s in chart.strokes if _inside(s, grid)), key=lambda s: s.sort_key):
        at = (stroke.bar, stroke.position)
        if at not in times:
            times[at] = 1000.0 * grid.time_at(*at, swung=True)
        timed.append((times[at], stroke))
    travel = travel_table(kit, "ceiling")
    found += _fits_kit(timed, kit)
    found += _at_once(timed)
    by_limb = {limb: [ts for ts in timed if ts[1].limb == limb] for limb in (*HANDS, *FEET)}
    for limb, line in by_limb.items():
        found += _one_limb(limb, line, travel)
    for limb, other in ((HANDS[0], HANDS[1]), (HANDS[1], HANDS[0])):
        found += _graces(by_limb[limb], by_limb[other], other, kit, travel)
    found += _hat(timed)
    found += _half_open(timed, kit)
    return tuple(sorted(found, key=lambda b: (b.bar, b.position, b.limit, b.pieces)))


def _inside(stroke: Stroke, grid: Grid) -> bool:
    return grid.has(stroke.bar) and 0 <= stroke.position < grid.length(stroke.bar)


def _breach(stroke: Stroke, limit: str, why: str, *more: Sound) -> Breach:
    return Breach(bar=stroke.bar, position=stroke.position, limit=limit, why=why, pieces=(stroke.piece, *more))


def _fits_kit(timed: list[Timed], kit: Kit) -> Iterator[Breach]:
    for _, stroke in timed:
        say = SAY[stroke.piece]
        if stroke.piece not in kit.pieces:
            yield _breach(stroke, "piece on the kit", f"there is no {say} on this kit")
        elif stroke.second and not has_second(kit, stroke.piece):
            yield _breach(stroke, "piece on the kit", f"there is no second {say} on this kit")
        if stroke.limb not in kit.limbs:
            yield _breach(stroke, "limb of the player", f"this player does not use the {stroke.limb}")
        if (stroke.piece in FOOT) != (stroke.limb in FEET):
            yield _breach(stroke, "hand or foot", f"the {stroke.limb} cannot play the {say}")
        elif stroke.piece in FOOT and not _own_pedal(stroke, kit):
            yield _breach(stroke, "pedal within reach", f"the {stroke.limb} is not on the pedal of the {say}")


def _own_pedal(stroke: Stroke, kit: Kit) -> bool:
    """A foot plays its own pedal, the hat foot also a second kick pedal; a single foot sits where needed."""
    if len(set(FEET) & set(kit.limbs)) < 2 or stroke.limb not in kit.limbs:
        return True
    if stroke.piece == "hat_pedal":
        return stroke.limb == kit.hat_foot
    return stroke.limb == kit.kick_foot or kit.double_pedal


def _at_once(timed: list[Timed]) -> Iterator[Breach]:
    """Too many sounds at one written place, whoever is said to play them."""
    places: dict[tuple[int, Fraction], list[Stroke]] = {}
    for _, stroke in timed:
        places.setdefault((stroke.bar, stroke.position), []).append(stroke)
    for strokes in places.values():
        hands = [s for s in strokes if s.piece not in FOOT]
        kicks = [s for s in strokes if s.piece == "kick"]
        if len(hands) > 2:
            yield _breach(
                hands[2], "two hands", f"{len(hands)} sounds for two hands at once", *(s.piece for s in hands[:2])
            )
        if {"hat_open", "hat_closed"} <= {s.piece for s in hands}:
            yield _breach(hands[0], "hat open or closed", "one hi-hat cannot be open and closed at once")
        if len(kicks) > 1:
            yield _breach(kicks[1], "one kick", "the kick cannot be struck twice at once")


def _one_limb(limb: Limb, line: list[Timed], travel: Travel) -> Iterator[Breach]:
    foot = limb in FEET
    for index, (now, stroke) in enumerate(line):
        if index == 0:
            continue
        before, last = line[index - 1]
        gap = now - before
        if gap < TOLERANCE_MS:
            yield _breach(stroke, "one limb, one stroke", f"the {limb} has two strokes at once", last.piece)
            continue
        for limit, need in _gap_needs(last, stroke, travel):
            if gap < need - TOLERANCE_MS:
                way = f"{SAY[last.piece]} to {SAY[stroke.piece]}"
                yield _breach(
                    stroke, limit, f"the {limb} has {gap:.0f} ms for {way}; {need:.0f} is the least", last.piece
                )
        for name, gaps in (("burst", 2), ("sustained", SUSTAINED_GAPS)):
            limit = f"{'foot' if foot else 'hand'}_{name}"
            need = gaps * limit_us(limit, "ceiling") / 1000.0
            if index >= gaps and now - line[index - gaps][0] < need - TOLERANCE_MS:
                span = now - line[index - gaps][0]
                yield _breach(
                    stroke, limit, f"the {limb} has {gaps + 1} strokes in {span:.0f} ms; {need:.0f} is the least"
                )


def _gap_needs(last: Stroke, stroke: Stroke, travel: Travel) -> Iterator[tuple[str, float]]:
    """Limits (name, ms) on the gap between two strokes of one limb."""
    pair = {last.piece, stroke.piece}
    if pair <= FOOT:
        if len(pair) == 2:
            yield "pedal_change", limit_us("pedal_change", "ceiling") / 1000.0
        else:
            name = "foot_repeat" if stroke.piece == "kick" else "hat_foot_repeat"
            yield name, limit_us(name, "ceiling") / 1000.0
        return
    yield "hand_repeat", limit_us("hand_repeat", "ceiling") / 1000.0
    if pair == {"rim", "snare"}:
        yield "cross_stick", limit_us("cross_stick", "ceiling") / 1000.0
    if last.struck in ("choke", "buzz"):
        yield last.struck, limit_us(last.struck, "ceiling") / 1000.0
    need = travel.get((_spot(last), _spot(stroke)), 0.0)
    if need:
        yield "travel", need


def _graces(line: list[Timed], others: list[Timed], other: Limb, kit: Kit, travel: Travel) -> Iterator[Breach]:
    """Grace strokes are the other hand's: it must be there in time, and not be playing something else."""
    nearest = _neighbours(others)
    for now, stroke in line:
        if stroke.grace is None:
            continue
        if other not in kit.limbs:
            yield _breach(stroke, "grace", f"a {stroke.grace} needs two hands")
            continue
        repeat = limit_us("hand_repeat", "ceiling") / 1000.0
        spread = limit_us("grace_spread", "ceiling") / 1000.0
        first = now - spread - {"flam": 0, "long_ruff": 2}.get(stroke.grace, 1) * repeat
        before, after = nearest(now)
        if before and first - before[0] < max(repeat, travel.get((_spot(before[1]), _spot(stroke)), 0.0)) - 0.5:
            yield _breach(stroke, "grace", f"the {other} is not free for the {stroke.grace}", before[1].piece)
        reach = max(repeat, travel.get((_spot(stroke), _spot(after[1])), 0.0)) if after else 0.0
        if after and after[0] - (now - spread) < reach - TOLERANCE_MS:
            yield _breach(stroke, "grace", f"the {other} plays on too soon after the {stroke.grace}", after[1].piece)


def _spot(stroke: Stroke) -> Spot:
    return spot(stroke.piece, stroke.second)


def _neighbours(line: list[Timed]) -> Callable[[float], tuple[Timed | None, Timed | None]]:
    times = [at for at, _ in line]

    def around(now: float) -> tuple[Timed | None, Timed | None]:
        index = bisect_left(times, now - TOLERANCE_MS)
        return (line[index - 1] if index else None), (line[index] if index < len(line) else None)

    return around


def _hat(timed: list[Timed]) -> Iterator[Breach]:
    """The hat's foot against its stick: a chick cannot sound as an open hat is struck, nor at once after it."""
    need = limit_us("hat_close", "ceiling") / 1000.0
    opened: Timed | None = None
    pedal: Timed | None = None
    for now, stroke in timed:
        if stroke.piece == "hat_open" or stroke.struck == "half_open":
            opened = (now, stroke)
            if pedal and now - pedal[0] < TOLERANCE_MS:
                yield _breach(
                    stroke, "hat open or closed", "the foot closes the hat as it is struck open", "hat_pedal"
                )
        elif stroke.piece == "hat_pedal":
            pedal = (now, stroke)
            if opened and now - opened[0] < TOLERANCE_MS:
                yield _breach(
                    stroke, "hat open or closed", "the foot closes the hat as it is struck open", "hat_open"
                )
            elif opened and now - opened[0] < need - TOLERANCE_MS:
                yield _breach(
                    stroke,
                    "hat_close",
                    f"{now - opened[0]:.0f} ms after an open hat; {need:.0f} is the least",
                    "hat_open",
                )


def _half_open(timed: list[Timed], kit: Kit) -> Iterator[Breach]:
    """A half-open hat is held by its foot, which can do nothing else at that moment."""
    feet = {(s.bar, s.position) for _, s in timed if s.limb == kit.hat_foot}
    for _, stroke in timed:
        if stroke.struck != "half_open":
            continue
        if kit.hat_foot not in kit.limbs:
            yield _breach(stroke, "half_open", "no foot holds the hat half open")
        elif (stroke.bar, stroke.position) in feet:
            yield _breach(stroke, "half_open", f"the {kit.hat_foot} holds the hat half open and plays at once")
