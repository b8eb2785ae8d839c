"""Drum parts from human performances, with fills spliced in and the orchestration changed.

The performed set is large but narrow: one e-kit, ten drummers, no claps, chinas or shakers. Moving a hand from hat to
ride, crash or shaker keeps the human timing and dynamics and gives the rare sounds real contexts.
"""

from dataclasses import replace

import numpy as np

from training.material import Groove
from training.parts import HATS, TOMS, Part, Rng
from training.sounds import INDEX

K, S, RIM, CLAP = (INDEX[n] for n in ("kick", "snare", "rim", "clap"))
HC, HO, HP = HATS
CR, RD, RB, CH, SP = (INDEX[n] for n in ("crash", "ride", "ride_bell", "china", "splash"))

MIN_BPM, MAX_BPM = 45.0, 230.0


def performed(grooves: list[Groove], fills: list[Groove], rng: Rng, n_beats: float) -> Part:
    """At least `n_beats` beats of a performance; tempo, hands and fills changed at random."""
    groove = grooves[int(rng.integers(len(grooves)))]
    quarters_per_bar = groove.numerator * 4 / groove.denominator
    compound = groove.denominator == 8 and groove.numerator % 3 == 0
    felt = 1.5 if compound else 4 / groove.denominator
    rows = _stretch(groove, rng, n_beats * felt, quarters_per_bar)
    if quarters_per_bar == 4 and fills and rng.random() < 0.5:
        rows = _splice(rows, fills, rng)
    tempo = float(np.clip(groove.tempo_bpm * np.exp(rng.normal(-0.05, 0.27)), MIN_BPM, MAX_BPM)) / felt
    part = Part(
        rows[:, 0] / felt,
        rows[:, 1].astype(np.int64),
        np.clip(rows[:, 2], 0.03, 1.0),
        groove.numerator // 3 if compound else groove.numerator,
        max(tempo, MIN_BPM),
        style=groove.style,
    )
    part = reorchestrate(part, rng)
    if rng.random() < 0.15:
        grid = 4 if rng.random() < 0.8 else 3
        part = replace(part, beats=np.round(part.beats * grid) / grid, machine=rng.random() < 0.5)
    return part


def _stretch(groove: Groove, rng: Rng, quarters: float, bar: float) -> np.ndarray:
    """A window of the performance that starts on a bar line, repeated when it is too short."""
    events = groove.events.astype(np.float64)
    total = max(bar, np.ceil((events[-1, 0] + 0.01) / bar) * bar)
    copies = int(np.ceil((quarters + bar) / total)) + 1 if total < quarters + bar else 1
    events = np.concatenate([events + np.array([k * total, 0, 0]) for k in range(copies)])
    last = max(0.0, np.floor((copies * total - quarters) / bar))
    start = float(rng.integers(int(last) + 1)) * bar
    inside = (events[:, 0] >= start - 0.12) & (events[:, 0] < start + quarters)
    rows = events[inside] - np.array([start, 0, 0])
    return rows[np.argsort(rows[:, 0], kind="stable")]


def _splice(rows: np.ndarray, fills: list[Groove], rng: Rng) -> np.ndarray:
    for bar in range(int(rows[-1, 0] // 4) if len(rows) else 0):
        if rng.random() > 0.25:
            continue
        fill = fills[int(rng.integers(len(fills)))].events.astype(np.float64)
        length = min(4.0, np.ceil(fill[-1, 0] + 0.01))
        at = 4 * (bar + 1) - length
        outside = (rows[:, 0] < at - 0.1) | (rows[:, 0] >= at + length - 0.1)
        rows = np.concatenate([rows[outside], fill[fill[:, 0] < length] + np.array([at, 0, 0])])
    return rows[np.argsort(rows[:, 0], kind="stable")]


def reorchestrate(part: Part, rng: Rng) -> Part:
    """Give the time-keeping hand, the backbeat and the toms other sounds."""
    sounds = part.sounds.copy()
    keep = np.ones(len(sounds), bool)
    closed, opened = sounds == HC, sounds == HO
    u = rng.random()
    if u < 0.12:
        sounds[closed] = RD
        keep &= ~(opened & (rng.random(len(sounds)) < 0.7))
    elif u < 0.18:
        sounds[closed] = int(rng.choice([RB, CR, CR, CH]))
    elif u < 0.27:
        sounds[closed] = HO
    elif u < 0.31:
        sounds[closed | opened] = INDEX[str(rng.choice(["shaker", "tambourine", "cowbell"]))]
    elif u < 0.36:
        keep &= ~(closed | opened)
    elif u < 0.40:
        sounds[closed] = INDEX["tom_floor"]
    ride = sounds == RD
    if ride.any() and rng.random() < 0.25:
        sounds[ride] = int(rng.choice([HC, HO, CR, RB]))
    crash = sounds == CR
    u = rng.random()
    if u < 0.2:
        swap = crash & (rng.random(len(sounds)) < 0.6)
        sounds[swap] = CH if u < 0.11 else SP
    u = rng.random()
    if u < 0.06:
        sounds[sounds == S] = RIM
    elif u < 0.09:
        sounds[(sounds == S) & (part.strength > 0.45)] = CLAP
    elif u < 0.105:
        sounds[sounds == S] = int(rng.choice(TOMS[:2]))
    if rng.random() < 0.15:
        keep &= ~((sounds == S) & (part.strength < 0.45))
    if rng.random() < 0.2:
        keep &= ~(sounds == HP)
    if rng.random() < 0.15:
        before = sounds.copy()
        for old, new in zip(TOMS, rng.permutation(TOMS), strict=True):
            sounds[before == old] = new
    return replace(part, sounds=sounds).keep(keep)
