"""Toms: two heads on one shell, struck with a stick.

Method: the modes of a circular membrane up to some twelve times its fundamental (zeros of the Bessel functions, the
low ones lowered by the air they move), with levels from where the stick lands and from how long it stays (a harder
blow stays shorter and is brighter). Two heads with air between them share every mode: moving against each other they
throw their sound out at once, moving together they keep it. So each mode dies in two stages, fast and then slowly;
the fundamental's fast twin lies higher. A stretched head starts sharp and glides down. (Rossing, *Science of
Percussion Instruments*, and Fletcher & Rossing, *The Physics of Musical Instruments*, from memory, for the physics.)

The numbers of `HEADS` are fitted by random search to medians of recorded single strokes of eight open kits, hard
blows and soft ones, statistics only: energy in 13 bands (7 of them multiples of the fundamental) and five windows up
to 0.4 s, the glide in two windows, and when the stroke has fallen by 10, 20 and 30 dB.

It cannot do: rims, heads that buzz, a tom that hums along with another.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from .modes import DECAY_60_DB, RATE, Wave, decay, edges, hiss, seconds

HIGHEST_ZERO: Final = 24.0
"""Modes up to this zero, 62 of them; above, the stick's noise stands for all others."""

FITTED_AT: Final = 105 / 127
"""Velocity of the hard blows; the soft ones were 60."""


@dataclass(frozen=True)
class Tom:
    """One drum: where its pitch settles, and how long its fundamental rings once the fast stage is over."""

    hz: float
    t60_s: float


@dataclass(frozen=True)
class Heads:
    """What all toms of the kit share; levels are shares of the loudest mode's.

    `load`: how much air lowers the fundamental. `twin`: the fundamental's fast twin against it. `damping`: T60 falls
    with a mode's ratio to this power. `keeps`: share of a mode that dies slowly. `rise_s`: time in which a mode comes
    up. `bright_hz`: where the blow's spectrum begins to fall (on a fundamental of 110 Hz, hard); `brighter`: power of
    the velocity by which it moves; `slope`: how steeply it falls. `struck_at`: 0 middle, 1 edge. `glide`: of a
    hard blow, share of the pitch. `stick`, `tick`, `air`: noise, low, high and of the air in the shell.
    """

    load: float = 0.213
    twin: float = 1.9
    fundamental: float = 1.62
    fundamental_keeps: float = 0.424
    keeps: float = 0.165
    damping: float = 0.252
    fast_t60_s: float = 0.157
    fast_damping: float = 1.03
    fundamental_rise_s: float = 0.00321
    rise_s: float = 0.00248
    bright_hz: float = 613
    brighter: float = 0.0743
    slope: float = 1.19
    struck_at: float = 0.187
    glide: float = 0.338
    glide_s: float = 0.0736
    glide_power: float = 0.5
    stick: float = 0.332
    stick_t60_s: float = 0.052
    tick: float = 0.197
    tick_t60_s: float = 0.0421
    noise_power: float = 1.36
    air: float = 0.05
    air_t60_s: float = 0.445


HEADS: Final = Heads()

HIGH: Final = Tom(hz=164.8, t60_s=0.93)
MID: Final = Tom(hz=123.5, t60_s=1.18)
FLOOR: Final = Tom(hz=82.4, t60_s=1.21)
"""Tuned a fourth and a fifth apart (E, B, E; common practice, no source). Recorded ones of the eight kits settle at
93 to 192, 88 to 146 and 62 to 112 Hz, in the middle 142, 115 and 76."""

SPREAD: Final = 0.12
OTHER_LEVELS: Final = 0.15
DETUNED: Final = 0.003
"""From stroke to stroke: where the stick lands (share of `struck_at`), levels of modes (log), pitches (ours)."""

DYING_SHARE: Final = 1.2
"""A mode is computed for this many of its T60."""


def tom(drum: Tom, velocity: float, rng: np.random.Generator) -> Wave:
    """Stick on an open tom; velocity 0 to 1."""
    count = int((drum.t60_s + 0.35) * RATE)
    wave = _membrane(drum, velocity, rng, count)
    hard = (velocity / FITTED_AT) ** HEADS.noise_power
    wave += hiss(rng, count, 800, 4000, 1) * decay(count, 0.0004, HEADS.stick_t60_s) * HEADS.stick * hard
    wave += hiss(rng, count, 3000, 6500) * decay(count, 0.0003, HEADS.tick_t60_s) * HEADS.tick * hard
    wave += hiss(rng, count, 100, 900, 1) * decay(count, 0.001, HEADS.air_t60_s) * HEADS.air
    return edges(wave * velocity)


def _membrane(drum: Tom, velocity: float, rng: np.random.Generator, count: int) -> Wave:
    ratio, level = _modes(drum, velocity, HEADS.struck_at * (1 + rng.normal(0, SPREAD)))
    level[1:] *= np.exp(rng.normal(0, OTHER_LEVELS, len(level) - 1))
    hz = drum.hz * ratio
    hz[1:] *= 1 + rng.normal(0, DETUNED, len(hz) - 1)
    phase = rng.uniform(-0.4, 0.4, len(hz))
    slow, fast = drum.t60_s * ratio**-HEADS.damping, HEADS.fast_t60_s * ratio**-HEADS.fast_damping
    at = seconds(count)
    glide = HEADS.glide * (velocity / FITTED_AT) ** HEADS.glide_power
    turns = 2 * np.pi * np.cumsum(1 + glide * np.exp(-at / HEADS.glide_s)) / RATE
    kept = np.sin(hz[0] * turns) * _fall(at, slow[0]) * (1 - np.exp(-at / HEADS.fundamental_rise_s))
    thrown = np.sin(hz[0] * HEADS.twin * turns) * _fall(at, fast[0])
    wave = level[0] * (HEADS.fundamental_keeps * kept + (1 - HEADS.fundamental_keeps) * thrown)
    for mode in range(1, len(hz)):
        end = min(count, int(max(slow[mode], fast[mode]) * DYING_SHARE * RATE))
        now = at[:end]
        falls = HEADS.keeps * _fall(now, slow[mode]) + (1 - HEADS.keeps) * _fall(now, fast[mode])
        rises = 1 - np.exp(-now * ratio[mode] / (HEADS.rise_s * ratio[1]))
        wave[:end] += level[mode] * np.sin(hz[mode] * turns[:end] + phase[mode]) * falls * rises
    return wave


def _modes(drum: Tom, velocity: float, struck_at: float) -> tuple[Wave, Wave]:
    """Ratio to the fundamental and level of each mode, lowest first."""
    from scipy.special import jn_zeros, jv

    found = sorted((float(zero), m) for m in range(14) for zero in jn_zeros(m, 8) if zero < HIGHEST_ZERO)
    zeros, diameters = np.array([zero for zero, _ in found]), np.array([m for _, m in found])
    loaded = zeros * (1 - HEADS.load * zeros[0] / zeros)
    ratio = loaded / loaded[0]
    hard = (0.3 + 0.7 * velocity / FITTED_AT) ** HEADS.brighter
    bright = HEADS.bright_hz * np.sqrt(drum.hz / 110) * hard
    level = np.abs(jv(diameters, zeros * struck_at)) / (1 + (drum.hz * ratio / bright) ** 2) ** HEADS.slope
    level /= level.max()
    level[0] *= HEADS.fundamental
    return ratio, level


def _fall(at: Wave, t60_s: float) -> Wave:
    return np.exp(-DECAY_60_DB * at / t60_s)
