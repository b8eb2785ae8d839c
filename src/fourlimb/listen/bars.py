"""Which speed is the beat, which meter, and where the one is.

Input: candidate pulses and `Evidence`. Output: the chosen pulse, and bar lines on it.

Method: every candidate (the walk's own pulses, and each at half, twice, two thirds and so on of its speed) is counted
in every meter, from the first bar line that suits it best: how likely the drums are under usual bars (`rhythms`:
strokes are a Poisson process in time, so that hypotheses of different speed compare), and heard bar lines. `weigh`
says which of these ways is the likeliest. On that pulse a semi-Markov walk over half beats lays the bars: each bar
pays its likelihood, another meter than the song's own pays a price, heard downbeats speak for bar lines.

What it cannot do: tell 2/4 from 4/4 when every half bar is the same music and nothing heard says where bars start.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, NamedTuple

import numpy as np

from fourlimb.model import Grid

from .beat_trust import agreeing, at_all, beat_signs, learned_curve, line_signs, probable
from .beats import FASTEST_BPM, SLOWEST_BPM, Pulse, confidence, find_beats
from .evidence import FRAMES_PER_S, Evidence, FloatArray
from .layout import Line, bar_beats, expanded, lay, pulse_unit
from .rhythms import METERS, shapes_of
from .signs import Folded, struck_in
from .weigh import Weights, learned, weighed

BANDS: Final = ((38.0, 80.0), (66.0, 132.0), (110.0, 250.0), (60.0, 180.0))
"""Tempi in which the walk looks for its own best pulse; the last is for songs whose tempo jumps."""
RATIOS: Final = tuple(Fraction(*r) for r in ((1, 1), (2, 1), (1, 2), (3, 2), (2, 3), (3, 1), (1, 3)))
TEMPER: Final = 0.12
"""Bars of a song are copies of each other, not independent: their likelihood counts this much."""
DOWNBEAT_WEIGHT: Final = 8.0
"""Heard bar lines against drums (set on songs made of the learning half in every meter, and on the recordings)."""
CHANGE_WEIGHT: Final = 0.5
HARMONY_WEIGHT: Final = 1.0
"""Changes of harmony, in standard deviations. On 85 songs of the learning half with a band the downbeat F is .79,
.85, .89, .89 in every meter and .85, .90, .92, .94 on grooves of 4/4 at 0, .5, .75 and 1; more is no better."""
CHANGE_PRICE: Final = 12.0
"""What a change of meter costs: about three bars' worth of evidence."""
OTHER_BAR_PRICE: Final = 0.6
"""What every bar of another meter than the song's costs."""
SPARE_BEATS: Final = 16
"""Beats that tables of strokes reach past the pulse: bars that end after the song."""
SAME_TEMPO: Final = 0.04
"""Tempi this close (log) are one (the usual tolerance of tempo evaluation)."""
FIRST_BEAT: Final = 1.0
"""Songs start on the one more often than not: what that is worth."""


@dataclass(frozen=True, eq=False)
class Counted:
    """One way to count a song. `score`: log-odds against other ways; `row`: its signs (`signs.NAMES`)."""

    pulse: Pulse
    meter: str
    lines: tuple[Line, ...]
    score: float
    row: FloatArray


def find_grid(evidence: Evidence) -> Grid | None:
    """Bars of the whole song, or None when there are too few beats to speak of."""
    return grid_of(ranked(evidence), evidence)


def grid_of(found: Sequence[Counted], evidence: Evidence) -> Grid | None:
    """Bars counted in the first of these ways, or None where there is none."""
    if not found:
        return None
    pulse, lines = _trusted(found, evidence)
    return lay(pulse, lines, until_s=evidence.ends_s)


def _trusted(found: Sequence[Counted], evidence: Evidence) -> tuple[Pulse, tuple[Line, ...]]:
    """The best way to count, with how far its beats and bar lines can be trusted."""
    best = found[0]
    stands_out = confidence(best.pulse.times_s, evidence)
    if not evidence.trained:
        return Pulse(best.pulse.times_s, stands_out), best.lines
    beats, bar_lines = trust_signs(found, evidence)
    sure = float(probable(bar_lines, learned_curve("lines")))
    lines = tuple(line._replace(sure=sure) for line in best.lines)
    sure_beats = probable(beats, learned_curve("beats")) * at_all(stands_out)
    return Pulse(best.pulse.times_s, sure_beats), lines


def trust_signs(found: Sequence[Counted], evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """What speaks for the beats and for the bar lines of the first way (see `beat_trust`)."""
    best = found[0]
    times = best.pulse.times_s
    scores = [way.score for way in found]
    fast = [abs(np.log(way.pulse.period_s / best.pulse.period_s)) < SAME_TEMPO for way in found]
    alike = [same and way.meter == best.meter for same, way in zip(fast, found, strict=True)]
    beats = beat_signs(confidence(times, evidence), agreeing(scores, fast))
    starts = [bar[0] for bar in expanded(best.lines, len(times) - 1) if bar[0] >= best.lines[0].at]
    folded = Folded(best.pulse, evidence, struck_in(evidence), SPARE_BEATS)
    ones = [int(2 * start) for start in starts]
    return beats, line_signs(agreeing(scores, alike), folded.lines, ones, folded.harmony, folded.harmony_share)


def ranked(evidence: Evidence, weights: Weights | None = None) -> list[Counted]:
    """Every way to count that was tried, best first; the bars of the first one may change their meter.

    `weights`: those that ship when None.
    """
    ways = counted_ways(evidence, candidates(evidence))
    if not ways:
        return []
    table = weights or learned("heard" if evidence.trained else "struck")
    scores = weighed(np.array([way.row for way in ways]), table)
    scored = [replace(way, score=float(score)) for way, score in zip(ways, scores, strict=True)]
    scored.sort(key=lambda way: -way.score)
    best = scored[0]
    lines = _walked(Folded(best.pulse, evidence, struck_in(evidence), SPARE_BEATS), best.meter)
    return [replace(best, lines=lines), *scored[1:]]


def counted_ways(evidence: Evidence, pulses: Sequence[Pulse]) -> list[Counted]:
    """Every pulse counted in every meter, not weighed yet."""
    struck = struck_in(evidence)
    return [way for pulse in pulses for way in _counted(Folded(pulse, evidence, struck, SPARE_BEATS))]


def _counted(folded: Folded) -> list[Counted]:
    """A pulse counted in every meter, each from the first bar line that suits it best; not scored yet."""
    tables, for_line = _tables(folded)
    best = {meter: _phase(folded, meter, table, for_line) for meter, table in tables.items()}
    ways = []
    for meter, (first, drums) in best.items():
        over = drums - max(other for name, (_, other) in best.items() if name != meter)
        row = folded.row(meter, first, drums, over)
        ways.append(Counted(folded.pulse, meter, (Line(Fraction(first, 2), meter),), 0.0, row))
    return ways


def _tables(folded: Folded) -> tuple[dict[str, FloatArray], FloatArray]:
    """Log-likelihood of a bar of each meter from each half beat on, and what speaks for a bar line there besides."""
    tables = {m: TEMPER * shapes_of(m).likelihood(folded.table, folded.pulse.period_s) for m in METERS}
    return tables, _line_evidence(folded)


def _phase(folded: Folded, meter: str, table: FloatArray, for_line: FloatArray) -> tuple[int, float]:
    """The half beat of the first bar line that suits a meter best, and the drums' log-likelihood a second then."""
    size = int(bar_beats(meter) * 2)
    low, high = folded.span
    found = []
    for first in range(size):
        at = np.arange(first, 2 * folded.beats, size)
        at = at[(at < len(table)) & (at > low - size) & (at < high)]
        drums = float(table[at].mean()) / size * (high - low) if len(at) else 0.0
        bonus = FIRST_BEAT if first == low % size else 0.0
        found.append((drums + float(for_line[at].sum()) + bonus, -first, drums))
    _, first, drums = max(found)
    return -first, drums / max((high - low) / 2 * folded.pulse.period_s, 1.0)


def _walked(folded: Folded, main: str) -> tuple[Line, ...]:
    """The best bars on a pulse, mostly of one meter."""
    tables, for_line = _tables(folded)
    alike = {m: table for m, table in tables.items() if pulse_unit(m) == pulse_unit(main)}
    return tuple(_best_bars(alike, for_line, folded.beats * 2, main))


def candidates(evidence: Evidence) -> list[Pulse]:
    """Pulses worth judging, each tempo once."""
    found: list[Pulse] = []
    for slowest, fastest in BANDS:
        walked = find_beats(evidence, slowest=slowest, fastest=fastest)
        if len(walked.times_s) < 4:
            continue
        for ratio in RATIOS:
            for raw in rescaled(walked, ratio):
                pulse = from_first_sound(raw, evidence)
                bpm = 60 / pulse.period_s
                if SLOWEST_BPM <= bpm <= FASTEST_BPM and not any(_same(pulse, other) for other in found):
                    found.append(pulse)
    return found


def _same(one: Pulse, two: Pulse) -> bool:
    """Nearly all beats within 30 ms of the other's."""
    if abs(np.log2(one.period_s / two.period_s)) > 0.05:
        return False
    near = np.abs(two.times_s[np.searchsorted(two.times_s, one.times_s).clip(0, len(two.times_s) - 1)] - one.times_s)
    before = np.abs(two.times_s[(np.searchsorted(two.times_s, one.times_s) - 1).clip(0)] - one.times_s)
    return float((np.minimum(near, before) < 0.03).mean()) > 0.95


def rescaled(pulse: Pulse, ratio: Fraction) -> list[Pulse]:
    """The pulse at another speed, once for each way to start."""
    if ratio == 1:
        return [pulse]
    index = np.arange(len(pulse.times_s))
    step = float(1 / ratio)
    starts = np.arange(0, step if ratio < 1 else 1, 1.0 if ratio < 1 else step / 1)
    made = []
    for start in starts if ratio < 1 else starts[:1]:
        at = np.arange(start, len(index) - 1 + 1e-9, step)
        if len(at) >= 4:
            made.append(Pulse(np.interp(at, index, pulse.times_s), np.interp(at, index, pulse.confidence)))
    return made


def from_first_sound(pulse: Pulse, evidence: Evidence) -> Pulse:
    """Beats from the last one before anything sounds; one more in front if the song starts between two beats."""
    times, trust = pulse.times_s, pulse.confidence
    first = int(np.searchsorted(times, evidence.starts_s - 0.2 * pulse.period_s))
    times, trust = times[first:], trust[first:]
    while len(times) > 1 and times[0] - evidence.starts_s > 0.3 * pulse.period_s and times[0] > 0.02:
        before = max(2 * times[0] - times[1] if times[0] > 0.9 * pulse.period_s else times[0] - pulse.period_s, 0.0)
        times, trust = np.insert(times, 0, before), np.insert(trust, 0, trust[0])
    return Pulse(times, trust)


def doubled(pulse: Pulse) -> Pulse:
    """A beat more between every two."""
    return rescaled(pulse, Fraction(2))[0]


def _line_evidence(folded: Folded) -> FloatArray:
    """What speaks for a bar line at each half beat besides the drums: heard downbeats, changes of harmony."""
    evidence, count = folded.evidence, 2 * folded.beats
    half = np.interp(np.arange(count) / 2, np.arange(folded.beats), folded.pulse.times_s)
    score = np.zeros(2 * (folded.beats + SPARE_BEATS))
    if evidence.trained:
        down = np.clip(evidence.near(evidence.downbeat, half, 4), 0.02, 0.98)
        score[:count] += DOWNBEAT_WEIGHT * TEMPER * np.log(down / (1 - down))
    change = evidence.near(evidence.change, half, 6)
    if float(change.std()) > 1e-6:
        score[:count] += CHANGE_WEIGHT * TEMPER * (change - change.mean()) / change.std()
    score[:count] += HARMONY_WEIGHT * folded.harmony_share * folded.harmony
    return score


def _best_bars(tables: dict[str, FloatArray], for_line: FloatArray, last: int, main: str) -> list[Line]:
    """Semi-Markov walk over half beats: the best row of bars that covers `last` half beats, mostly of meter `main`.

    The song may start and end inside a bar; such a bar counts as a usual bar of its meter by the share that is there.
    """
    sizes = {m: int(bar_beats(m) * 2) for m in tables}
    usual = {m: float(np.median(t[: max(last - sizes[m], 1)])) if len(t) else 0.0 for m, t in tables.items()}
    best: list[dict[str, _Step]] = [{} for _ in range(last + max(sizes.values()) + 1)]
    for meter, size in sizes.items():
        for start in range(size):
            bonus = (FIRST_BEAT if start == 0 else 0.0) - (CHANGE_PRICE if meter != main else 0.0)
            best[start][meter] = _Step(usual[meter] * start / size + bonus, -1, meter)
    for at in range(last):
        if not best[at]:
            continue
        leader = max(best[at], key=lambda m: (best[at][m].score, m))
        for meter, size in sizes.items():
            stay, come = best[at].get(meter), best[at][leader].score - CHANGE_PRICE
            score, before = (stay.score, meter) if stay is not None and stay.score >= come else (come, leader)
            inside = min(last - at, size)
            gain = float(tables[meter][at]) if inside == size else usual[meter] * inside / size
            total = score + gain + float(for_line[at]) - (OTHER_BAR_PRICE if meter != main else 0.0)
            if meter not in best[at + size] or total > best[at + size][meter].score:
                best[at + size][meter] = _Step(total, at, before)
    return _trace_bars(best, last)


class _Step(NamedTuple):
    """The best way to end a bar of one meter here: its score, where the bar starts, and the meter before it."""

    score: float
    start: int
    before: str


def _trace_bars(best: list[dict[str, _Step]], last: int) -> list[Line]:
    """Back from the best end: runs of bars of one meter become one `Line`."""
    ends = [(step.score, -at, meter) for at in range(last, len(best)) for meter, step in best[at].items()]
    _, at, meter = max((e for e in ends if best[-e[1]][e[2]].start < last), default=(0.0, 0, "4/4"))
    at = -at
    lines: list[Line] = []
    while meter in best[at] and best[at][meter].start >= 0:
        step = best[at][meter]
        if lines and lines[-1].meter == meter and lines[-1].at == Fraction(at, 2):
            lines.pop()
        lines.append(Line(Fraction(step.start, 2), meter))
        at, meter = step.start, step.before
    return lines[::-1] or [Line(Fraction(0), meter)]


def steady_grid(pulse: Pulse, evidence: Evidence, meters: Sequence[str] = ("4/4",)) -> Grid:
    """Bars counted from the first beat at an even tempo."""
    return lay(pulse, [Line(Fraction(0), meters[0], 0.0)], until_s=max(evidence.ends_s, FRAMES_PER_S / 1000))
