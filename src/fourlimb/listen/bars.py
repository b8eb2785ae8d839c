"""Which octave of the beat, which meter, and where the one is.

Input: beats and `Evidence`. Output: a `Grid` with numbered bars, a pickup as bar 0.

Method: each beat gets how much kick, snare, crash, downbeat and harmony change is heard on it. A bar of 4 is
believed by its backbeat (kick on 1 and 3, snare on 2 and 4), a bar of 3 by kick on 1 and snare or hats on 2 and 3;
crashes, harmony changes and the ears' own downbeats speak for the one (common practice, no source). The same
score, taken at half, once and double the speed, chooses the octave of the tempo.

What it cannot do: it takes one meter (4/4 or 3/4) and one counting of bars for the whole song.
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from fourlimb.model import Grid

from .beats import USUAL_BPM, USUAL_OCTAVES, Pulse, confidence
from .evidence import FRAMES_PER_S, Evidence, FloatArray, bumps, frames, loudness_share
from .layout import Line, lay

REACH_S: Final = 0.05
BACKBEAT: Final[dict[int, tuple[tuple[float, ...], tuple[float, ...]]]] = {
    4: ((1.0, -0.6, 0.4, -0.6), (-1.0, 1.0, -0.6, 1.0)),
    3: ((1.2, -0.6, -0.4), (-1.0, 0.6, 0.6)),
}
"""Beats in a bar -> how much a kick, and a snare, on each beat speaks for it (ours)."""
THREE_COSTS: Final = 0.12
"""Bars of three are rare on records (common practice): the score that a waltz must win by."""


@dataclass(frozen=True, eq=False)
class Onbeat:
    """What is heard on each beat, shape (n,) each: kick, snare, crash 0 to 1, downbeat log-odds, change z."""

    kick: FloatArray
    snare: FloatArray
    crash: FloatArray
    downbeat: FloatArray
    change: FloatArray


def find_grid(pulse: Pulse, evidence: Evidence) -> Grid:
    """Bars of the whole song from its beats."""
    pulse = best_octave(_from_first_sound(pulse, evidence), evidence)
    beats_in_bar, phase, sure = count_bars(pulse, evidence)
    return lay(pulse, [Line(Fraction(phase), f"{beats_in_bar}/4", sure)], until_s=evidence.ends_s)


def _from_first_sound(pulse: Pulse, evidence: Evidence) -> Pulse:
    """Beats from the last one before anything sounds; one more in front if the song starts between two beats."""
    times, trust = pulse.times_s, pulse.confidence
    first = max(int(np.searchsorted(times, evidence.starts_s + 0.1 * pulse.period_s)) - 1, 0)
    times, trust = times[first:], trust[first:]
    if len(times) and times[0] - evidence.starts_s > 0.15 * pulse.period_s:
        times, trust = np.insert(times, 0, max(times[0] - pulse.period_s, 0.0)), np.insert(trust, 0, trust[0])
    return Pulse(times, trust)


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
    times, trust = pulse.times_s, pulse.confidence
    return Pulse(times[::2], trust[::2]), Pulse(times[1::2], trust[1::2])


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
