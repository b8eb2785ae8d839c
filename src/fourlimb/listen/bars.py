"""Which octave of the beat, which meter, and where the one is.

Input: beats and `Evidence`. Output: a `Grid` with numbered bars, a pickup as bar 0.

Method: each beat gets how much kick, snare, crash, downbeat and harmony change is heard on it. A bar of 4 is believed by its
backbeat (kick on 1 and 3, snare on 2 and 4), a bar of 3 by kick on 1 and snare or hats on 2 and 3; crashes, harmony
changes and the ears' own downbeats speak for the one (common practice, no source). The same score, taken at half, once and
double the speed, chooses the octave of the tempo.

What it cannot do: it takes one meter (4/4 or 3/4) and one counting of bars for the whole song.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from fourlimb.model import Bar, Beat, Grid

from .beats import USUAL_BPM, USUAL_OCTAVES, Pulse, confidence
from .evidence import FRAMES_PER_S, Evidence, FloatArray, bumps, frames, loudness_share

REACH_S: Final = 0.05
BACKBEAT: Final[dict[int, tuple[tuple[float, ...], tuple[float, ...]]]] = {
    4: ((1.0, -0.6, 0.4, -0.6), (-1.0, 1.0, -0.6, 1.0)),
    3: ((1.2, -0.6, -0.4), (-1.0, 0.6, 0.6)),
}
"""Beats in a bar -> how much a kick, and a snare, on each beat speaks for this counting (ours)."""
THREE_COSTS: Final = 0.12
"""Bars of three are rare on records (common practice): the score that a waltz must win by."""


@dataclass(frozen=True, eq=False)
class Onbeat:
    """What is heard on each beat, every array of shape (n,): kick, snare, crash 0 to 1, downbeat log-odds, change z."""

    kick: FloatArray
    snare: FloatArray
    crash: FloatArray
    downbeat: FloatArray
    change: FloatArray


def find_grid(pulse: Pulse, evidence: Evidence) -> Grid:
    """Bars of the whole song from its beats."""
    pulse = best_octave(pulse, evidence)
    beats_in_bar, phase, sure = count_bars(pulse, evidence)
    return lay_bars(pulse, beats_in_bar, phase, evidence.duration_s, sure=sure)


def best_octave(pulse: Pulse, evidence: Evidence) -> Pulse:
    """The pulse at half, once or twice its speed: whichever has the clearest backbeat at a usual tempo."""
    if len(pulse.times_s) < 8:
        return pulse
    best, best_score = pulse, -np.inf
    for candidate in (pulse, *halved(pulse), doubled(pulse)):
        bpm = 60 / candidate.period_s
        if not 40 <= bpm <= 240 or len(candidate.times_s) < 8:
            continue
        usual = -0.5 * (np.log2(bpm / USUAL_BPM) / USUAL_OCTAVES) ** 2
        _, _, score = _best_counting(_onbeat(candidate, evidence))
        total = score + 0.35 * usual + (0.05 if candidate is pulse else 0.0)
        if total > best_score:
            best, best_score = candidate, total
    return best if best is pulse else Pulse(best.times_s, confidence(best.times_s, evidence))


def halved(pulse: Pulse) -> tuple[Pulse, Pulse]:
    """Every second beat, both ways."""
    return tuple(Pulse(pulse.times_s[k::2], pulse.confidence[k::2]) for k in (0, 1))  # type: ignore[return-value]


def doubled(pulse: Pulse) -> Pulse:
    """A beat more between every two."""
    times, sure = pulse.times_s, pulse.confidence
    if len(times) < 2:
        return pulse
    both = np.empty(2 * len(times) - 1)
    both[::2], both[1::2] = times, (times[1:] + times[:-1]) / 2
    trust = np.empty_like(both)
    trust[::2], trust[1::2] = sure, np.minimum(sure[1:], sure[:-1])
    return Pulse(both, trust)


def count_bars(pulse: Pulse, evidence: Evidence) -> tuple[int, int, float]:
    """Beats in a bar, index of the first downbeat, and how clear the choice is (0 to 1)."""
    if len(pulse.times_s) < 3:
        return 4, 0, 0.0
    onbeat = _onbeat(pulse, evidence)
    beats, phase, score = _best_counting(onbeat)
    others = [s for b, p, s in _countings(onbeat) if (b, p) != (beats, phase)]
    margin = score - max(others, default=score)
    return beats, phase, float(1 - np.exp(-4 * max(margin, 0.0)))


def _best_counting(onbeat: Onbeat) -> tuple[int, int, float]:
    best = (4, 0, -np.inf)
    for beats, phase, score in _countings(onbeat):
        if score > best[2] + 1e-9:
            best = (beats, phase, score)
    return best


def _countings(onbeat: Onbeat) -> list[tuple[int, int, float]]:
    """(beats in a bar, phase, score) of every way to count."""
    ways = []
    for beats, (kick, snare) in BACKBEAT.items():
        for phase in range(beats):
            place = (np.arange(len(onbeat.kick)) - phase) % beats
            one = place == 0
            drums = onbeat.kick * np.array(kick)[place] + onbeat.snare * np.array(snare)[place]
            score = float(drums.mean()) + 0.5 * _contrast(onbeat.crash, one)
            score += 0.3 * _contrast(onbeat.downbeat, one) + 0.08 * _contrast(onbeat.change, one)
            ways.append((beats, phase, score - (THREE_COSTS if beats == 3 else 0.0)))
    return ways


def _contrast(values: FloatArray, chosen: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> float:
    if not chosen.any() or chosen.all():
        return 0.0
    return float(values[chosen].mean() - values[~chosen].mean())


def _onbeat(pulse: Pulse, evidence: Evidence) -> Onbeat:
    count = frames(evidence.duration_s)

    def heard(*sounds: str) -> FloatArray:
        chosen = [h for h in evidence.hits if h.sound in sounds]
        weights = [h.confidence * loudness_share(h.loudness_db) for h in chosen]
        curve = bumps([h.time_s for h in chosen], weights, count)
        reach = round(min(REACH_S, pulse.period_s / 6) * FRAMES_PER_S)
        return np.clip(evidence.near(curve, pulse.times_s, reach), 0, 1)

    down = np.clip(evidence.near(evidence.downbeat, pulse.times_s), 0.01, 0.99)
    change = evidence.near(evidence.change, pulse.times_s, 5)
    spread = float(change.std())
    return Onbeat(
        kick=heard("kick"),
        snare=heard("snare", "rim", "clap"),
        crash=heard("crash", "china"),
        downbeat=np.log(down / (1 - down)),
        change=(change - change.mean()) / spread if spread > 1e-6 else np.zeros(len(change)),
    )


def lay_bars(pulse: Pulse, beats_in_bar: int, phase: int, duration_s: float, *, sure: float = 1.0) -> Grid:
    """A grid that counts `beats_in_bar` from the beat number `phase` on; what stands before it is bar 0."""
    return lay_counted(pulse, [(phase, f"{beats_in_bar}/4")], duration_s, sure=sure)


def lay_counted(pulse: Pulse, counted: list[tuple[int, str]], duration_s: float, *, sure: float = 1.0) -> Grid:
    """A grid from stretches of (index of their first beat, meter); a bar that does not fit before the next is short.

    The pulse is carried on to the end of the song; beats before the first stretch become the pickup, bar 0.
    """
    from fourlimb.model.places import beat_lengths

    times, trust = _carried(pulse, duration_s)
    starts: list[tuple[int, str]] = []
    for number, (first, meter) in enumerate(counted):
        stop = counted[number + 1][0] if number + 1 < len(counted) else len(times)
        size = len(beat_lengths(meter))
        for at in range(first, stop, size):
            left = stop - at
            starts.append((at, meter if left >= size or stop == len(times) else f"{left}/4"))
    return _numbered(times, trust, starts, counted[0][0], sure)


def _carried(pulse: Pulse, duration_s: float) -> tuple[FloatArray, FloatArray]:
    """Beats at the same speed up to the end of the recording (a last bar needs all of its beats)."""
    times, trust = pulse.times_s, pulse.confidence
    gap = float(np.median(np.diff(times[-9:]))) if len(times) > 2 else pulse.period_s
    extra = times[-1] + gap * np.arange(1, max(int((duration_s - times[-1]) / gap), 0) + 1)
    return np.concatenate([times, extra]), np.concatenate([trust, np.full(len(extra), trust[-1] * 0.5)])


def _numbered(times: FloatArray, trust: FloatArray, starts: list[tuple[int, str]], first: int, sure: float) -> Grid:
    from fourlimb.model.places import beat_lengths

    beats: list[Beat] = []
    bars: list[Bar] = []
    gap = float(np.median(np.diff(times))) if len(times) > 1 else 0.5
    lines = ([(0, f"{first}/4", 0)] if first else []) + [(at, m, n) for n, (at, m) in enumerate(starts, start=1)]
    for index, (at, meter, number) in enumerate(lines):
        size = len(beat_lengths(meter))
        stop = min(lines[index + 1][0] if index + 1 < len(lines) else at + size, len(times))
        inside = [float(t) for t in times[at:stop]]
        while len(inside) < size:
            inside.append(inside[-1] + gap)
        end = float(times[stop]) if stop < len(times) else inside[-1] + gap
        bpm = 60 * size / max(end - inside[0], 1e-3)
        bars.append(Bar(bar=number, start_s=round(inside[0], 4), meter=meter, tempo_bpm=round(bpm, 2)))
        for count, time_s in enumerate(inside, start=1):
            known = trust[min(at + count - 1, len(trust) - 1)]
            line = sure if count == 1 else 1.0
            beats.append(
                Beat(
                    time_s=round(time_s, 4),
                    bar=number,
                    beat=count,
                    confidence=round(float(known) * (0.5 + 0.5 * line), 3),
                )
            )
        last = end
    return Grid(beats=tuple(beats), bars=tuple(bars), end_s=round(last, 4))
