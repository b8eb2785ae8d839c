"""The practice ladder, and the count-in.

Three shapes of ladder, none proven best: steady, zigzag and alternating tempi gave no significant difference in
sixty school wind players, while a recorded model did help rhythm and tempo (Henley, J. Research in Music Education
2001, doi 10.2307/3345868). So every rung comes with the sound of the chart at that tempo, and the teacher picks the
shape. The numbers are common practice among teachers (start at 50-60 % of the goal, steps of 2-5 bpm or 5 %, three
clean in a row, down after two failures, last rung a little over the goal) and stand in `LADDER`, where they can be
changed.
"""

from fractions import Fraction
from typing import Final, Literal, NamedTuple

from fourlimb.model import InputError
from fourlimb.model.places import bar_length, beat_lengths, is_compound

from .say import number

Shape = Literal["steady", "zigzag", "alternating"]


class LadderTable(NamedTuple):
    """What a teacher may want other numbers for."""

    start_share: float = 0.6
    """First rung as a share of the goal (common practice: 0.5 to 0.6)."""
    step_share: float = 0.05
    """Steady step as a share of the goal (common practice: 5 %)."""
    step_least_bpm: int = 2
    over_share: float = 1.05
    """Last rung as a share of the goal: a little over it (common practice)."""
    zig_bpm: int = 8
    zag_bpm: int = 4
    """Zigzag: up this much after the clean ones, then down this much (a teacher's published lesson)."""
    clean: int = 3
    """Clean times in a row that pass a rung (common practice: 3 to 5)."""
    failures: int = 2
    """Failures that send back a rung (common practice)."""
    slowest_bpm: int = 20
    """No rung is slower than this (ours: slower is played without a click)."""


LADDER: Final = LadderTable()

COUNT_IN_ONE_BAR_BPM: Final = 90.0
"""From this tempo on one bar of count-in is enough in 4/4; below, two (common practice)."""

FEWEST_COUNTED: Final = 3
"""Beats that a counted bar should have (ours)."""

SLOW_COMPOUND_BPM: Final = 60.0
"""A compound beat slower than this is counted in eighths, "1 2 3 4 5 6" (common practice: slow six, fast two)."""


class Rung(NamedTuple):
    """One tempo of the ladder: felt beats a minute, its share of the goal, and what to do there."""

    bpm: int
    share: float
    say: str


def ladder(
    tempo_bpm: float, *, shape: Shape = "steady", table: LadderTable = LADDER, from_bpm: float | None = None
) -> tuple[Rung, ...]:
    """Rungs from slow to a little over `tempo_bpm` (felt beats a minute), the goal itself always among them.

    `from_bpm` overrules the start (the fastest tempo without an error, if known). Raises InputError for a tempo that
    is not above 0.
    """
    if not 0 < tempo_bpm < 1000:
        raise InputError(f"tempo {tempo_bpm} bpm has no ladder: give the goal in beats a minute, above 0")
    goal = max(round(tempo_bpm), 1)
    start = min(max(round(from_bpm or goal * table.start_share), min(table.slowest_bpm, goal)), goal)
    steps = _STEPS[shape](start, goal, table)
    top = round(goal * table.over_share)
    last = [top] if top > goal else []
    return tuple(_rung(bpm, goal, table) for bpm in [*steps, *last])


def _rung(bpm: int, goal: int, table: LadderTable) -> Rung:
    share = bpm / goal
    if bpm < goal:
        say = f"{bpm}: {number(table.clean)} clean in a row, then up; {number(table.failures)} failures, then down"
    elif bpm == goal:
        say = f"{bpm}: the song's own tempo"
    else:
        say = f"{bpm}: a little over, so that the song feels easy"
    return Rung(bpm, round(share, 3), say)


def _steady(start: int, goal: int, table: LadderTable) -> list[int]:
    step = max(round(goal * table.step_share), table.step_least_bpm)
    return [*range(start, goal, step), goal]


def _zigzag(start: int, goal: int, table: LadderTable) -> list[int]:
    rungs, at, up = [start], start, True
    while at + table.zig_bpm < goal:
        at += table.zig_bpm if up else -table.zag_bpm
        up = not up
        rungs.append(at)
    return rungs if rungs[-1] == goal else [*rungs, goal]


def _alternating(start: int, goal: int, table: LadderTable) -> list[int]:
    """Slow rungs with short bursts at the goal between them."""
    slow = _steady(start, goal, table)[:-1]
    return [bpm for rung in slow for bpm in (rung, goal)] or [goal]


_STEPS = {"steady": _steady, "zigzag": _zigzag, "alternating": _alternating}


def count_in_bars(meter: str, tempo_bpm: float) -> int:
    """Bars of count-in: one from about 90 felt beats a minute on, two below; bars under three beats twice."""
    bars = 1 if tempo_bpm >= COUNT_IN_ONE_BAR_BPM else 2
    return bars if len(beat_lengths(meter)) >= FEWEST_COUNTED else 2 * bars


def count_in_words(meter: str, tempo_bpm: float, *, pickup: Fraction = Fraction(0)) -> tuple[str, ...]:
    """What is said before the first stroke, one text a bar: ("1 2 3 4",), or ("1 - 2 -", "1 2 3 4") when slow.

    `pickup`: length of the pickup in whole notes; its place in the last bar is not spoken: "1 2 3 (4)".
    """
    words, lengths = _counted(meter, tempo_bpm)
    total, at = bar_length(meter), Fraction(0)
    last = []
    for word, length in zip(words, lengths, strict=True):
        last.append(word if at < total - pickup or not pickup else f"({word})")
        at += length
    before = count_in_bars(meter, tempo_bpm) - 1
    return *(_half(words) for _ in range(before)), " ".join(last)


def _counted(meter: str, tempo_bpm: float) -> tuple[list[str], list[Fraction]]:
    lengths = list(beat_lengths(meter))
    if is_compound(meter) and tempo_bpm < SLOW_COMPOUND_BPM:
        lengths = [length / 3 for length in lengths for _ in range(3)]
    return [str(n + 1) for n in range(len(lengths))], lengths


def _half(words: list[str]) -> str:
    """A bar before the last: 4 beats are counted "1 - 2 -", others in full."""
    return "1 - 2 -" if len(words) == 4 else " ".join(words)
