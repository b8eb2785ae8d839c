"""How hard a bar is, on one scale, with its factors; and the grade of a chart.

A bar's difficulty depends on its own strokes, their limbs and its tempo alone, so that the same bar is equally
hard wherever it stands. Each factor is 0 when absent and about 1 when strong; the weights are in one table. Order
of importance after teachers' stages and the study of limb hardness (University of Graz): what limbs must do
against each other, and how near each limb is to its limit, weigh most. Difficulty never falls when the tempo
rises.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import log2
from typing import Final

from fourlimb.model import FEET, HANDS, Chart, Grid, Kit, Limb, Section, Stroke
from fourlimb.model.places import beat_of, is_compound
from fourlimb.model.sounds import FOOT, TIMEKEEPERS

from .layout import travel_table
from .limits import limit_us
from .note import Note
from .play import Played
from .surprise import surprise
from .timing import Clock

FACTORS: Final[dict[str, tuple[float, str]]] = {
    "limits": (2.4, "a limb is near its limit"),
    "independence": (1.6, "limbs break each other's rhythm"),
    "subdivision": (0.6, "kinds of subdivision mix"),
    "syncopation": (1.0, "strokes fall off the beat"),
    "ostinato": (0.8, "the time-keeping hand changes its pattern"),
    "dynamics": (1.2, "ghosts and accents alternate"),
    "travel": (0.7, "hands move around the kit"),
    "density": (1.2, "many strokes a second"),
    "ornaments": (0.6, "flams, drags and other ways of striking"),
    "meter": (0.4, "an odd meter"),
    "surprise": (0.8, "kick and snare fall where they rarely do"),
}
"""Weight of each factor of a bar, and what it means (ours)."""
LENGTH: Final = "length"
LENGTH_WEIGHT: Final = 0.3
"""A section or chart is harder by this for every doubling of the different bars in it (ours): what must be held until
the music repeats. It is no factor of a bar: the same bar is equally hard wherever it stands."""
SAYS: Final[dict[str, str]] = {name: says for name, (_, says) in FACTORS.items()} | {
    LENGTH: "many different bars before anything repeats"
}
"""What each factor means, in words."""
ORNAMENTS: Final = ("rimshot", "buzz", "choke", "half_open", "foot_splash")
"""Ways of striking that count like a flam."""


@dataclass(frozen=True, slots=True)
class Difficulty:
    """`value` 0 and up; `factors` already weighted, hardest first by `hardest`."""

    value: float
    factors: dict[str, float]

    @property
    def hardest(self) -> str:
        """Name of the factor that weighs most, or "" for a silent bar."""
        return max(self.factors, key=lambda name: (self.factors[name], name)) if self.value > 0 else ""


Content = tuple[object, ...]
"""What one bar holds; empty for a silent one. A number may stand for it (0 for a silent bar)."""
SILENT: Final = Difficulty(0.0, {})


def difficulty(chart: Chart, grid: Grid, kit: Kit) -> dict[int, Difficulty]:
    """Difficulty of every bar of a chart, with its factors."""
    judge = Judge(Clock(grid), kit)
    return {bar: judge.bar(bar, [(_note(s), s.limb) for s in chart.by_bar.get(bar, ())]) for bar in grid.numbers}


def whole(chart: Chart, grid: Grid, kit: Kit) -> Difficulty:
    """Difficulty of a chart: its bars together, and how much of it is new."""
    judged = difficulty(chart, grid, kit)
    return together(
        [judged[bar] for bar in grid.numbers], [content_of(chart.by_bar.get(b, ())) for b in grid.numbers]
    )


def sections(chart: Chart, grid: Grid, kit: Kit, form: Sequence[Section]) -> tuple[tuple[Section, Difficulty], ...]:
    """Difficulty of each section, on the same scale as the whole chart."""
    judged = difficulty(chart, grid, kit)
    found = []
    for section in form:
        bars = [bar for bar in grid.numbers if section.from_bar <= bar <= section.to_bar]
        contents = [content_of(chart.by_bar.get(bar, ())) for bar in bars]
        found.append((section, together([judged[bar] for bar in bars], contents)))
    return tuple(found)


def content_of(strokes: Sequence[Stroke]) -> Content:
    """What a bar holds, for telling whether it comes again: places, pieces and how they are struck."""
    return tuple((s.position, s.piece, s.ghost, s.accent, s.grace, s.struck) for s in strokes)


def together(bars: Sequence[Difficulty], contents: Sequence[Content | int]) -> Difficulty:
    """Sounding bars as one: their difficulty and their length without repeat.

    Difficulty is 0.7 of the mean of the hardest tenth and 0.3 of the mean of all (ours).
    """
    sounding = [bar for bar, content in zip(bars, contents, strict=True) if content]
    if not sounding:
        return SILENT
    top = sorted(sounding, key=lambda bar: -bar.value)[: max(len(sounding) // 10, 1)]
    factors = {name: round(0.7 * _mean(top, name) + 0.3 * _mean(sounding, name), 4) for name in FACTORS}
    different = len({content for content in contents if content})
    factors[LENGTH] = round(LENGTH_WEIGHT * log2(different), 4)
    return Difficulty(round(sum(factors.values()), 3), factors)


def _mean(bars: Sequence[Difficulty], name: str) -> float:
    return sum(bar.factors.get(name, 0.0) for bar in bars) / len(bars)


def hardest(chart: Chart, grid: Grid, kit: Kit) -> str:
    """The hardest bar and why, in one sentence; "" for an empty chart. Of equals the first is named."""
    judged = difficulty(chart, grid, kit)
    bar = max(judged, key=lambda number: (judged[number].value, -number), default=None)
    if bar is None or judged[bar].value == 0:
        return ""
    factors = judged[bar].factors
    first, second = sorted(factors, key=lambda name: (-factors[name], name))[:2]
    # without its number: that is no grade, and would be read as one beside the chart's
    return f"{f'bar {bar}' if bar else 'the pickup'} is the hardest: {SAYS[first]}, and {SAYS[second]}"


def _note(stroke: Stroke) -> Note:
    return Note(
        position=stroke.position,
        piece=stroke.piece,
        heard=stroke.piece,
        weight=0.0,
        ghost=stroke.ghost,
        accent=stroke.accent,
        grace=stroke.grace,
        struck=stroke.struck,
        second=stroke.second,
    )


class Judge:
    """Judges bars of one kit on one clock."""

    def __init__(self, clock: Clock, kit: Kit) -> None:
        self.clock, self.kit = clock, kit
        self.travel = travel_table(kit, "intermediate")
        self._known: dict[object, Difficulty] = {}
        self._last: dict[int, tuple[Sequence[Played], Difficulty]] = {}

    def bar(self, bar: int, played: Sequence[Played]) -> Difficulty:
        """Difficulty of one bar."""
        if not played:
            return SILENT
        last = self._last.get(bar)
        if last is not None and last[0] is played:
            return last[1]
        found = self._remembered(bar, played)
        self._last[bar] = (played, found)
        return found

    def _remembered(self, bar: int, played: Sequence[Played]) -> Difficulty:
        meter = self.clock.grid.meter(bar)
        strokes = tuple(
            (self.clock.us(bar, n.position), n.piece, b, n.ghost, n.accent, n.grace, n.struck, n.second)
            for n, b in played
        )
        key = (meter, self.clock.length_us(bar), strokes)
        if key not in self._known:
            self._known[key] = self._judge(bar, meter, played)
        return self._known[key]

    def _judge(self, bar: int, meter: str, played: Sequence[Played]) -> Difficulty:
        lines = self._lines(bar, played)
        raw = {
            "limits": self._limits(lines),
            "independence": _independence(played),
            "subdivision": _subdivision(meter, played),
            "syncopation": _syncopation(meter, played),
            "ostinato": _ostinato(played),
            "dynamics": _dynamics(played),
            "travel": self._travel(lines),
            "density": len(played) / (self.clock.length_us(bar) / 1e6) / 12.0,
            "ornaments": sum(n.grace is not None or n.struck in ORNAMENTS for n, _ in played) / 4.0,
            "surprise": _surprise(meter, played),
            "meter": 0.0 if is_compound(meter) or meter in ("4/4", "2/4", "3/4", "2/2") else 1.0,
        }
        factors = {name: round(FACTORS[name][0] * value, 4) for name, value in raw.items()}
        return Difficulty(round(sum(factors.values()), 3), factors)

    def _lines(self, bar: int, played: Sequence[Played]) -> dict[Limb, list[tuple[int, Note]]]:
        lines: dict[Limb, list[tuple[int, Note]]] = {limb: [] for limb in (*HANDS, *FEET)}
        for note, limb in played:
            lines[limb].append((self.clock.us(bar, note.position), note))
        return lines

    def _limits(self, lines: dict[Limb, list[tuple[int, Note]]]) -> float:
        """Demand against an intermediate player's limits: the worst limb counts whole, the others a quarter."""
        shares = sorted((self._share(limb, line) for limb, line in lines.items()), reverse=True)
        return shares[0] + 0.25 * sum(shares[1:])

    def _share(self, limb: Limb, line: list[tuple[int, Note]]) -> float:
        foot = limb in FEET
        worst = 0.0
        kind = "foot" if foot else "hand"
        burst, sustained = limit_us(f"{kind}_burst", "intermediate"), limit_us(f"{kind}_sustained", "intermediate")
        for index in range(1, len(line)):
            gap = max(line[index][0] - line[index - 1][0], 1)
            a, b = line[index - 1][1].spot, line[index][1].spot
            if foot:
                need = limit_us("foot_repeat" if b == "kick" else "hat_foot_repeat", "intermediate")
            else:
                need = max(limit_us("hand_repeat", "intermediate"), round(1000 * self.travel.get((a, b), 0.0)))
            worst = max(worst, need / gap)
            if index > 1:
                worst = max(worst, 2 * burst / max(line[index][0] - line[index - 2][0], 1))
            if index > 3:
                worst = max(worst, 4 * sustained / max(line[index][0] - line[index - 4][0], 1))
        return min(worst, 4.0)

    def _travel(self, lines: dict[Limb, list[tuple[int, Note]]]) -> float:
        moves = 0.0
        for limb in HANDS:
            line = lines[limb]
            for (_, a), (_, b) in itertools.pairwise(line):
                moves += self.travel.get((a.spot, b.spot), 0.0) / 300.0
        return moves / 8.0


def _places(played: Sequence[Played]) -> dict[Fraction, list[Played]]:
    places: dict[Fraction, list[Played]] = {}
    for note, limb in played:
        places.setdefault(note.position, []).append((note, limb))
    return places


def _independence(played: Sequence[Played]) -> float:
    """Places where a foot or the other hand plays between the time-keeping strokes, and how many kinds of meeting."""
    places = _places(played)
    time = {p for p, group in places.items() if any(n.piece in TIMEKEEPERS for n, _ in group)}
    against = [p for p, group in places.items() if p not in time and any(n.piece in FOOT for n, _ in group)]
    kinds = {tuple(sorted(limb for _, limb in group)) for group in places.values()}
    apart = len(against) if time else 0.3 * len(against)
    return apart / 4.0 + max(len(kinds) - 2, 0) / 8.0


def _subdivision(meter: str, played: Sequence[Played]) -> float:
    """Kinds of beat division: quarters, eighths, sixteenths, triplets, finer."""
    found = {beat_of(meter, n.position)[1].denominator for n, _ in played}
    finest = max(found)
    return 0.35 * (len(found) - 1) + (0.4 if finest > 4 else 0.0)


def _syncopation(meter: str, played: Sequence[Played]) -> float:
    """Kick and snare strokes off the beat; quarters of a beat count double."""
    total = 0.0
    for note, _ in played:
        if note.piece in TIMEKEEPERS or note.piece == "hat_pedal":
            continue
        inside = beat_of(meter, note.position)[1]
        total += 0.0 if inside == 0 else (0.5 if inside.denominator == 2 else 1.0) * (0.5 if note.ghost else 1.0)
    return total / 6.0


def _surprise(meter: str, played: Sequence[Played]) -> float:
    """Bits above the usual of all kicks and snares; ghosts count half."""
    bits = (surprise(meter, n.position, n.piece) * (0.5 if n.ghost else 1.0) for n, _ in played)
    return sum(bits) / 8.0


def _ostinato(played: Sequence[Played]) -> float:
    """Changes of gap or surface along the time-keeping line."""
    line = [(n.position, n.piece) for n, _ in played if n.piece in TIMEKEEPERS]
    if len(line) < 3:
        return 0.0
    gaps = [b[0] - a[0] for a, b in itertools.pairwise(line)]
    breaks = sum(x != y for x, y in itertools.pairwise(gaps))
    surfaces = sum(a[1] != b[1] for a, b in itertools.pairwise(line))
    return (breaks + surfaces) / 6.0


def _dynamics(played: Sequence[Played]) -> float:
    ghosts = sum(n.ghost for n, _ in played)
    accents = sum(n.accent for n, _ in played)
    return ghosts / 4.0 + accents / 12.0


GRADE_KNOTS: Final = (
    (2.5, 1.0), (3.5, 2.0), (4.4, 3.0), (5.3, 4.0), (6.5, 5.0), (8.0, 6.0), (10.6, 7.0), (12.6, 8.0),
)  # fmt: skip
"""Difficulty of a part -> grade, straight lines between; below the first 1, above the last 8. Fitted by eye to
27 parts written by stage (`bench.stages`, three a stage); the other 18 were not looked at."""


def grade(value: float) -> float:
    """Grade of a chart, 1 to 8, from the difficulty of the whole."""
    before = GRADE_KNOTS[0]
    for knot in GRADE_KNOTS:
        if value <= knot[0]:
            span = knot[0] - before[0]
            share = (value - before[0]) / span if span else 1.0
            return round(before[1] + max(share, 0.0) * (knot[1] - before[1]), 1)
        before = knot
    return GRADE_KNOTS[-1][1]
