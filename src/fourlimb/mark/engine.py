"""A take against a chart: the marking.

The take may be at any steady tempo from about a third to 1.7 times the song's, may drift slowly, may begin with a
count-in, stop and begin again. Strokes are matched one to one in the take's own steady time; lateness is against that
time, so playing slower is never "late". Loudness is against the take's own ordinary strokes of the same piece.
Sentences are said on evidence only (see `say`).

Hits may come from a MIDI file or from ears. Of ears `heights` tells what they heard where no hit is, so that what
they missed is not held against the student (see `unheard`); hits that are unsure are never called extra. It cannot
see hands (which hand played is not marked), and a take that improvises is told to be another piece of music.
"""

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from functools import partial
from typing import Final, NamedTuple

import msgspec
import numpy as np

from fourlimb.model import (
    Chart,
    Grid,
    Hit,
    InputError,
    Level,
    MarkedStroke,
    Marking,
    MarkSummary,
    Stroke,
    TakeFacts,
)
from fourlimb.model.grid import swing_in
from fourlimb.model.places import beat_lengths, beat_of, beat_starts
from fourlimb.model.sounds import ORDER

from .advice import bar_says, practise_next, recognised, sentences, things_to_change
from .clicks import SAY as CLICK_SAY
from .compare import Compared, compared
from .evidence import Shown
from .follow import ratios_near
from .instead import Instead, on_tom, struck_instead
from .longer import hits_of, is_longer
from .loudness import dynamics
from .match import Matched
from .misheard import sure_extra
from .score import mark_bars, total
from .stranger import disagreement
from .unheard import TOLD, Heights, shares_heard, sure_of
from .written import Written, write_out

PARTS: Final = (1, 2, 4, 3, 6)
"""Even parts of a beat on which an extra stroke may be said to stand, simplest first."""

PLAYED_LEAST: Final = 1 / 3
"""Share of a bar's strokes that must be there for the take to have begun, or not yet ended (ours)."""

GAP_BARS: Final = 4
"""Bars that a student may leave out in one go and still be in the same part of the song (ours)."""

HITS_MOST: Final = 100_000
"""More hits than this are no take (an hour of 16ths at 200 on four limbs is fewer)."""


def mark(
    take: Sequence[Hit],
    chart: Chart,
    grid: Grid,
    *,
    level: Level = "full",
    from_bar: int | None = None,
    to_bar: int | None = None,
    tempo_bpm: float | None = None,
    sha256: str = "",
    heights: Heights | None = None,
) -> Marking:
    """The marking of a take of bars `from_bar` to `to_bar` of a chart (default: all bars).

    Unless bars are given, the marking is of those that the take plays.

    `take`: hits with time_s, sound and loudness_db; where they were placed does not matter. `tempo_bpm`: the rung it
    was played at (felt beats a minute), if known. `heights`: what ears hear of a sound near a second of the take;
    None when the hits are known and not heard. Raises InputError when the bars hold no strokes, when they are not in
    the song, or when a hit has no time.
    """
    first, last = bars_asked(grid, from_bar, to_bar)
    hits = _in_time(take)
    against = partial(_against, chart, grid, tempo_bpm=tempo_bpm, heights=heights)
    one = against(hits, first, last)
    if one is None:
        return _nothing_heard(write_out(chart, grid, first, last), grid, level, first, last, sha256)
    while from_bar is None and to_bar is None:
        part = _part_played(one.strokes, first, last)
        if part == (first, last):
            break
        first, last = part
        one = against(hits, first, last) or one
    if from_bar is not None or to_bar is not None:
        one = _of_longer(one, against, hits, grid, first, last)
    return _told(one, grid, level, first, last, sha256)


class _One(NamedTuple):
    """A take against some bars: these, who is what, and every stroke with its verdict."""

    written: Written
    compared: Compared
    strokes: tuple[MarkedStroke, ...]


def _against(
    chart: Chart,
    grid: Grid,
    hits: list[Hit],
    first: int,
    last: int,
    *,
    tempo_bpm: float | None,
    heights: Heights | None,
) -> _One | None:
    """The take against bars `first` to `last`; None where nothing was heard."""
    written = write_out(chart, grid, first, last)
    if heights is not None:
        written = written._replace(weight=written.weight * shares_heard(written.strokes))
    if not hits:
        return None
    known = ratios_near(tempo_bpm * written.beat_s / 60.0) if tempo_bpm else None
    sounds = {stroke.piece for stroke in chart.strokes}
    found = compared(written, hits, known, heard=heights is not None, sounds=sounds)
    sure = sure_of(written.strokes, found.hits, found.matched.pairs, heights)
    instead = struck_instead(written.strokes, found.hits, found.matched.pairs, heights)
    told = {index: one.piece for index, one in instead.items() if one.sure >= TOLD}
    added = sure_extra(written.strokes, found.hits, found.matched, told, heard=heights is not None)
    return _One(written, found, _marked(written, found.hits, found.matched, grid, sure, added, instead))


def _of_longer(
    one: _One, against: Callable[..., _One | None], hits: list[Hit], grid: Grid, first: int, last: int
) -> _One:
    """The take against the bars asked, without what it plays before and after them (see `longer`)."""
    whole = grid.numbers[0], grid.numbers[-1]
    more = None if (first, last) == whole or one.compared.explains_all() else against(hits, *whole)
    if more is None or not is_longer(more.compared, one.compared):
        return one
    return against(hits_of(hits, more.written, more.compared.matched, first, last), first, last) or one


def _told(one: _One, grid: Grid, level: Level, first: int, last: int, sha256: str) -> Marking:
    """What is said of it."""
    written, strokes = one.written, one.strokes
    hits, ratio, matched, clicks = one.compared
    song_bpm = 60.0 / written.beat_s
    bars = mark_bars(strokes, range(first, last + 1))
    take_bpm = song_bpm * (matched.steady[0].ratio() if matched.steady else ratio)
    bars = bar_says(bars, strokes, grid)
    faults = things_to_change(Shown(strokes, matched, written, grid))
    summary = MarkSummary(
        score=total(bars, strokes),
        say=(
            *_stranger(strokes, matched, hits, take_bpm / song_bpm),
            *sentences(strokes, bars, faults, matched, written),
            *((CLICK_SAY,) if clicks else ()),
        ),
        practise_next=practise_next(strokes, bars, faults, take_bpm, song_bpm),
    )
    facts = TakeFacts(
        sha256=sha256,
        tempo_bpm=round(take_bpm, 1),
        level=level,
        from_bar=first,
        to_bar=last,
        offset_s=round(float(matched.steady[0].at(np.array([written.start_s]))[0]), 4) if matched.steady else 0.0,
    )
    return Marking(take=facts, strokes=strokes, bars=bars, summary=summary)


def _stranger(
    strokes: Sequence[MarkedStroke], matched: Matched, hits: Sequence[Hit], tempo_share: float
) -> tuple[str, ...]:
    """The sentence that this may be another song; none where that is said anyway, or where it is this one."""
    said = disagreement(strokes, matched, hits, tempo_share) if recognised(strokes) else ""
    return (said,) if said else ()


def bars_asked(grid: Grid, from_bar: int | None, to_bar: int | None) -> tuple[int, int]:
    """First and last bar, the song's own where None. Raises InputError when they are not in the song."""
    if not grid.bars:
        raise InputError("this song has no bars to mark a take against: choose another lesson")
    first = grid.numbers[0] if from_bar is None else from_bar
    last = grid.numbers[-1] if to_bar is None else to_bar
    if first > last or not grid.has(first) or not grid.has(last):
        raise InputError(
            f"bars {first}-{last} are not in this song: it has bars {grid.numbers[0]}-{grid.numbers[-1]}"
        )
    return first, last


def _part_played(strokes: Sequence[MarkedStroke], first: int, last: int) -> tuple[int, int]:
    """First and last bar that the take plays, of all it was compared with; all of them when it is another song."""
    played: dict[int, list[bool]] = {}
    for stroke in strokes:
        if stroke.verdict != "extra":
            played.setdefault(stroke.bar, []).append(stroke.verdict == "played")
    bars = [bar for bar, done in played.items() if sum(done) >= PLAYED_LEAST * len(done)]
    runs = [bars] if bars else []
    runs += sorted(_runs(bars), key=lambda run: -sum(sum(played[bar]) for bar in run))[:1]
    for run in runs:
        if recognised([stroke for stroke in strokes if run[0] <= stroke.bar <= run[-1]]):
            return run[0], run[-1]
    return first, last


def _runs(bars: Sequence[int]) -> list[list[int]]:
    """Bars that follow one another but for a few: a bar far off may be played by chance."""
    runs: list[list[int]] = []
    for bar in bars:
        if runs and bar - runs[-1][-1] <= GAP_BARS:
            runs[-1].append(bar)
        else:
            runs.append([bar])
    return runs


def _in_time(take: Sequence[Hit]) -> list[Hit]:
    for hit in take:
        if not -1e6 < hit.time_s < 1e6:
            raise InputError(f"hit {hit.id} of the take has no usable time ({hit.time_s}): record the take again")
    if len(take) > HITS_MOST:
        raise InputError(f"the take holds {len(take)} hits: give one take of the song, not a whole session")
    return sorted(take, key=lambda hit: (hit.time_s, ORDER[hit.sound], hit.id))


def _nothing_heard(written: Written, grid: Grid, level: Level, first: int, last: int, sha256: str) -> Marking:
    strokes = tuple(
        MarkedStroke(bar=s.bar, position=s.position, piece=s.piece, verdict="missed") for s in written.strokes
    )
    return Marking(
        take=TakeFacts(sha256=sha256, tempo_bpm=0.0, level=level, from_bar=first, to_bar=last),
        strokes=strokes,
        bars=mark_bars(strokes, range(first, last + 1)),
        summary=MarkSummary(
            score=0.0, say=("No drums were heard in this take: check the microphone or the file.",), practise_next=()
        ),
    )


def _marked(
    written: Written,
    hits: Sequence[Hit],
    matched: Matched,
    grid: Grid,
    sure: Mapping[int, float],
    added: Mapping[int, float],
    instead: Mapping[int, Instead],
) -> tuple[MarkedStroke, ...]:
    """Every written stroke with its verdict, and the extra ones, in song order.

    `sure`: of strokes (by index) that were not played as written, `added`: of hits that are nothing written,
    `instead`: strokes for which a tom may have been struck.
    """
    loud = dynamics(written.strokes, hits, matched.pairs)
    marked = []
    for pair in matched.pairs:
        stroke = written.strokes[pair.stroke]
        if pair.hit is None or pair.late_s is None:
            one = MarkedStroke(bar=stroke.bar, position=stroke.position, piece=stroke.piece, verdict="missed")
            confidence = sure.get(pair.stroke, 1.0)
        else:
            one = _played(stroke, hits[pair.hit], pair.late_s, loud.get(pair.stroke))
            confidence = sure.get(pair.stroke, hits[pair.hit].confidence)
        one = msgspec.structs.replace(one, confidence=confidence)
        marked.append(on_tom(one, instead[pair.stroke]) if pair.stroke in instead else one)
    for index, written_s in matched.extra:
        if index not in added:
            continue
        bar, position = place_of(grid, written_s)
        hit = hits[index]
        marked.append(
            MarkedStroke(
                bar=bar,
                position=position,
                piece=hit.sound,
                verdict="extra",
                time_s=round(hit.time_s, 4),
                confidence=added[index],
            )
        )
    return tuple(sorted(marked, key=lambda s: (s.bar, s.position, ORDER[s.piece], s.verdict, s.time_s or 0.0)))


def _played(stroke: Stroke, hit: Hit, late_s: float, dynamic: float | None) -> MarkedStroke:
    same = stroke.piece == hit.sound
    return MarkedStroke(
        bar=stroke.bar,
        position=stroke.position,
        piece=stroke.piece,
        verdict="played" if same else "other_piece",
        late_ms=round(1000 * late_s, 1),
        dynamic=dynamic,
        played=None if same else hit.sound,
        time_s=round(hit.time_s, 4),
    )


def place_of(grid: Grid, written_s: float) -> tuple[int, Fraction]:
    """The place that can be counted nearest to a written time: bar and position, never past the bar line."""
    bar, position = grid.phase_at(written_s)
    meter = grid.meter(bar)
    beat, _ = beat_of(meter, Fraction(max(position, 0.0)).limit_denominator(10_000))
    start, length = beat_starts(meter)[beat], beat_lengths(meter)[beat]
    inside = min(max((position - float(start)) / float(length), 0.0), 1.0)
    inside = swing_in(inside, grid.feel_of(bar))
    share = min(
        (Fraction(round(inside * parts), parts) for parts in PARTS),
        key=lambda place: (round(abs(float(place) - inside), 2), place.denominator, place),
    )
    at = start + share * length
    if at >= grid.length(bar):
        return (bar + 1, Fraction(0)) if grid.has(bar + 1) else (bar, start)
    return bar, at
