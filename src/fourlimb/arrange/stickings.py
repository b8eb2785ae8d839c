"""Which hands play a fill, in letters, with the rudiments in it, where it lands, and one other way to play it.

Rudiments are recognised by their hands and grace strokes (Percussive Arts Society, International Drum Rudiments,
40 in four families; note values differ between lists, so they are not asked for). Longest first, from left to
right; what is left over are single or double strokes. A fill here is a run of four or more hand strokes without
time-keeping.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final

from fourlimb.model import HANDS, Chart, Grid, Stroke
from fourlimb.model.places import beat_of
from fourlimb.model.sounds import SAY

from .note import time_kept

RUDIMENTS: Final[tuple[tuple[str, str], ...]] = (
    ("seventeen stroke roll", "R R L L R R L L R R L L R R L L R"),
    ("fifteen stroke roll", "R R L L R R L L R R L L R R L"),
    ("thirteen stroke roll", "R R L L R R L L R R L L R"),
    ("eleven stroke roll", "R R L L R R L L R R L"),
    ("ten stroke roll", "R R L L R R L L R L"),
    ("nine stroke roll", "R R L L R R L L R"),
    ("triple paradiddle", "R L R L R L R R"),
    ("seven stroke roll", "R R L L R R L"),
    ("triple ratamacue", "llR llR llR L R L"),
    ("drag paradiddle #2", "R llR llR L R R"),
    ("flam paradiddle-diddle", "lR L R R L L"),
    ("double paradiddle", "R L R L R R"),
    ("paradiddle-diddle", "R L R R L L"),
    ("six stroke roll", "R L L R R L"),
    ("triple stroke roll", "R R R L L L"),
    ("double ratamacue", "llR llR L R L"),
    ("drag paradiddle #1", "R llR L R R"),
    ("flamacue", "lR L R L lR"),
    ("five stroke roll", "R R L L R"),
    ("dragadiddle", "R R L R R"),
    ("flam paradiddle", "lR L R R"),
    ("flammed mill", "lR R L R"),
    ("pataflafla", "lR L R rL"),
    ("flam drag", "lR L L R"),
    ("ratamacue", "llR L R L"),
    ("paradiddle", "R L R R"),
    ("flam accent", "lR L R"),
    ("swiss army triplet", "lR R L"),
    ("double drag tap", "llR llR L"),
    ("lesson 25", "llR L R"),
    ("flam tap", "lR R"),
    ("drag tap", "llR L"),
)
"""Name and hands of one repetition, right hand leading, longest first; small letters are grace strokes."""


@dataclass(frozen=True, slots=True)
class Sticking:
    """One fill: where, its hands ("R L R L"), rudiments by name, the landing in words, and another way."""

    bar: int
    position: Fraction
    hands: str
    rudiments: tuple[str, ...]
    lands: str
    other_way: str


def stickings(chart: Chart, grid: Grid) -> tuple[Sticking, ...]:
    """Every fill of a chart, in song order."""
    return tuple(_sticking(run, after, grid) for run, after in _runs(chart, grid))


def _runs(chart: Chart, grid: Grid) -> Iterator[tuple[list[Stroke], list[Stroke]]]:
    """Runs of hand strokes in beats without time-keeping, and the hand strokes at the place right after each run."""
    hands = [s for s in sorted(chart.strokes, key=lambda s: s.sort_key) if s.limb in HANDS and grid.has(s.bar)]
    time = {bar: time_kept(chart.by_bar.get(bar, ()), grid.meter(bar)) for bar in grid.numbers}
    timed = {(s.bar, beat_of(grid.meter(s.bar), s.position)[0]) for s in hands if s.piece in time[s.bar]}
    run: list[Stroke] = []
    for index, stroke in enumerate(hands):
        inside = (stroke.bar, beat_of(grid.meter(stroke.bar), stroke.position)[0]) not in timed
        if inside and (not run or stroke.bar == run[-1].bar):
            run.append(stroke)
        if index + 1 == len(hands) or not inside or hands[index + 1].bar != stroke.bar:
            if len(run) >= 4:
                last = (run[-1].bar, run[-1].position)
                after = [s for s in hands if (s.bar, s.position) > last][:2]
                yield run, [s for s in after if after and (s.bar, s.position) == (after[0].bar, after[0].position)]
            run = []


def _sticking(run: list[Stroke], after: list[Stroke], grid: Grid) -> Sticking:
    lands = " and ".join(f"{SAY[s.piece]} with the {s.limb}" for s in after)
    return Sticking(
        bar=run[0].bar,
        position=run[0].position,
        hands=" ".join(_token(s) for s in run),
        rudiments=named([_token(s) for s in run]),
        lands=f"lands on {lands}" if lands else "",
        other_way=_other_way(run, grid),
    )


def _token(stroke: Stroke) -> str:
    letter = stroke.letter or "R"
    other = "l" if letter == "R" else "r"
    return {"flam": other, "drag": 2 * other, "ruff": 2 * other}.get(stroke.grace or "", "") + letter


def named(hands: list[str]) -> tuple[str, ...]:
    """Names of the rudiments in a line of hands, in order, each once: ["R", "L", "R", "R"] -> ("paradiddle",)."""
    for name, pattern in RUDIMENTS:
        if _tiles(hands, pattern.split()):
            return (name,)
    found: list[str] = []
    at = 0
    while at < len(hands):
        length = 1
        for name, pattern in RUDIMENTS:
            tokens = pattern.split()
            mirrored = [token.translate(_MIRROR) for token in tokens]
            if hands[at : at + len(tokens)] in (tokens, mirrored):
                found.append(name)
                length = len(tokens)
                break
        at += length
    return tuple(dict.fromkeys(found)) or (_plain(hands),)


def _tiles(hands: list[str], tokens: list[str]) -> bool:
    """True when the whole line is this rudiment, over and over, either way round."""
    size = len(tokens)
    ways = (tokens, [token.translate(_MIRROR) for token in tokens])
    return len(hands) % size == 0 and all(hands[i : i + size] in ways for i in range(0, len(hands), size))


_MIRROR: Final = str.maketrans("RLrl", "LRlr")


def _plain(hands: list[str]) -> str:
    pairs = list(pairwise(hands))
    return "single strokes" if all(a[-1] != b[-1] for a, b in pairs) else "singles and doubles"


def _other_way(run: list[Stroke], grid: Grid) -> str:
    """Hands fixed by place (the lead hand on every beat and &), unless the fill already goes so; else in turn."""
    places = [beat_of(grid.meter(s.bar), s.position)[1] for s in run]
    natural = ["R" if inside in (0, Fraction(1, 2)) else "L" for inside in places]
    turn = ["RL"[n % 2] for n in range(len(run))]
    own = [s.letter for s in run]
    for line, say in ((natural, "right on the beat and &, left between"), (turn, "in turn, right first")):
        if line != own:
            return f"{' '.join(line)} ({say})"
    return ""
