"""What a take shows: the usual faults of drummers, each found only on evidence.

Each finder looks for one fault as teachers describe it and says what to do about it in a teacher's words; thresholds
are ours, set above the 19-24 ms that listeners notice. A fault that shows once or twice is no habit and is not named,
except in a fill and where the player stopped.
"""

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import Final, NamedTuple

import numpy as np

from fourlimb.model import Grid, MarkedStroke, Sound
from fourlimb.model.count import say_span
from fourlimb.model.sounds import INSTRUMENT, SAY, TIMEKEEPERS, TOMS

from .match import Matched
from .unheard import MISNAMED, MISNAMED_OTHERS, TOLD
from .written import Written

HEARD_MS: Final = 25.0
"""Smallest shift that is called early, late or a flam between limbs (measured: 19-24 ms is just noticed)."""

FLAM_MOST_MS: Final = 70.0
"""Further apart than this, two limbs are at two places."""

SHRINK_MS: Final = 20.0
"""A fill that gains this much between its first and last third rushes (or loses: drags)."""

FILL_LEAST: Final = 4
HABIT_LEAST: Final = 6
HABIT_SHARE: Final = 0.75
"""Fewest strokes that show a fault in a fill; fewest that show a habit, and the share of them that must agree."""

FOLLOWED: Final = 0.6
"""Share of what is written that must be played for a jump in the take to be a stop of the player (ours)."""

SLACK_S: Final = 0.08
"""A stroke this early still belongs to the bar that begins (seconds of written time; ours)."""

LOUD_GHOST: Final = 0.3
"""A ghost this much too loud (0.1 is 2 dB) is as loud as a backbeat."""

Drums = TOMS | {"snare"}


class Finding(NamedTuple):
    """One fault: the bars that show it, how much it matters (larger first), and what to say."""

    kind: str
    bars: tuple[int, ...]
    weight: float
    say: str


class Shown(NamedTuple):
    """All that a finder may look at."""

    strokes: tuple[MarkedStroke, ...]
    matched: Matched
    written: Written
    grid: Grid

    def timed(self) -> list[MarkedStroke]:
        """Strokes that were played, somewhere."""
        return [stroke for stroke in self.strokes if stroke.late_ms is not None]


def findings(shown: Shown) -> tuple[Finding, ...]:
    """Every fault with evidence, the weightiest first."""
    found = [finding for finder in FINDERS for finding in finder(shown)]
    return tuple(sorted(found, key=lambda finding: (-finding.weight, finding.bars, finding.kind)))


def fill_start(strokes: Sequence[MarkedStroke]) -> Fraction | None:
    """Where a fill begins: the first stroke of a run on the drums that holds toms or fills a beat; None: no fill."""
    written = [stroke for stroke in strokes if stroke.verdict != "extra" and stroke.piece in Drums]
    toms = [stroke.position for stroke in written if stroke.piece in TOMS]
    places = sorted({stroke.position for stroke in written})
    run = _run_end(places)
    if len(toms) >= 2:
        return min([run, *toms]) if run is not None else min(toms)
    return run if run is not None and len([p for p in places if p >= run]) >= FILL_LEAST else None


def _run_end(places: Sequence[Fraction]) -> Fraction | None:
    """First of the last run of drum strokes an eighth or less apart; None when there is no run."""
    start = None
    for before, after in zip(reversed(places[:-1]), reversed(places[1:]), strict=True):
        if after - before > Fraction(1, 8):
            break
        start = before
    return start


def by_bar(strokes: Sequence[MarkedStroke]) -> dict[int, list[MarkedStroke]]:
    """Marked strokes of each bar, in order."""
    inside: dict[int, list[MarkedStroke]] = {}
    for stroke in strokes:
        inside.setdefault(stroke.bar, []).append(stroke)
    return inside


def _stops(shown: Shown) -> Iterator[Finding]:
    played = sum(pair.hit is not None for pair in shown.matched.pairs)
    if played < FOLLOWED * len(shown.matched.pairs):
        return  # what jumps about in a part it does not fit has not stopped
    for stop, start in shown.matched.restarts:
        at, again = shown.grid.bar_at(stop), shown.grid.bar_at(start + SLACK_S)
        if again > at + 1 and abs(start - shown.grid.at(again).start_s) <= shown.written.beat_s / 2:
            out = _left_out(shown, at + 1, again - 1)
            named = say_span(out[0], out[-1])
            say = f"You leave out {named}. Count the bars aloud, or say what comes next before it comes."
            yield Finding("left out", tuple(out), 9.0, say)
            continue
        there, back = say_span(at, at), say_span(again, again)
        what = f"You stop in {there} and start again in {back}"
        if start > stop + 1.5 * shown.written.beat_s:
            what = f"You leave the song in {there} and come back in {back}"
        yield Finding(
            "stop",
            (at,),
            9.0,
            f"{what}. After a slip carry on counting and come in on the next 1; time does not stop.",
        )


def _left_out(shown: Shown, first: int, last: int) -> range:
    """Bars left out, without silent ones at either end: of those nobody knows."""
    written = sorted({s.bar for s in shown.written.strokes if first <= s.bar <= last}) or [first, last]
    return range(written[0], written[-1] + 1)


def _fills(shown: Shown) -> Iterator[Finding]:
    """A fill that rushes or drags: gaps shrink or grow through it, and its end or its landing is off."""
    inside = by_bar(shown.strokes)
    for bar, strokes in inside.items():
        start = fill_start(strokes)
        if start is None:
            continue
        late = [s.late_ms for s in strokes if s.late_ms is not None and s.position >= start and s.piece in Drums]
        landing = [s.late_ms for s in inside.get(bar + 1, ()) if s.late_ms is not None and s.position == 0]
        if len(late) < FILL_LEAST:
            continue
        third = max(len(late) // 3, 1)
        gain = float(np.mean(late[-third:]) - np.mean(late[:third]))
        ends = [float(np.mean(late[-third:])), *([float(np.median(landing))] if landing else [])]
        if gain <= -SHRINK_MS and min(ends) <= -HEARD_MS:
            say = (
                f"The fill in bar {bar} rushes: it ends {-min(ends):.0f} ms early. Breathe before it and through it, "
            )
            yield Finding("fill rushes", (bar,), 8.0 - gain / 100, f"{say}and count its 16ths aloud.")
        elif gain >= SHRINK_MS and max(ends) >= HEARD_MS:
            say = f"The fill in bar {bar} drags: it ends {max(ends):.0f} ms late. "
            how = "Play fewer notes with the same landing."
            yield Finding("fill drags", (bar,), 8.0 + gain / 100, say + how)


def _runaway(shown: Shown) -> Iterator[Finding]:
    """The running hand drifts ahead of kick and snare from the first third of the take to the last."""
    timed = shown.timed()
    bars = sorted({stroke.bar for stroke in timed})
    if len(bars) < 6:
        return
    third = len(bars) // 3
    gaps = []
    for part in (bars[:third], bars[-third:]):
        hand = [s.late_ms or 0.0 for s in timed if s.bar in part and s.piece in TIMEKEEPERS]
        rest = [s.late_ms or 0.0 for s in timed if s.bar in part and s.piece in ("kick", "snare")]
        if len(hand) < HABIT_LEAST or len(rest) < HABIT_LEAST:
            return
        gaps.append(float(np.median(hand)) - float(np.median(rest)))
    if gaps[1] <= -HEARD_MS and gaps[1] - gaps[0] <= -SHRINK_MS:
        word = _most_common(shown, TIMEKEEPERS)
        say = f"The {word} runs away: at the end it is {-gaps[1]:.0f} ms ahead of kick and snare. "
        yield Finding(
            "hat runs away", tuple(bars[-third:]), 6.0, f"{say}Hear the {word} as the part that joins the others."
        )


def _flams(shown: Shown) -> Iterator[Finding]:
    """Two limbs that should fall together and do not, always the same way round."""
    pairs: dict[tuple[Sound, Sound], list[tuple[int, float]]] = {}
    places: dict[tuple[int, Fraction], list[MarkedStroke]] = {}
    for stroke in shown.timed():
        places.setdefault((stroke.bar, stroke.position), []).append(stroke)
    for (bar, _), together in places.items():
        for n, one in enumerate(together):
            for other in together[n + 1 :]:
                gap = (other.late_ms or 0.0) - (one.late_ms or 0.0)
                pairs.setdefault((one.piece, other.piece), []).append((bar, gap))
    for (a, b), gaps in pairs.items():
        middle = float(np.median([gap for _, gap in gaps]))
        agree = [bar for bar, gap in gaps if gap * middle > 0 and abs(gap) >= HEARD_MS / 2]
        if len(gaps) < HABIT_LEAST or not HEARD_MS <= abs(middle) <= FLAM_MOST_MS:
            continue
        if len(agree) >= HABIT_SHARE * len(gaps):
            first, second = (SAY[a], SAY[b]) if middle > 0 else (SAY[b], SAY[a])
            say = f"{first.capitalize()} and {second} fall apart: the {second} is {abs(middle):.0f} ms behind. "
            how = f'Play only {first} and {second}, slowly, and whisper "together".'
            yield Finding("limbs flam", tuple(sorted(set(agree))), 5.0, say + how)


def _habits(shown: Shown) -> Iterator[Finding]:
    """One piece always early, or always late."""
    late: dict[Sound, list[float]] = {}
    for stroke in shown.timed():
        late.setdefault(stroke.piece, []).append(stroke.late_ms or 0.0)
    for piece, values in late.items():
        middle = float(np.median(values))
        agree = sum(1 for value in values if value * middle > 0)
        if len(values) < 2 * HABIT_LEAST or abs(middle) < HEARD_MS or agree < HABIT_SHARE * len(values):
            continue
        side = "early" if middle < 0 else "late"
        say = f"The {SAY[piece]} is {abs(middle):.0f} ms {side} as a habit. Record it with the click and listen."
        yield Finding(f"habit {piece}", (), 4.0 if middle < 0 else 3.5, say)


def _ghosts(shown: Shown) -> Iterator[Finding]:
    keys = {(s.bar, s.position, s.piece) for s in shown.written.strokes if s.ghost}
    ghosts = [s for s in shown.strokes if s.verdict != "extra" and (s.bar, s.position, s.piece) in keys]
    if len(ghosts) < FILL_LEAST:
        return
    played = [s for s in ghosts if s.verdict == "played"]
    bars = tuple(sorted({s.bar for s in ghosts}))
    if len(played) <= len(ghosts) / 2 and any(s.verdict == "missed" and s.confidence < TOLD for s in ghosts):
        say = f"{len(played)} of {len(ghosts)} ghost notes are heard. Listen to the take: are the others there?"
        yield Finding("ghosts unheard", bars, 2.0, say)
        return
    if len(played) <= len(ghosts) / 2:
        say = (
            f"{len(ghosts) - len(played)} of {len(ghosts)} ghost notes are missing. First play them all, then softer."
        )
        yield Finding("ghosts missing", bars, 4.5, say)
        return
    loud = [s.dynamic for s in played if s.dynamic is not None]
    if len(loud) >= FILL_LEAST and float(np.median(loud)) >= LOUD_GHOST:
        say = "The ghost notes are nearly as loud as the backbeats. Keep the stick two or three centimetres up."
        yield Finding("ghosts loud", bars, 4.5, say)


def _follows(shown: Shown) -> Iterator[Finding]:
    """An extra stroke of the running hand with kicks off the hat's pulse: the hand follows the foot."""
    kicks = {(s.bar, s.position) for s in shown.written.strokes if s.piece == "kick"}
    hands = {(s.bar, s.position) for s in shown.written.strokes if s.piece in TIMEKEEPERS}
    extra = [s for s in shown.strokes if s.verdict == "extra" and s.piece in TIMEKEEPERS]
    with_kick = [s for s in extra if (s.bar, s.position) in kicks - hands]
    if len(with_kick) >= 3:
        say = "The hand follows the foot: extra hats come with some kicks. Hats alone, and say the kick over them."
        yield Finding("hand follows foot", tuple(sorted({s.bar for s in with_kick})), 5.5, say)


def _dropped(shown: Shown) -> Iterator[Finding]:
    """Whole voices that are written and hardly played."""
    written: dict[Sound, list[MarkedStroke]] = {}
    for stroke in shown.strokes:
        if stroke.verdict != "extra":
            written.setdefault(stroke.piece, []).append(stroke)
    ghosts = {(s.bar, s.position, s.piece) for s in shown.written.strokes if s.ghost}
    for piece, strokes in written.items():
        plain = [s for s in strokes if (s.bar, s.position, s.piece) not in ghosts]
        missed = [s for s in plain if s.verdict == "missed" and s.confidence >= TOLD]
        instead = _instead(piece, plain)
        if len(plain) >= FILL_LEAST and len(missed) > len(plain) / 2:
            say = f"The {SAY[piece]} is mostly missing ({len(missed)} of {len(plain)}). Say its line, then play it."
            yield Finding(f"missing {piece}", tuple(sorted({s.bar for s in missed})), 7.0, say)
        if len(plain) >= FILL_LEAST and len(instead) > len(plain) / 2:
            heard = _most([s.played for s in instead if s.played is not None])
            say = f"Where the {SAY[piece]} is written you play the {SAY[heard]} ({len(instead)} of {len(plain)})."
            yield Finding(f"instead {piece}", tuple(sorted({s.bar for s in instead})), 6.5, say)


def _instead(piece: Sound, strokes: Sequence[MarkedStroke]) -> list[MarkedStroke]:
    """Strokes on another piece; none where ears that name the piece wrongly would explain half of them."""
    instead = [s for s in strokes if s.verdict == "other_piece"]
    unsure = [s for s in instead if s.confidence < TOLD]
    same = [s for s in unsure if s.played is not None and INSTRUMENT[s.played] == INSTRUMENT[piece]]
    misnamed = MISNAMED.get(piece, MISNAMED_OTHERS) * len(strokes)
    return [s for s in instead if s not in unsure or (s in same and len(same) > 2 * misnamed)]


def _most(pieces: Sequence[Sound]) -> Sound:
    return max(sorted(set(pieces)), key=pieces.count)


def _most_common(shown: Shown, among: frozenset[Sound]) -> str:
    return SAY[_most([s.piece for s in shown.timed() if s.piece in among])]


FINDERS: Final[tuple[Callable[[Shown], Iterator[Finding]], ...]] = (
    _stops,
    _fills,
    _dropped,
    _runaway,
    _follows,
    _flams,
    _ghosts,
    _habits,
)
"""Every fault that is looked for; a new one is a new function here."""
