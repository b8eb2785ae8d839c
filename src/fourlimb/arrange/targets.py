"""A target instead of a level: "no 16th kicks", "grade 3", "tempo 70 %".

A target starts from the full chart and goes down the same named steps, but only as far as asked:

    no WHAT        the step with that name, or one of the words below ("no ghosts", "no 16th kicks", "no open hats")
    grade N        steps, one by one in order, until the grade is N or less; then fewer strokes in the hardest bars
    tempo N %      the grid at that share of its tempo: everything else stays
"""

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import zip_longest
from typing import Final

import msgspec

from fourlimb.model import Chart, Grid, InputError, Kit, Level, Reason, Section, Sound, Stroke
from fourlimb.model.places import beat_of
from fourlimb.model.sounds import TOMS

from .difficulty import Judge
from .fidelity import WEIGHT
from .levels import STEPS, Step, View
from .mixing import note_of, rejoin
from .note import Ledger, Note
from .roles import Toms, groove_toms
from .timing import Clock

WORDS: Final[Mapping[str, str]] = {
    "ghosts": "ghosts, flams and drags left out",
    "flams": "ghosts, flams and drags left out",
    "open hats": "open hats closed, crashes only on 1",
    "16th hats": "time-keeping hand even",
    "16th kicks": "16th kicks left out",
    "off-beat kicks": "kicks on & only where they carry the line",
    "16th snares": "16th snares left out",
    "groove toms": "toms of a groove left out",
    "tom fills": "fill on one drum",
    "16th fills": "fill in eighths",
    "foot hat": "hi-hat foot rests",
}
"""What a teacher may say after "no", and the step it means."""

SLOWEST, FASTEST = 10, 200
"""Per cent of the tempo that may be asked for (ours)."""
_NONE: Final[tuple[Reason, ...]] = ()


def aim(
    target: str, full: Chart, grid: Grid, kit: Kit, sections: tuple[Section, ...] = (), *, level: Level = "full"
) -> tuple[Chart, Grid, tuple[Reason, ...]]:
    """The chart, the grid it is played on, and the reasons for what changed (told of `level`).

    Raises InputError when the target is not understood or cannot be met.
    """
    text = " ".join(target.lower().split())
    if found := re.fullmatch(r"tempo (\d+) ?%(?: of (?:mine|the song|the recording))?", text):
        slower = at_share(grid, int(found[1]))
        chart, reasons = rejoin(full.by_bar, slower, kit, level)
        return chart, slower, reasons
    if found := re.fullmatch(r"grade (\d(?:\.\d)?)", text):
        return _to_grade(float(found[1]), full, grid, kit, sections, level)
    if found := re.fullmatch(r"no (.+)", text):
        chart, reasons = _apply([_step(found[1])], full, grid, kit, sections, level)
        return chart, grid, reasons
    raise InputError(f'"{target}" is not a target: write it like no 16th kicks, grade 3, or tempo 70 %')


def _step(words: str) -> Step:
    name = WORDS.get(words, words)
    for step in STEPS:
        if step.name == name:
            return step
    raise InputError(f'"no {words}" is not known: use no with one of {", ".join(WORDS)}')


def _to_grade(
    wanted: float, full: Chart, grid: Grid, kit: Kit, sections: tuple[Section, ...], level: Level
) -> tuple[Chart, Grid, tuple[Reason, ...]]:
    chart, reasons = full, _NONE
    for count in range(len(STEPS) + 1):
        chart, reasons = _apply(list(STEPS[:count]), full, grid, kit, sections, level) if count else (full, _NONE)
        if chart.grade <= wanted:
            return chart, grid, reasons
    cap = max((bar.difficulty for bar in chart.bars), default=0.0)
    while chart.grade > wanted and cap > LEAST_CAP:
        cap -= CAP_STEP
        chart, told = _thinned(chart, cap, grid, kit, level)
        reasons += told
    if chart.grade > wanted:
        raise InputError(f"the easiest chart of this song is grade {chart.grade}: lower the tempo as well")
    return chart, grid, reasons


THINNER: Final = "fewer strokes in the hardest bars"
CAP_STEP: Final = 0.25
LEAST_CAP: Final = 0.5
"""Bars are brought under a bound of difficulty that falls by this step, down to this (ours)."""


def _thinned(chart: Chart, cap: float, grid: Grid, kit: Kit, level: Level) -> tuple[Chart, tuple[Reason, ...]]:
    """Bars harder than `cap` lose their lightest strokes, but no kick on 1, snare on a beat, or teacher's stroke."""
    judge, ledger = Judge(Clock(grid), kit), Ledger()
    bars: dict[int, tuple[Stroke, ...]] = {}
    for bar in grid.numbers:
        left = list(chart.by_bar.get(bar, ()))
        while left and judge.bar(bar, [(note_of(s), s.limb) for s in left]).value > cap:
            loose = [s for s in left if not _holds(s, grid.meter(bar))]
            if not loose:
                break
            gone = min(loose, key=lambda s: (WEIGHT[s.piece] * (0.4 if s.ghost else 1.0), -s.position, s.piece))
            left.remove(gone)
            ledger.note((level,), "dropped", bar, note_of(gone), "the bar is easier without it", THINNER)
        bars[bar] = tuple(left)
    made, seams = rejoin(bars, grid, kit, level, tuple(dict.fromkeys((*chart.steps, THINNER))))
    return made, ledger.reasons() + seams


def _holds(stroke: Stroke, meter: str) -> bool:
    on_beat = beat_of(meter, stroke.position)[1] == 0
    first_kick = stroke.piece == "kick" and stroke.position == 0
    return stroke.by == "teacher" or first_kick or (on_beat and stroke.piece in ("snare", "rim"))


def _apply(
    steps: list[Step], full: Chart, grid: Grid, kit: Kit, sections: tuple[Section, ...], level: Level
) -> tuple[Chart, tuple[Reason, ...]]:
    """Some steps on all bars. Strokes keep everything the steps do not touch."""
    ledger = Ledger()
    starts = {section.from_bar for section in sections}
    bars: dict[int, tuple[Stroke, ...]] = {}
    toms = {bar: _toms(full.by_bar.get(bar, ())) for bar in grid.numbers}
    grooves = groove_toms(toms)
    for bar, after in zip_longest(grid.numbers, grid.numbers[1:]):
        at = grid.at(bar)
        ahead = full.by_bar.get(after, ()) if after is not None else ()
        kick_next = any(s.piece == "kick" and s.position == 0 for s in ahead)
        view = View(bar, at.meter, at.tempo_bpm, bar in starts, kit, kick_next, bar in grooves)
        own = {(s.position, s.piece, s.second): s for s in full.by_bar.get(bar, ())}
        notes = [note_of(stroke) for stroke in own.values()]
        view = view.keeping(notes)
        for step in steps:
            notes, deeds = step.does(notes, view)
            for deed in deeds:
                ledger.note((level,), deed.what, bar, deed.note, deed.why, step.name, deed.to)
        bars[bar] = tuple(_stroke(bar, note, own, kit) for note in sorted(notes, key=lambda n: n.sort_key))
    named = dict.fromkeys((*full.steps, *(step.name for step in steps)))
    chart, seams = rejoin(bars, grid, kit, level, tuple(named))
    return chart, ledger.reasons() + seams


def _toms(strokes: Sequence[Stroke]) -> Toms:
    return frozenset((s.position, s.piece) for s in strokes if s.piece in TOMS)


def _stroke(bar: int, note: Note, own: Mapping[tuple[Fraction, Sound, bool], Stroke], kit: Kit) -> Stroke:
    old = own.get((note.position, note.piece, note.second)) or next(
        (s for s in own.values() if s.position == note.position and set(s.hits) & set(note.hits)), None
    )
    if old is None:
        limb = kit.lead_hand if kit.lead_hand in kit.limbs else kit.other_hand
        return Stroke(bar=bar, position=note.position, piece=note.piece, limb=limb, hits=note.hits)
    return msgspec.structs.replace(
        old,
        piece=note.piece,
        grace=note.grace,
        ghost=note.ghost,
        accent=note.accent,
        hits=note.hits,
        struck=note.struck,
        second=note.second,
    )


def at_share(grid: Grid, percent: int) -> Grid:
    """The same bars and beats at a share of their tempo, starting at the same second."""
    if not SLOWEST <= percent <= FASTEST:
        raise InputError(f"tempo {percent} % is out of reach: choose {SLOWEST} to {FASTEST} %")
    share = percent / 100
    start = grid.bars[0].start_s if grid.bars else 0.0

    def later(seconds: float) -> float:
        return round(start + (seconds - start) / share, 6)

    bars = tuple(
        msgspec.structs.replace(b, start_s=later(b.start_s), tempo_bpm=round(b.tempo_bpm * share, 3))
        for b in grid.bars
    )
    beats = tuple(msgspec.structs.replace(b, time_s=later(b.time_s)) for b in grid.beats)
    return msgspec.structs.replace(grid, bars=bars, beats=beats, end_s=later(grid.end_s))
