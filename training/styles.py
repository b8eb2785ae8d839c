"""Styles of the written drum parts: each draws one bar as a matrix (steps, sounds) of strengths 0..1.

Electronic, hip-hop, jazz, brush, latin, metal, half-time, odd-metre and one-drop parts are here because the performed
set has few or none of them. Shapes and likelihoods are common practice, no source.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from training.parts import Floats, Rng
from training.sounds import INDEX, SOUNDS

K, S, RIM, CLAP = (INDEX[n] for n in ("kick", "snare", "rim", "clap"))
HC, HO, HP = (INDEX[n] for n in ("hat_closed", "hat_open", "hat_pedal"))
TH, TM, TF = (INDEX[n] for n in ("tom_high", "tom_mid", "tom_floor"))
CR, RD, RB, CH = (INDEX[n] for n in ("crash", "ride", "ride_bell", "china"))
CB, TA, SH = (INDEX[n] for n in ("cowbell", "tambourine", "shaker"))


@dataclass(frozen=True)
class Bar:
    """One bar of a style. `matrix`: shape (steps, 18), strengths; 0 is silence."""

    matrix: Floats
    beats: int
    per_beat: int
    tempo_bpm: float
    swing: float = 0.0
    rolls: float = 0.0
    fills: bool = True
    machine: float = 0.2


def _empty(beats: int, per_beat: int) -> Floats:
    return np.zeros((beats * per_beat, len(SOUNDS)))


def _tempo(rng: Rng, centre: float, octaves: float = 0.3) -> float:
    return float(np.clip(centre * 2 ** rng.normal(0, octaves), 50, 230))


def _kick(m: Floats, rng: Rng, per_beat: int, density: float | None = None) -> None:
    steps = np.arange(len(m))
    density = rng.uniform(0.5, 1.6) if density is None else density
    on, half = steps % per_beat == 0, (steps % per_beat) * 2 == per_beat
    likely = np.where(on, 0.35, np.where(half, 0.28, 0.12))
    if len(m) == 4 * per_beat:
        likely[[per_beat, 3 * per_beat]] *= 0.3
        likely[2 * per_beat] *= 1.6
    m[:, K] = np.maximum(m[:, K], (rng.random(len(m)) < likely * density) * rng.uniform(0.8, 1))
    if rng.random() < 0.93:
        m[0, K] = 1


def _ghosts(m: Floats, rng: Rng, share: float = 0.3) -> None:
    if rng.random() < share:
        put = (rng.random(len(m)) < rng.uniform(0.05, 0.35)) & (m[:, S] == 0)
        m[put, S] = rng.uniform(0.1, 0.4, int(put.sum()))


def _timekeeper(m: Floats, rng: Rng, per_beat: int) -> None:
    sounds = [HC, HO, RD, CR, TF, SH, RB, HP, CH, TA, CB]
    likely = np.array([0.5, 0.1, 0.15, 0.09, 0.03, 0.02, 0.04, 0.02, 0.015, 0.01, 0.01])
    sound = int(rng.choice(sounds, p=likely / likely.sum()))
    if rng.random() < 0.04:
        return
    every = _run(rng, len(m), per_beat)
    steps = np.arange(len(m))
    accents = np.where(steps % per_beat == 0, 1.0, rng.uniform(0.4, 1.0))
    if rng.random() < 0.3:
        accents = np.where((steps % per_beat) * 2 == per_beat, 1.0, rng.uniform(0.45, 0.9))
    m[every, sound] = accents[every] * rng.uniform(0.75, 1)
    if sound == HC and rng.random() < 0.4:
        _open(m, rng, per_beat)
    if sound in (RD, RB, CR, CH) and rng.random() < 0.4:
        m[per_beat :: 2 * per_beat, HP] = rng.uniform(0.5, 0.9)
    if sound == RD and rng.random() < 0.25:
        m[::per_beat, RB] = m[::per_beat, RD]
        m[::per_beat, RD] = 0


def _run(rng: Rng, n: int, per_beat: int) -> npt.NDArray[np.bool_]:
    steps = np.arange(n)
    u = rng.random()
    if per_beat == 3:
        return steps % 3 != 1 if u < 0.4 else (steps >= 0 if u < 0.8 else steps % 3 == 0)
    if per_beat == 2:
        return steps >= 0 if u < 0.8 else steps % 2 == 0
    if u < 0.45:
        return steps % 2 == 0
    if u < 0.65:
        return steps >= 0
    if u < 0.80:
        return steps % 4 == 0
    if u < 0.86:
        return steps % 4 == 2
    return (steps % 2 == 0) | (rng.random(n) < 0.2)


def _open(m: Floats, rng: Rng, per_beat: int) -> None:
    steps = np.arange(len(m))
    which = (rng.random(len(m)) < 0.12) | ((rng.random() < 0.25) & (steps % per_beat == per_beat // 2))
    which &= m[:, HC] > 0
    m[which, HO], m[which, HC] = m[which, HC], 0


def backbeat(rng: Rng) -> Bar:
    """Snare (now and then cross-stick) on 2 and 4, kick where it likes, straight or swung sixteenths."""
    m = _empty(4, 4)
    sound = RIM if rng.random() < 0.1 else S
    m[[4, 12], sound] = 1
    if rng.random() < 0.12:
        m[[2, 6, 10, 14], S] = 1
    _kick(m, rng, 4)
    _ghosts(m, rng)
    _timekeeper(m, rng, 4)
    return Bar(m, 4, 4, _tempo(rng, 116), rng.uniform(0, 0.33) if rng.random() < 0.2 else 0.0)


def half_time(rng: Rng) -> Bar:
    """Snare on 3."""
    m = _empty(4, 4)
    m[8, S] = 1
    _kick(m, rng, 4)
    _ghosts(m, rng, 0.4)
    _timekeeper(m, rng, 4)
    return Bar(m, 4, 4, _tempo(rng, 128), rng.uniform(0, 0.33) if rng.random() < 0.3 else 0.0)


def four_on_the_floor(rng: Rng) -> Bar:
    """Kick on every beat, open hats between."""
    m = _empty(4, 4)
    m[::4, K] = 1
    backing = int(rng.choice([S, CLAP, CLAP, RIM]))
    if rng.random() < 0.85:
        m[[4, 12], backing] = 1
    if backing == CLAP and rng.random() < 0.4:
        m[[4, 12], S] = rng.uniform(0.5, 1)
    if rng.random() < 0.6:
        m[2::4, HO if rng.random() < 0.7 else HC] = rng.uniform(0.7, 1)
    if rng.random() < 0.6:
        m[:, HC] = np.where(m[:, HO] > 0, 0, rng.uniform(0.3, 0.9))
    if rng.random() < 0.25:
        m[:, SH] = np.tile([0.8, 0.5, 1, 0.5], 4)
    if rng.random() < 0.2:
        m[(rng.random(16) < 0.3), CB] = 0.8
    return Bar(m, 4, 4, _tempo(rng, 124, 0.15), rolls=0.15, fills=rng.random() < 0.5, machine=0.75)


def hip_hop(rng: Rng) -> Bar:
    """Sparse low kick, clap or snare, running hats with bursts; half of them at half-time feel."""
    m = _empty(4, 4)
    half = rng.random() < 0.5
    backing = int(rng.choice([S, CLAP, CLAP, RIM]))
    m[[8] if half else [4, 12], backing] = 1
    if rng.random() < 0.35:
        m[[8] if half else [4, 12], int(rng.choice([S, CLAP, RIM]))] = 0.9
    _kick(m, rng, 4, rng.uniform(0.3, 1.0))
    m[:: int(rng.choice([1, 2, 2])), HC] = rng.uniform(0.5, 1)
    if rng.random() < 0.3:
        m[int(rng.integers(16)), HO] = 0.9
    if rng.random() < 0.25:
        m[(rng.random(16) < 0.15), RIM] = rng.uniform(0.4, 0.9)
    if rng.random() < 0.2:
        m[(rng.random(16) < 0.4), SH] = 0.7
    tempo = _tempo(rng, 140 if half else 92, 0.12)
    return Bar(m, 4, 4, tempo, rng.uniform(0, 0.3), rolls=0.5 if half else 0.1, fills=False, machine=0.8)


def breaks(rng: Rng) -> Bar:
    """Syncopated fast breakbeat."""
    m = _empty(4, 4)
    m[[4, 12], S] = 1
    m[[0, 10], K] = 1
    if rng.random() < 0.5:
        m[[7, 9], S] = rng.uniform(0.2, 0.5)
    _kick(m, rng, 4, 0.5)
    m[:: int(rng.choice([1, 2])), int(rng.choice([HC, HC, RD, SH]))] = rng.uniform(0.5, 1)
    return Bar(m, 4, 4, _tempo(rng, 165, 0.1), rolls=0.15, machine=0.6)


def metal(rng: Rng) -> Bar:
    """Running double kick, or both hands and feet at full speed."""
    m = _empty(4, 4)
    time = int(rng.choice([HO, CR, RD, RB, CH, HC]))
    if rng.random() < 0.35:
        m[::2, K] = 1
        m[1::2, S] = rng.uniform(0.6, 1)
        m[::2, time] = 0.9
        if rng.random() < 0.4:
            m[1::2, K] = 0.9
        return Bar(m, 4, 4, _tempo(rng, 190, 0.12), machine=0.3)
    m[:, K] = rng.uniform(0.6, 1) if rng.random() < 0.6 else (rng.random(16) < 0.6) * 0.9
    m[[8] if rng.random() < 0.4 else [4, 12], S] = 1
    m[:: int(rng.choice([2, 4])), time] = 0.9
    return Bar(m, 4, 4, _tempo(rng, 150, 0.25), machine=0.3)


def swing(rng: Rng) -> Bar:
    """Ride pattern in triplets, foot hat on 2 and 4, feathered kick, comping snare; sticks or brushes."""
    m = _empty(4, 3)
    ride = int(rng.choice([RD, RD, RD, RD, HC, SH]))
    m[[0, 3, 5, 6, 9, 11], ride] = np.array([0.8, 1, 0.6, 0.8, 1, 0.6]) * rng.uniform(0.5, 1)
    if rng.random() < 0.3:
        m[[5, 11], ride] *= rng.integers(0, 2, 2)
    if rng.random() < 0.8:
        m[[3, 9], HP] = rng.uniform(0.5, 1)
    if rng.random() < 0.5:
        m[::3, K] = rng.uniform(0.08, 0.3)
    comp = rng.random(12) < rng.uniform(0.05, 0.3)
    m[comp, int(rng.choice([S, S, S, RIM]))] = rng.uniform(0.1, 0.7, int(comp.sum()))
    drop = rng.random(12) < rng.uniform(0, 0.15)
    m[drop, K] = rng.uniform(0.3, 0.9)
    if rng.random() < 0.12:
        m[[3, 9], RIM] = 0.7
    return Bar(m, 4, 3, _tempo(rng, 140, 0.45), fills=rng.random() < 0.5, machine=0.0)


def shuffle(rng: Rng) -> Bar:
    """Triplets with the backbeat on 2 and 4, or on 3, or a slow twelve-eight."""
    m = _empty(4, 3)
    m[[6] if rng.random() < 0.25 else [3, 9], S] = 1
    _kick(m, rng, 3)
    _ghosts(m, rng, 0.4)
    _timekeeper(m, rng, 3)
    return Bar(m, 4, 3, _tempo(rng, 95, 0.35))


def one_drop(rng: Rng) -> Bar:
    """Kick and cross-stick together on 3; hats swung or straight."""
    m = _empty(4, 4)
    m[8, K] = 1
    m[8, RIM if rng.random() < 0.75 else S] = 0.9
    if rng.random() < 0.35:
        m[::4, K] = 0.9
    m[::2, HC] = np.tile([1.0, rng.uniform(0.4, 1)], 4)
    if rng.random() < 0.5:
        m[[3, 7, 11, 15], HC] = rng.uniform(0.3, 0.8)
    if rng.random() < 0.3:
        m[int(rng.choice([2, 6, 14])), HO] = 0.9
    return Bar(m, 4, 4, _tempo(rng, 140 if rng.random() < 0.5 else 75, 0.15), rng.uniform(0, 0.33))


def latin(rng: Rng) -> Bar:
    """Cross-stick or bell patterns over running shaker, hat or ride; kick on 1 and 2& and their kin."""
    m = _empty(4, 4)
    clave = ((0, 3, 6, 10, 12), (0, 3, 7, 10, 12), (2, 4, 8, 11, 14), (0, 4, 6, 10, 12))[int(rng.integers(4))]
    m[list(clave), int(rng.choice([RIM, RIM, CB, RB, S]))] = rng.uniform(0.6, 1)
    m[[0, 3, 8, 11] if rng.random() < 0.6 else [0, 6, 8, 14], K] = rng.uniform(0.5, 1)
    run = int(rng.choice([HC, SH, RD, TA, CB]))
    m[:: int(rng.choice([1, 2, 2])), run] = rng.uniform(0.4, 0.9)
    if rng.random() < 0.4:
        m[[4, 12], HP] = 0.8
    if rng.random() < 0.35:
        m[[12, 14], int(rng.choice([TH, TM, TF]))] = rng.uniform(0.6, 1)
    return Bar(m, 4, 4, _tempo(rng, 108, 0.3), machine=0.15)


def train(rng: Rng) -> Bar:
    """Running snare with moved accents, light kick: country, marching, brushes."""
    m = _empty(4, 4)
    m[:, S] = np.where(np.arange(16) % 4 == 2, rng.uniform(0.6, 1), rng.uniform(0.12, 0.35))
    m[::4, K] = rng.uniform(0.3, 0.9)
    if rng.random() < 0.5:
        m[[4, 12], HP] = 0.7
    return Bar(m, 4, 4, _tempo(rng, 108, 0.25), machine=0.0)


def odd_metre(rng: Rng) -> Bar:
    """Three, five, six or seven beats."""
    beats = int(rng.choice([3, 3, 3, 5, 6, 7]))
    m = _empty(beats, per_beat := (2 if beats >= 6 else 4))
    m[np.unique(rng.choice(np.arange(1, beats), 2)) * per_beat, S] = 1
    _kick(m, rng, per_beat)
    _ghosts(m, rng, 0.2)
    _timekeeper(m, rng, per_beat)
    return Bar(m, beats, per_beat, _tempo(rng, 120 if beats < 6 else 190, 0.3))


def sparse(rng: Rng) -> Bar:
    """Hardly anything: toms and kick, cymbal swells, hand percussion alone."""
    m = _empty(4, 4)
    for sound in rng.choice([K, TF, TM, CR, SH, TA, CLAP, HC, S, RIM, HP], 2, replace=False):
        m[rng.random(16) < rng.uniform(0.08, 0.4), int(sound)] = rng.uniform(0.4, 1)
    m[0, int(rng.choice([K, TF, SH]))] = 0.9
    return Bar(m, 4, 4, _tempo(rng, 100, 0.3), fills=rng.random() < 0.3)


STYLES: dict[str, tuple[Callable[[Rng], Bar], float]] = {
    "backbeat": (backbeat, 0.34),
    "half time": (half_time, 0.09),
    "four on the floor": (four_on_the_floor, 0.09),
    "hip hop": (hip_hop, 0.08),
    "breaks": (breaks, 0.04),
    "metal": (metal, 0.06),
    "swing": (swing, 0.09),
    "shuffle": (shuffle, 0.06),
    "one drop": (one_drop, 0.04),
    "latin": (latin, 0.04),
    "train": (train, 0.02),
    "odd metre": (odd_metre, 0.04),
    "sparse": (sparse, 0.03),
}
"""Every style and its share of the written parts."""
