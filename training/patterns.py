"""Drum parts written by rule: what the human performances lack.

A style (`styles`) draws one bar; `written` repeats it with small changes, puts fills before section ends and crashes
after them. Likelihoods are common practice, no source.
"""

import numpy as np
import numpy.typing as npt

from training.parts import Floats, Part, Rng
from training.sounds import INDEX
from training.styles import STYLES, Bar

K, S, RIM = (INDEX[n] for n in ("kick", "snare", "rim"))
HC, HO = (INDEX[n] for n in ("hat_closed", "hat_open"))
TH, TM, TF = (INDEX[n] for n in ("tom_high", "tom_mid", "tom_floor"))
CR, RD, RB, CH, SP = (INDEX[n] for n in ("crash", "ride", "ride_bell", "china", "splash"))

FILL_PATHS = (
    (S, TH, TM, TF), (S, S, S, S), (TH, TM, TF, TF), (S, TF, S, TF), (TH, TH, TF, TF),
    (S, S, TM, TF), (TF, TF, TF, TF), (TH, TM, TH, TM), (TH, S, TM, S), (S, TH, S, TF),
)  # fmt: skip


def written(rng: Rng, n_beats: float) -> Part:
    """A part of at least `n_beats` beats in a style drawn at random."""
    names = list(STYLES)
    weights = np.array([STYLES[n][1] for n in names])
    name = names[int(rng.choice(len(names), p=weights / weights.sum()))]
    bar = STYLES[name][0](rng)
    rows = bars(bar, rng, int(np.ceil(n_beats / bar.beats)) + 1)
    machine = rng.random() < bar.machine
    beats, sounds, strength = rows[:, 0], rows[:, 1].astype(np.int64), rows[:, 2]
    if not machine:
        beats = beats + rng.normal(0, rng.uniform(0.001, 0.012), len(beats)) * bar.tempo_bpm / 60
    order = np.argsort(beats, kind="stable")
    return Part(
        beats[order], sounds[order], np.clip(strength[order], 0.03, 1), bar.beats, bar.tempo_bpm, machine, name
    )


def bars(bar: Bar, rng: Rng, n_bars: int) -> Floats:
    """Rows (beat, sound, strength) of all bars, shape (n, 3), bar after bar; within a bar in no order."""
    phrase = int(rng.choice([2, 4, 4, 8, 99]))
    offset = int(rng.integers(8))
    crashes = rng.random() < 0.7
    rows: list[npt.NDArray[np.float64]] = []
    for b in range(n_bars):
        matrix = _varied(bar, rng)
        steps = len(matrix)
        ends = (b + offset) % phrase == phrase - 1 and phrase < 99
        cut = steps
        if bar.fills and ends and rng.random() < 0.85:
            cut = steps - int(rng.choice([max(1, bar.per_beat // 2), bar.per_beat, 2 * bar.per_beat, steps]))
            cut = max(0, cut)
            rows.append(_fill(bar, rng, cut, b))
            keep_kick = matrix[cut:, K] * (rng.random() < 0.4)
            matrix[cut:] = 0
            matrix[cut:, K] = keep_kick
        starts = (b + offset) % phrase == 0 and phrase < 99
        if (crashes and starts and rng.random() < 0.8) or rng.random() < 0.02:
            _crash(matrix, rng)
        rows.append(_rows(matrix, bar, rng, b))
        if bar.rolls and rng.random() < bar.rolls:
            rows.append(_roll(bar, rng, b))
    return np.concatenate(rows)


def _varied(bar: Bar, rng: Rng) -> Floats:
    matrix = bar.matrix.copy()
    steps = len(matrix)
    if rng.random() < 0.25:
        i = int(rng.integers(steps))
        matrix[i, K] = 0 if matrix[i, K] else rng.uniform(0.6, 1)
    if rng.random() < 0.12:
        matrix[int(rng.integers(steps)), S] = rng.uniform(0.1, 0.4)
    if rng.random() < 0.12:
        i = int(rng.integers(steps))
        matrix[i, HO], matrix[i, HC] = matrix[i, HC], 0
    return matrix


def _crash(matrix: Floats, rng: Rng) -> None:
    sound = int(rng.choice([CR, CR, CR, CR, CR, CH, SP]))
    matrix[0, sound] = rng.uniform(0.75, 1)
    if rng.random() < 0.75:
        matrix[0, K] = rng.uniform(0.8, 1)
    if rng.random() < 0.8:
        matrix[0, [HC, HO, RD, RB]] = 0


def _rows(matrix: Floats, bar: Bar, rng: Rng, number: int) -> Floats:
    step, sound = np.nonzero(matrix)
    place = step / bar.per_beat
    if bar.swing and bar.per_beat == 4:
        place = place + np.where(step % 2 == 1, bar.swing / 4, 0)
    elif bar.swing and bar.per_beat == 2:
        place = place + np.where(step % 2 == 1, bar.swing / 2, 0)
    strength = matrix[step, sound] * rng.uniform(0.85, 1, len(step))
    return np.stack([number * bar.beats + place, sound, strength], 1)


def _fill(bar: Bar, rng: Rng, cut: int, number: int) -> Floats:
    path = FILL_PATHS[int(rng.integers(len(FILL_PATHS)))]
    steps = len(bar.matrix)
    dense = rng.uniform(0.5, 1)
    doubled = rng.random() < 0.15
    swell = rng.random() < 0.3
    out = []
    for i in range(cut, steps):
        share = (i - cut) / max(1, steps - cut)
        if i > cut and rng.random() > dense:
            continue
        sound = path[min(3, int(4 * share))]
        strength = rng.uniform(0.55, 1) * (0.5 + 0.5 * share if swell else 1)
        out.append((i, sound, strength))
        if doubled:
            out.append((i + 0.5, sound, strength * rng.uniform(0.5, 0.9)))
        if rng.random() < 0.2:
            out.append((i, K, rng.uniform(0.7, 1)))
        if sound == S and rng.random() < 0.06:
            out.append((i - rng.uniform(0.1, 0.2), S, strength * 0.4))
    rows = np.array(out, np.float64)
    rows[:, 0] = number * bar.beats + rows[:, 0] / bar.per_beat
    return rows


def _roll(bar: Bar, rng: Rng, number: int) -> Floats:
    """A burst of fast hats (32nds or triplets), the electronic habit."""
    n = int(rng.choice([3, 4, 6, 8]))
    length = float(rng.choice([0.5, 0.5, 1.0]))
    at = rng.integers(0, bar.beats * 2) / 2
    sound = int(rng.choice([HC, HC, HC, S, RIM]))
    places = number * bar.beats + at + np.arange(n) * length / n
    return np.stack([places, np.full(n, sound), np.linspace(*rng.uniform(0.4, 1, 2), n)], 1)
