"""Songs as choices among ways to count, for `bench.ways`: heard in other ways, with the true ways marked.

A song is heard whole and in stretches of it, at its own and other speeds, with strokes missed, added and moved and the
curves paler than they were, so that what is learned does not lean on the few songs and on one set of ears.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import msgspec
import numpy as np

from fourlimb.listen.bars import Counted, candidates
from fourlimb.listen.beats import FASTEST_BPM, SLOWEST_BPM, Pulse
from fourlimb.listen.evidence import Evidence, from_hits
from fourlimb.listen.harmony import CHROMA_FRAMES_PER_S
from fourlimb.model import Hit, Sound
from fourlimb.model.places import is_compound

from .made_songs import misheard
from .playing import Played, felt_bpm

SAME_TEMPO = 0.04
ON_BEAT_S, ON_BEAT = 0.07, 0.175
"""A beat is right within so many seconds, and within this share of a beat (Davies, Degara and Plumbley 2009)."""
MOSTLY = 0.7
SHORTEST_S, LONGEST_S = 12.0, 40.0
SPEEDS = (0.6, 1.6)
SLOWER = (0.4, 1.3)
"""Of compound meters: the set's grooves in three are fast ones, ballads are not."""
FEWEST_HITS = 10
FEWEST_BEATS = 4
WITH_BAND, DEAF = 0.55, 0.85
"""Chances up to which harmony is that of a band, and of the song as it was heard; else nobody listened to it."""
PLAIN = 0.4
"""Share of takes of strokes alone that are heard by plain ears."""
PLAIN_NAMES: dict[Sound, Sound] = {
    "ride": "hat_closed", "ride_bell": "hat_closed", "hat_pedal": "hat_closed", "hat_open": "crash", "rim": "snare",
    "tom_high": "snare", "tom_mid": "snare", "tom_floor": "kick",
}  # fmt: skip
CURVES = ("beat", "downbeat", "change")
NO_HARMONY = np.zeros((0, 12))
STRAYS: tuple[Sound, ...] = (
    "kick", "snare", "hat_closed", "hat_closed", "tom_mid", "crash", "ride", "hat_open",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Choice:
    """All ways to count a take: rows of signs, which are true, how much it counts; the rest is for the report.

    `fast`: which ways have the true tempo; `whole`: the take is a whole song at its own speed.
    """

    rows: np.ndarray
    true: np.ndarray
    weight: float
    kind: str
    session: str
    fast: np.ndarray
    whole: bool


@dataclass(frozen=True, eq=False)
class Take:
    """What was heard of a song: `beat_s` from one true beat to the next, one of them at `first_s`; pulses to try."""

    evidence: Evidence
    speed: float
    beat_s: float
    first_s: float
    pulses: tuple[Pulse, ...]


def takes(song: Played, evidence: Evidence, banded: Evidence, count: int, seed: Sequence[int]) -> Iterator[Take]:
    """The song as it was heard, then stretches of it, every other one at another speed, some as `banded` has them.

    Pulses are looked for once in each song: those of its stretches are parts of them.
    """
    rng = np.random.default_rng(seed)
    beat_s, pulses = 60 / felt_bpm(song), tuple(candidates(evidence))
    yield Take(evidence, 1.0, beat_s, 0.0, pulses)
    for number in range(1, count):
        speed, (low, high) = 1.0, _start(song, rng)
        chance = rng.random()
        source = banded if chance < WITH_BAND else evidence if chance < DEAF else replace(evidence, chroma=NO_HARMONY)
        part = stretch(source, low, high)
        if number % 2 == 0:
            speed = float(np.exp(rng.uniform(*np.log(SLOWER if is_compound(song.meter) else SPEEDS))))
            part = at_speed(part, speed)
        part = spoilt(part, rng)
        if len(part.hits) >= FEWEST_HITS:
            yield Take(part, speed, beat_s / speed, -low / speed, _cut(pulses, low, high, speed))


def _cut(pulses: Sequence[Pulse], low_s: float, high_s: float, speed: float) -> tuple[Pulse, ...]:
    """The part of each pulse that lies in a stretch, at a speed."""
    found = []
    for pulse in pulses:
        times = (pulse.times_s - low_s) / speed
        inside = (times >= 0) & (times < (high_s - low_s + pulse.period_s) / speed)
        part = Pulse(times[inside], pulse.confidence[inside])
        if len(part.times_s) >= FEWEST_BEATS and SLOWEST_BPM <= 60 / part.period_s <= FASTEST_BPM:
            found.append(part)
    return tuple(found)


def struck_takes(song: Played, count: int, seed: Sequence[int]) -> Iterator[Take]:
    """Strokes alone: misheard, at another speed, or exact as a file gives them, in turn."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        low, high = _start(song, rng) if number else (0.0, min(LONGEST_S, song.ends_s))
        speed = float(np.exp(rng.uniform(*np.log(SPEEDS)))) if number % 3 == 1 else 1.0
        inside = [h for h in song.hits if low <= h.time_s < high]
        hits = tuple(msgspec.structs.replace(h, time_s=(h.time_s - low) / speed) for h in inside)
        if len(hits) >= FEWEST_HITS:
            hits = hits if number % 3 == 2 else misheard(hits, int(rng.integers(1 << 30)))
            hits = _plainly(hits, rng) if rng.random() < PLAIN else hits
        if len(hits) >= FEWEST_HITS:
            heard = from_hits(hits, hits[-1].time_s + 0.5)
            yield Take(heard, speed, 60 / felt_bpm(song) / speed, -low / speed, tuple(candidates(heard)))


def _plainly(hits: Sequence[Hit], rng: np.random.Generator) -> tuple[Hit, ...]:
    """As ears name strokes that know kick, snare, hat and crash, and take some hats for crashes."""
    taken = float(rng.uniform(0, 0.6))
    found = []
    for hit in hits:
        sound = PLAIN_NAMES.get(hit.sound, hit.sound)
        sound = "crash" if sound == "hat_closed" and rng.random() < taken else sound
        found.append(msgspec.structs.replace(hit, sound=sound))
    return tuple(found)


def _start(song: Played, rng: np.random.Generator) -> tuple[float, float]:
    length = min(float(rng.uniform(SHORTEST_S, LONGEST_S)), song.ends_s)
    start = float(rng.uniform(0, max(song.ends_s - length, 0)))
    return start, start + length


def stretch(evidence: Evidence, low_s: float, high_s: float) -> Evidence:
    """Part of a song."""
    low, high = int(low_s * 100), int(high_s * 100)
    curves = {name: getattr(evidence, name)[low:high] for name in CURVES}
    inside = (hit for hit in evidence.hits if low_s <= hit.time_s < high_s)
    hits = tuple(msgspec.structs.replace(hit, time_s=hit.time_s - low_s) for hit in inside)
    pitches = evidence.chroma[int(low_s * CHROMA_FRAMES_PER_S) : int(high_s * CHROMA_FRAMES_PER_S)]
    return replace(
        evidence, hits=hits, duration_s=high_s - low_s, starts_s=max(evidence.starts_s - low_s, 0.0),
        ends_s=min(evidence.ends_s, high_s) - low_s, chroma=pitches, **curves,
    )  # fmt: skip


def at_speed(evidence: Evidence, speed: float) -> Evidence:
    """The evidence as if the song had been played faster or slower."""
    at = np.arange(int(len(evidence.beat) / speed)) * speed
    curves = {k: np.interp(at, np.arange(len(evidence.beat)), getattr(evidence, k)) for k in CURVES}
    hits = tuple(msgspec.structs.replace(hit, time_s=hit.time_s / speed) for hit in evidence.hits)
    seconds = {k: getattr(evidence, k) / speed for k in ("duration_s", "starts_s", "ends_s")}
    count = len(evidence.chroma)
    nearest = np.minimum(np.arange(int(count / speed)) * speed, max(count - 1, 0)).astype(int)
    return replace(evidence, hits=hits, chroma=evidence.chroma[nearest], **curves, **seconds)


def spoilt(evidence: Evidence, rng: np.random.Generator) -> Evidence:
    """As worse ears would hear it: strokes missed, added and moved, paler curves."""
    missed = float(rng.uniform(0, 0.2))
    kept = []
    for hit in evidence.hits:
        share = missed * (1.0 if hit.sound in ("kick", "snare") else 1.5) * (1.0 if hit.loudness_db > -12 else 2.0)
        if rng.random() >= share:
            kept.append(_moved(hit, rng))
    kept += [_stray(evidence, rng) for _ in range(rng.poisson(rng.uniform(0, 0.3) * evidence.duration_s))]
    kept.sort(key=lambda hit: hit.time_s)
    paler = float(rng.uniform(0.6, 1.1))
    curves = {name: _paler(getattr(evidence, name), paler) for name in CURVES}
    return replace(evidence, hits=tuple(kept), **curves)


def _moved(hit: Hit, rng: np.random.Generator) -> Hit:
    time_s = max(hit.time_s + float(rng.normal(0, 0.003)), 0.0)
    return msgspec.structs.replace(hit, time_s=time_s, confidence=_sure(hit.confidence * rng.uniform(0.75, 1.05)))


def _stray(evidence: Evidence, rng: np.random.Generator) -> Hit:
    time_s, sound = float(rng.uniform(0, evidence.duration_s)), STRAYS[int(rng.integers(len(STRAYS)))]
    level, sure = -float(rng.uniform(4, 20)), _sure(float(rng.uniform(0.3, 0.8)))
    return Hit(id=0, time_s=time_s, sound=sound, loudness_db=level, confidence=sure)


def _sure(share: float) -> float:
    return float(np.clip(share, 0.3, 0.99))


def _paler(curve: np.ndarray, share: float) -> np.ndarray:
    bounded = np.clip(curve, 0.003, 0.997)
    return np.asarray(1 / (1 + np.exp(-share * np.log(bounded / (1 - bounded)))))


def true_ways(ways: Sequence[Counted], take: Take, meters: set[str]) -> np.ndarray:
    """Which ways are right: tempo, beats and meter; where none is, those of the right tempo and meter, then tempo."""
    tempo = right_tempo(ways, take)
    meter = np.array([way.meter in meters for way in ways])
    beats = tempo & np.array([_on_beats(way, take) for way in ways])
    for right in (beats & meter, tempo & meter):
        if right.any():
            return right
    return tempo


def right_tempo(ways: Sequence[Counted], take: Take) -> np.ndarray:
    """Which ways have the true tempo."""
    return np.array([abs(way.pulse.period_s / take.beat_s - 1) < SAME_TEMPO for way in ways])


def _on_beats(way: Counted, take: Take) -> bool:
    hits, times = take.evidence.hits, way.pulse.times_s
    if not hits:
        return False
    times = times[(times >= hits[0].time_s - 0.1) & (times <= hits[-1].time_s + 0.1)]
    place = (times - take.first_s) / take.beat_s
    off_s = np.abs(place - np.rint(place)) * take.beat_s
    return len(times) > 2 and float((off_s < min(ON_BEAT_S, ON_BEAT * take.beat_s)).mean()) > MOSTLY
