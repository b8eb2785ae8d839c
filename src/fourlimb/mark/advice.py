"""What to say of a take, and what to practise next.

After teachers' habit: one thing right, then few things to change, each with a way to change it. What is practised
next is at most three places, each with the rung to do it at and the reason.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import msgspec
import numpy as np

from fourlimb.model import Grid, MarkedBar, MarkedStroke, PractiseNext
from fourlimb.model.count import say_span, speak_in
from fourlimb.model.sounds import SAY

from .evidence import HEARD_MS, Finding, Shown, by_bar, fill_start, findings
from .instead import struck
from .match import Matched
from .score import UNHEARD_MS
from .unheard import TOLD
from .written import Written

CHANGES_MOST: Final = 3
"""Most things to change that are said of one take."""

PLACES_MOST: Final = 3
"""Most places to practise next."""

PLACE_MOST: Final = 8
"""Most bars of one place to practise (a phrase; common practice)."""

CLEAN: Final = 0.95
"""A bar with this score or more is clean, if there is nothing to say of it."""

TOLD_MS: Final = 40.0
"""Lateness that is told of a single stroke: twice what is just heard (ours)."""

OFF_LEAST: Final = 3
"""Strokes of a bar that are off by what is heard before less than that is told: one alone may be the ears' own few
milliseconds, or chance (ours)."""

RECOGNISED: Final = 0.3
"""Worth of what is found (half for another piece, less a quarter for extras) as a share of what is written, below
which the take is not this part of the song (ours)."""

RUNGS: Final = ((0.6, 0.7), (0.85, 0.85), (CLEAN, 1.0))
"""Score of the weakest bar below which to practise at this share of the take's own tempo (ours)."""

STEP_UP: Final = 1.05
"""A clean take goes up this much: 5 % (common practice)."""


def sentences(
    strokes: tuple[MarkedStroke, ...],
    bars: Sequence[MarkedBar],
    faults: Sequence[Finding],
    matched: Matched,
    written: Written,
) -> tuple[str, ...]:
    """One thing right, at most three to change, and the tempo."""
    if not recognised(strokes):
        found = sum(1 for stroke in strokes if stroke.verdict == "played")
        named = say_span(bars[0].bar, bars[-1].bar)
        return (
            f"This is hardly {named} as written: {found} of {len(matched.pairs)} strokes were found. "
            "Is it this song, this level and these bars?",
        )
    change = [fault.say for fault in faults[:CHANGES_MOST]]
    return (*_right(strokes, bars, matched), *change, *_tempo(matched, written))


def _reason(fault: Finding) -> str:
    """What the fault is, without what to do about it."""
    first = fault.say.split(". ")[0].rstrip(".")
    return first[:1].lower() + first[1:]


def recognised(strokes: Sequence[MarkedStroke]) -> bool:
    """True when enough of what is written is there for the marking to mean something."""
    worth = {"played": 1.0, "other_piece": 0.5, "missed": 0.0, "extra": -0.25}
    written = sum(1 for stroke in strokes if stroke.verdict != "extra")
    return sum(worth[stroke.verdict] for stroke in strokes) >= RECOGNISED * written


def bar_says(bars: Sequence[MarkedBar], strokes: Sequence[MarkedStroke], grid: Grid) -> tuple[MarkedBar, ...]:
    """Each bar that is not clean with the one thing to say about it; nothing is said that is not sure."""
    inside = by_bar(strokes)
    told = []
    for bar in bars:
        here = inside.get(bar.bar, [])
        off = sum(s.late_ms is not None and abs(s.late_ms) > UNHEARD_MS for s in here)
        least_ms = UNHEARD_MS if bar.score < CLEAN and off >= OFF_LEAST else TOLD_MS
        say = _say_bar(here, grid, least_ms) if grid.has(bar.bar) else ""
        told.append(msgspec.structs.replace(bar, say=say))
    return tuple(told)


def is_clean(bar: MarkedBar) -> bool:
    """True when there is nothing to change in a bar."""
    return bar.score >= CLEAN and not bar.say


def practise_next(
    strokes: Sequence[MarkedStroke],
    bars: Sequence[MarkedBar],
    faults: Sequence[Finding],
    take_bpm: float,
    song_bpm: float,
) -> tuple[PractiseNext, ...]:
    """Weakest places first; when all is clean, the whole at the next rung, up to a little over the song's tempo."""
    if not recognised(strokes):
        return ()
    inside = by_bar(strokes)
    weak = [bar for bar in bars if bar.say]
    if not weak and faults:
        first, last = min(faults[0].bars, default=bars[0].bar), max(faults[0].bars, default=bars[-1].bar)
        return (PractiseNext(from_bar=first, to_bar=last, rung_bpm=max(round(take_bpm), 1), why=_reason(faults[0])),)
    if not weak:
        rung = round(min(take_bpm * STEP_UP, song_bpm * STEP_UP))
        why = (
            "all clean: one rung up" if take_bpm < song_bpm * 1.02 else "all clean at the song's tempo: keep it easy"
        )
        return (PractiseNext(from_bar=bars[0].bar, to_bar=bars[-1].bar, rung_bpm=max(rung, 1), why=why),)
    places = sorted(_groups(weak), key=lambda group: (min(bar.score for bar in group), group[0].bar))
    return _apart([_place(group, inside, bars, take_bpm) for group in places])[:PLACES_MOST]


def _apart(places: Sequence[PractiseNext]) -> tuple[PractiseNext, ...]:
    """The same, no bar in two of them: what shares one with an earlier place joins it, at the slower rung."""
    kept: list[PractiseNext] = []
    for place in places:
        same = next((n for n, one in enumerate(kept) if _share_a_bar(one, place)), None)
        if same is None:
            kept.append(place)
            continue
        one = kept[same]
        kept[same] = msgspec.structs.replace(
            one,
            from_bar=min(one.from_bar, place.from_bar),
            to_bar=max(one.to_bar, place.to_bar),
            rung_bpm=min(one.rung_bpm, place.rung_bpm),
            why=f"{one.why}; {place.why}",
        )
    return tuple(kept) if len(kept) == len(places) else _apart(kept)


def _share_a_bar(one: PractiseNext, other: PractiseNext) -> bool:
    """Whether two places have a bar in common and are together short enough to practise as one."""
    first, last = min(one.from_bar, other.from_bar), max(one.to_bar, other.to_bar)
    return one.from_bar <= other.to_bar and other.from_bar <= one.to_bar and last - first < PLACE_MOST


def things_to_change(shown: Shown) -> tuple[Finding, ...]:
    """The weightiest faults, one of a kind: two rushed fills are one thing, and so are a flam and its lateness."""
    kinds: dict[str, Finding] = {}
    for finding in findings(shown):
        kinds.setdefault(finding.kind.split()[0] if finding.kind.startswith("habit") else finding.kind, finding)
    if "hat runs away" in kinds:
        kinds.pop("limbs flam", None)
    if {"limbs flam", "hat runs away"} & kinds.keys():
        kinds.pop("habit", None)
    return tuple(kinds.values())


def _right(strokes: Sequence[MarkedStroke], bars: Sequence[MarkedBar], matched: Matched) -> list[str]:
    """The one thing to praise first, if there is one."""
    frame = [
        s
        for s in strokes
        if s.piece in ("kick", "snare") and (s.verdict == "played" or (s.verdict != "extra" and s.confidence >= TOLD))
    ]
    good = [s for s in frame if s.verdict == "played" and abs(s.late_ms or 0.0) <= HEARD_MS]
    if len(frame) >= 4 and len(good) >= 0.9 * len(frame):
        return [f"Kick and snare are where they belong ({len(good)} of {len(frame)})."]
    written = {stroke.bar for stroke in strokes if stroke.verdict != "extra"}
    clean = [bar.bar for bar in bars if is_clean(bar) and bar.bar in written]
    if len(clean) >= 2:
        return [f"{_longest(clean)} clean."]
    if not matched.restarts and any(s.verdict == "played" for s in strokes if s.bar == bars[-1].bar):
        return ["You carried on to the end."]
    return []


def _longest(bars: Sequence[int]) -> str:
    runs = [[bars[0]]]
    for before, after in pairwise(bars):
        if after == before + 1:
            runs[-1].append(after)
        else:
            runs.append([after])
    best = max(runs, key=lambda run: (len(run), -run[0]))
    named = say_span(best[0], best[-1])
    return f"{named[0].upper()}{named[1:]} {'is' if len(best) == 1 else 'are'}"


def _tempo(matched: Matched, written: Written) -> list[str]:
    """A tempo that creeps, from the first to the last quarter of the longest stretch."""
    steady = max(matched.steady, key=lambda one: one.written_s[-1] - one.written_s[0])
    if len(steady.written_s) < 9:
        return []
    quarter = len(steady.written_s) // 4
    speeds = np.diff(steady.written_s) / np.diff(steady.take_s)
    first, last = float(np.mean(speeds[:quarter])), float(np.mean(speeds[-quarter:]))
    song_bpm = 60.0 / written.beat_s
    if not abs(last / first - 1) > 0.03:
        return []
    word = "speed up" if last > first else "slow down"
    return [f"You {word}: from {first * song_bpm:.0f} to {last * song_bpm:.0f}. Record it with the click."]


def _say_bar(strokes: Sequence[MarkedStroke], grid: Grid, least_ms: float) -> str:
    sure = [s for s in strokes if s.confidence >= TOLD]
    missed = [s for s in sure if s.verdict == "missed"]
    other = [s for s in sure if s.verdict == "other_piece"]
    extra = [s for s in sure if s.verdict == "extra"]
    if missed and all(s.verdict in ("missed", "extra") for s in strokes):
        return "nothing of this bar was played"
    if missed:
        more = f", and {len(missed) - 1} more" if len(missed) > 1 else ""
        return f"the {SAY[missed[0].piece]} on {speak_in(grid, missed[0].bar, missed[0].position)} is missing{more}"
    if other and other[0].played:
        at = speak_in(grid, other[0].bar, other[0].position)
        return f"{struck(other[0])} is played for the {SAY[other[0].piece]} on {at}"
    if extra:
        return f"a {SAY[extra[0].piece]} is added on {speak_in(grid, extra[0].bar, extra[0].position)}".replace(
            "a open", "an open"
        )
    off = max((s for s in strokes if s.late_ms is not None), key=lambda s: abs(s.late_ms or 0.0), default=None)
    if off is None or off.late_ms is None or abs(off.late_ms) <= least_ms:
        return ""
    side = "early" if off.late_ms < 0 else "late"
    return f"the {SAY[off.piece]} on {speak_in(grid, off.bar, off.position)} is {abs(off.late_ms):.0f} ms {side}"


def _groups(weak: Sequence[MarkedBar]) -> list[list[MarkedBar]]:
    """Neighbouring weak bars together, at most four."""
    groups: list[list[MarkedBar]] = []
    for bar in weak:
        if groups and bar.bar == groups[-1][-1].bar + 1 and len(groups[-1]) < 4:
            groups[-1].append(bar)
        else:
            groups.append([bar])
    return groups


def _needs_neighbours(strokes: Sequence[MarkedStroke]) -> bool:
    left_out = all(s.verdict in ("missed", "extra") for s in strokes)
    return left_out or fill_start(strokes) is not None


def _place(
    group: Sequence[MarkedBar], inside: dict[int, list[MarkedStroke]], bars: Sequence[MarkedBar], take_bpm: float
) -> PractiseNext:
    """A fill is practised with the bar before and its landing, a bar left out with its neighbours."""
    first, last = group[0].bar, group[-1].bar
    worst = min(group, key=lambda bar: (bar.score, bar.bar))
    if any(_needs_neighbours(inside.get(bar.bar, [])) for bar in group):
        first, last = max(first - 1, bars[0].bar), min(last + 1, bars[-1].bar)
    share = next((share for below, share in RUNGS if worst.score < below), 1.0)
    named = say_span(worst.bar, worst.bar)
    why = f"{named}: {worst.say}" if worst.say else f"{named} is not clean yet"
    return PractiseNext(from_bar=first, to_bar=last, rung_bpm=max(round(take_bpm * share), 1), why=why)
