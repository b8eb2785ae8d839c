"""Cymbals and hats: thin plates with more modes than an ear can count.

Method: a plate's modes lie at about constant density in Hz; the same plate every stroke, struck somewhere else each
time (levels and phases change, frequencies do not). High modes die sooner. A hard blow reaches higher, and its energy
climbs from low bands to high ones in the first tens of milliseconds (Ducceschi & Touzé, DAFx 2015, for the cascade;
here only its outcome is imitated, band by band). The stick's own tick comes first.

It cannot do: the pitch shift of gongs, a hat that closes while it rings (the player of the chart fades it).
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from .modes import RATE, Wave, band, decay, edges, hiss, ring, seconds

CASCADE_HZ: Final = (0.0, 1500.0, 4000.0, 8000.0, 30000.0)
"""Edges of the bands that energy climbs through."""


@dataclass(frozen=True)
class Plate:
    """One cymbal: which plate, its modes, their ring, its colour, and the stick on it.

    `slope_db` is the fall per octave away from `peak_hz`; `reach_hz` the brightness limit of the hardest blow;
    `rise_s` how slowly the high bands come in; `tick` and `splash` the levels of the stick's noise and of the first
    rush.
    """

    number: int
    modes: int
    low_hz: float
    high_hz: float
    length_s: float
    t60_low_s: float
    t60_high_s: float
    peak_hz: float
    slope_db: float
    reach_hz: float
    rise_s: float
    tick: float
    tick_low_hz: float = 3000.0
    tick_s: float = 0.03
    rush: float = 0.0
    rush_s: float = 0.16
    weight: float = 1.0


HAT: Final = Plate(
    number=11, modes=1300, low_hz=330, high_hz=20000, length_s=0.35, t60_low_s=0.26, t60_high_s=0.17,
    peak_hz=12000, slope_db=3.4, reach_hz=21000, rise_s=0.001, tick=0.35, tick_low_hz=5000, tick_s=0.02, rush=0.12,
)  # fmt: skip
HAT_OPEN: Final = replace(
    HAT, length_s=2.2, t60_low_s=2.6, t60_high_s=1.7, rise_s=0.003, tick=1.0, tick_s=0.03, rush=0.4, weight=0.8
)
HAT_PEDAL: Final = replace(
    HAT, length_s=0.3, t60_low_s=0.16, t60_high_s=0.15, peak_hz=10500, rise_s=0.004, tick=0.04, rush=0.1, weight=0.7
)
CRASH: Final = Plate(
    number=21, modes=1700, low_hz=180, high_hz=20000, length_s=3.6, t60_low_s=4.6, t60_high_s=1.9,
    peak_hz=4600, slope_db=2.4, reach_hz=18000, rise_s=0.02, tick=0.12, rush=0.5, rush_s=0.3, weight=1.3,
)  # fmt: skip
RIDE: Final = Plate(
    number=31, modes=1400, low_hz=260, high_hz=20000, length_s=2.8, t60_low_s=4.2, t60_high_s=1.2,
    peak_hz=5200, slope_db=3.0, reach_hz=18000, rise_s=0.002, tick=1.3, tick_low_hz=6500, rush=0.35, weight=0.42,
)  # fmt: skip
CHINA: Final = Plate(
    number=41, modes=1600, low_hz=240, high_hz=19000, length_s=2.6, t60_low_s=2.2, t60_high_s=1.3,
    peak_hz=3300, slope_db=2.0, reach_hz=17000, rise_s=0.012, tick=0.2, rush=0.7, rush_s=0.35, weight=1.2,
)  # fmt: skip
SPLASH: Final = Plate(
    number=51, modes=1100, low_hz=520, high_hz=20000, length_s=1.5, t60_low_s=1.3, t60_high_s=0.75,
    peak_hz=7500, slope_db=2.6, reach_hz=20000, rise_s=0.004, tick=0.25, rush=0.5, rush_s=0.15, weight=1.0,
)  # fmt: skip

BELL_HZ: Final = np.array([640.0, 1105, 1580, 2160, 2810, 3500, 4280, 5100, 6120, 7350, 8800])
BELL_LEVEL: Final = np.array([0.3, 0.55, 0.85, 1.0, 1.0, 0.85, 0.75, 0.65, 0.55, 0.45, 0.35])
BELL_T60: Final = np.array([2.4, 2.6, 2.4, 2.0, 1.7, 1.4, 1.2, 1.0, 0.8, 0.6, 0.45])
"""Modes that stay in a ride's bell (fitted by hand)."""


def plate(spec: Plate, velocity: float, rng: np.random.Generator) -> Wave:
    """One stroke on a cymbal; velocity 0 to 1."""
    body = np.random.default_rng(spec.number)
    hz = np.sort(body.uniform(spec.low_hz, spec.high_hz, spec.modes))
    along = np.log(hz / spec.low_hz) / np.log(spec.high_hz / spec.low_hz)
    t60 = spec.t60_low_s * (spec.t60_high_s / spec.t60_low_s) ** along * np.exp(body.normal(0, 0.3, spec.modes))
    level = _colour(spec, hz, velocity) * np.exp(rng.normal(0, 0.5, spec.modes) + body.normal(0, 0.7, spec.modes))
    phase = rng.uniform(0, 2 * np.pi, spec.modes)
    count = int(spec.length_s * RATE)
    wave = _cascade(spec, hz, level / np.sqrt(spec.modes), t60, phase, count)
    wave += hiss(rng, count, spec.tick_low_hz, 19000) * decay(count, 0.0002, spec.tick_s) * spec.tick * 0.6 * velocity
    if spec.rush:
        rush = hiss(rng, count, spec.peak_hz * 0.6, 18500) * decay(count, 0.0006, spec.rush_s)
        wave += rush * spec.rush * 0.25 * velocity**1.3
    return edges(wave * velocity * spec.weight, 0.0006, 0.12)


def _colour(spec: Plate, hz: Wave, velocity: float) -> Wave:
    """Level of each mode: a hill at the plate's peak, cut off above what the blow reaches."""
    decibels = -spec.slope_db * np.abs(np.log2(hz / spec.peak_hz))
    decibels -= np.maximum(0, np.log2(hz / (spec.reach_hz * (0.35 + 0.65 * velocity)))) * 14
    decibels -= np.maximum(0, (hz - 14000) / 1000) * 1.6
    return np.asarray(10 ** (decibels / 20))


def _cascade(spec: Plate, hz: Wave, level: Wave, t60: Wave, phase: Wave, count: int) -> Wave:
    at = seconds(count)
    wave = np.zeros(count)
    for index, (low, high) in enumerate(pairwise(CASCADE_HZ)):
        inside = (hz >= low) & (hz < high)
        if not inside.any():
            continue
        start = 0.35 if index else 1.0
        entry = 1 - (1 - start) * np.exp(-at / (spec.rise_s * (0.2 + index * 0.5) + 1e-4))
        wave += ring(hz[inside], level[inside], t60[inside], phase[inside], count) * entry
    return wave


def ride(velocity: float, rng: np.random.Generator) -> Wave:
    """Stick tip on the bow: a clear "ping" over a quiet wash."""
    wave = plate(RIDE, velocity, rng)
    body = np.random.default_rng(RIDE.number + 1)
    hz = body.uniform(2600, 9500, 24)
    level = body.uniform(0.2, 1, 24) * 0.05 * velocity
    return wave + edges(ring(hz, level, body.uniform(0.25, 0.9, 24), rng.uniform(0, 6, 24), len(wave)), 0.0005, 0.1)


def ride_bell(velocity: float, rng: np.random.Generator) -> Wave:
    """Shoulder of the stick on the bell."""
    wave = plate(RIDE, velocity * 0.6, rng) * 0.5
    hz = BELL_HZ * (1 + rng.normal(0, 0.0008, len(BELL_HZ)))
    bell = ring(hz, BELL_LEVEL * 0.16 * velocity, BELL_T60, rng.uniform(0, 6, len(hz)), len(wave))
    tick = hiss(rng, len(wave), 6000, 19000) * decay(len(wave), 0.0002, 0.02) * 0.4 * velocity**2
    return wave + edges(bell + tick, 0.0005, 0.1)


def hat_open(velocity: float, rng: np.random.Generator) -> Wave:
    """Hat with the pedal up: the two plates rattle on each other."""
    wave = plate(HAT_OPEN, velocity, rng)
    rattle = band(rng.standard_normal(len(wave)), None, 60)
    return wave * (1 + 0.25 * rattle / np.abs(rattle).max() * decay(len(wave), 0.01, 1.5))
