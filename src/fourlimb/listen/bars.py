"""Which speed is the beat, which meter, and where the one is.

Input: candidate pulses and `Evidence`. Output: the chosen pulse, and bar lines on it.

Method: every candidate (the walk's own pulses, and each at half, twice, two thirds and three halves of its speed)
is judged by how likely the drums are if that is the beat: strokes are a Poisson process in time whose rate is that
of the usual bars (`rhythms`), so that hypotheses of different speed compare without a hand-made bonus. A
semi-Markov walk over half beats lays the bars: each bar pays its likelihood, a change of meter pays a price,
downbeats and harmony changes that the ears heard speak for bar lines. Ways to count are then compared by `weigh`.

What it cannot do: tell 2/4 from 4/4 when every half bar is the same music; it takes the usual one. For 6/8 and 12/8
it takes the shorter bar then.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, NamedTuple

import numpy as np

from fourlimb.model import Grid

from .beat_trust import BEAT_CURVE, LINE_CURVE, agreeing, at_all, beat_signs, line_signs, probable
from .beats import FASTEST_BPM, SLOWEST_BPM, Pulse, confidence, find_beats
from .evidence import FRAMES_PER_S, Evidence, FloatArray
from .layout import Line, bar_beats, expanded, lay, pulse_unit
from .rhythms import METERS, SLOTS, shapes_of, struck_on
from .weigh import Struck, commonest, features, log_odds, points, struck_in

BANDS: Final = ((38.0, 80.0), (66.0, 132.0), (110.0, 250.0), (60.0, 180.0))
"""Tempi in which the walk looks for its own best pulse; the last is for songs whose tempo jumps."""
RATIOS: Final = (Fraction(1), Fraction(2), Fraction(1, 2), Fraction(3, 2), Fraction(2, 3))
TEMPER: Final = 0.12
"""Bars of a song are copies of each other, not independent: their likelihood counts this much."""
SPREAD_S: Final = 0.022
"""Spread of strokes round their place while beats are not yet settled."""
OUTLIERS: Final = 0.05
LISTENED_S: Final = 40.0
"""A longer song is no surer of its tempo than this many seconds of it: it repeats itself (ours)."""
DOWNBEAT_WEIGHT: Final = 8.0
"""Heard bar lines against drums (set on songs made of the learning half in every meter, and on the recordings)."""
CHANGE_WEIGHT: Final = 0.5
METER_PRIOR: Final = {"4/4": 0.0, "3/4": -2.0, "2/4": -12.0, "5/4": -2.5, "7/8": -4.0, "6/8": -1.5, "12/8": -0.5}
"""Log-odds of each meter before hearing it (records are nearly all 4/4: common practice)."""
BAR_PRICE: Final = {"2/4": -0.6}
"""What every bar of a meter pays: half bars of 4/4 sound like bars of 2/4, and 4/4 is the usual one."""
CHANGE_PRICE: Final = 12.0
"""What a change of meter costs: about three bars' worth of evidence (all four set together)."""
HALVES_ALIKE: Final = 0.85
"""Likeness of kick and snare of both halves of a bar from which they are the same music (ours)."""
SAME_TEMPO: Final = 0.04
"""Tempi this close (log) are one (the usual tolerance of tempo evaluation)."""
DRUMS: Final = (0, 1)
"""Kick and snare among the groups of `rhythms`."""
FIRST_BEAT: Final = 1.0
"""Songs start on the one more often than not: what that is worth."""


@dataclass(frozen=True, eq=False)
class Counted:
    """One way to count a song. `score`: log-odds against other ways; `row`: what it is made of (`weigh.FEATURES`)."""

    pulse: Pulse
    lines: tuple[Line, ...]
    score: float
    row: FloatArray


def find_grid(evidence: Evidence) -> Grid | None:
    """Bars of the whole song, or None when there are too few beats to speak of."""
    found = ranked(evidence)
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
    sure = float(probable(bar_lines, LINE_CURVE))
    lines = tuple(line._replace(sure=sure) for line in best.lines)
    return Pulse(best.pulse.times_s, probable(beats, BEAT_CURVE) * at_all(stands_out)), lines


def trust_signs(found: Sequence[Counted], evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """What speaks for the beats and for the bar lines of the first way (see `beat_trust`)."""
    best = found[0]
    times, meter = best.pulse.times_s, _meter(best)
    scores = [way.score for way in found]
    fast = [abs(np.log(way.pulse.period_s / best.pulse.period_s)) < SAME_TEMPO for way in found]
    alike = [same and _meter(way) == meter for same, way in zip(fast, found, strict=True)]
    ones = [int(bar[0]) for bar in expanded(best.lines, len(times) - 1) if bar[0] == int(bar[0])]
    heard = log_odds(evidence.near(evidence.downbeat, times, 4))
    beats = beat_signs(confidence(times, evidence), agreeing(scores, fast))
    return beats, line_signs(agreeing(scores, alike), heard, ones)


def _meter(way: Counted) -> str:
    return commonest(expanded(way.lines, len(way.pulse.times_s) - 1))


def ranked(evidence: Evidence) -> list[Counted]:
    """Every way to count that was tried, best first."""
    ways = []
    struck = struck_in(evidence)
    for pulse in candidates(evidence):
        for compound in (False, True):
            way = count_bars(pulse, evidence, compound=compound, struck=struck)
            if way is not None:
                ways.append(way)
    return sorted(ways, key=lambda way: -way.score)


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


def count_bars(pulse: Pulse, evidence: Evidence, *, compound: bool, struck: Struck | None = None) -> Counted | None:
    """The best bars on a pulse of quarters (or, compound, of dotted quarters)."""
    if len(pulse.times_s) < 4:
        return None
    struck = struck if struck is not None else struck_in(evidence)
    beats = len(pulse.times_s)
    padded = beats + 16
    places = beat_places(pulse, struck.times_s)
    table = struck_on(places, evidence.hits, padded)
    meters = [m for m in METERS if (pulse_unit(m).numerator == 3) == compound]
    tables = {m: TEMPER * shapes_of(m).likelihood(table, pulse.period_s) for m in meters}
    for_line = _line_evidence(pulse, evidence, padded)
    lines, score = _best_bars(tables, for_line, beats * 2)
    starts = [int(bar[0] * 2) for bar in expanded(lines, beats) if bar[0] * 2 < len(for_line)]
    drums = score - float(for_line[starts].sum())
    lines = [_shortest(line, lines[n + 1 :], table) for n, line in enumerate(lines)]
    seconds = max(float(struck.times_s[-1] - struck.times_s[0]) if len(struck.times_s) else 0.0, 1.0)
    scale = min(seconds, LISTENED_S) / seconds
    timing = TEMPER * _timing(places, pulse.period_s, evidence)
    row = features(
        pulse, lines, evidence, struck, places, drums=drums * scale, timing=timing * scale, compound=compound
    )
    return Counted(pulse, tuple(lines), points(row, trained=evidence.trained), row)


def beat_places(pulse: Pulse, times_s: FloatArray) -> FloatArray:
    """Where times stand on the pulse, in beats; outside it time runs on evenly."""
    index = np.arange(len(pulse.times_s), dtype=np.float64)
    inside = np.interp(times_s, pulse.times_s, index)
    early = (times_s - pulse.times_s[0]) / pulse.period_s
    late = (times_s - pulse.times_s[-1]) / pulse.period_s
    places: FloatArray = inside + np.minimum(early, 0) + np.maximum(late, 0)
    return places


def _timing(places: FloatArray, period_s: float, evidence: Evidence) -> float:
    """How well strokes fall on twelfths of the beat, as the log-density in time of a normal error with outliers."""
    if not len(places):
        return 0.0
    off_s = np.abs(places * SLOTS - np.rint(places * SLOTS)) / SLOTS * period_s
    width = period_s / SLOTS
    spread = min(SPREAD_S, width / 2)
    normal = np.exp(-0.5 * (off_s / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
    weights = np.array([hit.confidence for hit in evidence.hits])
    return float((weights * np.log((1 - OUTLIERS) * normal + OUTLIERS / width)).sum())


def _line_evidence(pulse: Pulse, evidence: Evidence, beats: int) -> FloatArray:
    """What speaks for a bar line at each half beat besides the drums: heard downbeats, changes of harmony."""
    half = np.interp(np.arange(2 * len(pulse.times_s)) / 2, np.arange(len(pulse.times_s)), pulse.times_s)
    down = np.clip(evidence.near(evidence.downbeat, half, 4), 0.02, 0.98)
    score = np.zeros(2 * beats)
    if evidence.trained:
        score[: len(half)] += DOWNBEAT_WEIGHT * TEMPER * np.log(down / (1 - down))
    change = evidence.near(evidence.change, half, 6)
    if float(change.std()) > 1e-6:
        score[: len(half)] += CHANGE_WEIGHT * TEMPER * (change - change.mean()) / change.std()
    return score


def _best_bars(tables: dict[str, FloatArray], for_line: FloatArray, last: int) -> tuple[list[Line], float]:
    """Semi-Markov walk over half beats: the best row of bars that covers `last` half beats, and its score.

    The song may start and end inside a bar; such a bar counts as a usual bar of its meter by the share that is there.
    """
    sizes = {m: int(bar_beats(m) * 2) for m in tables}
    usual = {m: float(np.median(t[: max(last - sizes[m], 1)])) if len(t) else 0.0 for m, t in tables.items()}
    best: list[dict[str, _Step]] = [{} for _ in range(last + max(sizes.values()) + 1)]
    for meter, size in sizes.items():
        for start in range(size):
            bonus = FIRST_BEAT if start == 0 else 0.0
            best[start][meter] = _Step(usual[meter] * start / size + METER_PRIOR[meter] + bonus, -1, meter)
    for at in range(last):
        if not best[at]:
            continue
        leader = max(best[at], key=lambda m: (best[at][m].score, m))
        for meter, size in sizes.items():
            stay, come = best[at].get(meter), best[at][leader].score - CHANGE_PRICE + METER_PRIOR[meter] / 2
            score, before = (stay.score, meter) if stay is not None and stay.score >= come else (come, leader)
            inside = min(last - at, size)
            gain = float(tables[meter][at]) if inside == size else usual[meter] * inside / size
            total = score + gain + float(for_line[at]) + BAR_PRICE.get(meter, 0.0)
            if meter not in best[at + size] or total > best[at + size][meter].score:
                best[at + size][meter] = _Step(total, at, before)
    return _trace_bars(best, last)


def _shortest(line: Line, later: Sequence[Line], table: FloatArray) -> Line:
    """A stretch of 12/8 whose half bars are the same music is one of 6/8: the shorter bar says as much."""
    if line.meter != "12/8":
        return line
    half, stop = 2 * SLOTS, int(later[0].at * SLOTS) if later else len(table)
    start = int(line.at * SLOTS)
    bars = table[start : start + (stop - start) // (2 * half) * 2 * half, list(DRUMS)].reshape(
        -1, 2, half * len(DRUMS)
    )
    first, second = bars[:, 0].mean(axis=0), bars[:, 1].mean(axis=0)
    alike = float(first @ second) / max(float(np.linalg.norm(first) * np.linalg.norm(second)), 1e-9)
    return line._replace(meter="6/8") if alike > HALVES_ALIKE else line


class _Step(NamedTuple):
    """The best way to end a bar of one meter here: its score, where the bar starts, and the meter before it."""

    score: float
    start: int
    before: str


def _trace_bars(best: list[dict[str, _Step]], last: int) -> tuple[list[Line], float]:
    """Back from the best end: runs of bars of one meter become one `Line`."""
    ends = [(step.score, -at, meter) for at in range(last, len(best)) for meter, step in best[at].items()]
    top, at, meter = max((e for e in ends if best[-e[1]][e[2]].start < last), default=(0.0, 0, "4/4"))
    at = -at
    lines: list[Line] = []
    while meter in best[at] and best[at][meter].start >= 0:
        step = best[at][meter]
        if lines and lines[-1].meter == meter and lines[-1].at == Fraction(at, 2):
            lines.pop()
        lines.append(Line(Fraction(step.start, 2), meter))
        at, meter = step.start, step.before
    return lines[::-1] or [Line(Fraction(0), meter)], float(top)


def steady_grid(pulse: Pulse, evidence: Evidence, meters: Sequence[str] = ("4/4",)) -> Grid:
    """Bars counted from the first beat at an even tempo."""
    return lay(pulse, [Line(Fraction(0), meters[0], 0.0)], until_s=max(evidence.ends_s, FRAMES_PER_S / 1000))
