"""Cymbals and hats: thin plates with more modes than an ear can count.

Method: a plate's modes lie at about constant density in Hz; the same plate every stroke, struck somewhere else each
time (levels and phases change, frequencies do not). High modes die sooner. A hard blow reaches higher, and its energy
climbs from low bands to high ones in the first tens of milliseconds (Ducceschi & Touzé, DAFx 2015, for the cascade;
here only its outcome is imitated, band by band). The stick's own tick comes first.

It cannot do: the pitch shift of gongs, a hat that closes while it rings (the player of the chart fades it).
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from .modes import RATE, Wave, band, decay, edges, hiss, ring, seconds

LONG_FADE: Final = 0.35
"""Share of a stroke's length that its end is faded over: files stay small, nothing is heard to stop."""

CASCADE_HZ: Final = (0.0, 1500.0, 4000.0, 8000.0, 30000.0)
"""Edges of the bands that energy climbs through."""


@dataclass(frozen=True)
class Plate:
    """One cymbal: which plate, its modes, their ring, its colour, and the stick on it.

    `slope_db` is the fall per octave above `peak_hz`, `slope_low_db` below it (None: the same); `reach_hz` the
    brightness limit of the hardest blow; `rise_s` how slowly the high bands come in; `tick` and `rush` the levels
    of the stick's noise and of the first rush; `bend` over 1 keeps the long ring of the lows further up.
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
    slope_low_db: float | None = None
    bend: float = 1.0


HAT: Final = Plate(
    number=11,
    modes=1300,
    low_hz=330,
    high_hz=20000,
    length_s=0.45,
    reach_hz=21000,
    weight=1,
    t60_low_s=0.306,
    t60_high_s=0.14,
    peak_hz=12000,
    slope_db=6.85,
    slope_low_db=2.7,
    rise_s=0.00192,
    tick=0.88,
    tick_low_hz=3250,
    tick_s=0.0605,
    rush=0.115,
    rush_s=0.0954,
    bend=1.68,
)
HAT_OPEN: Final = Plate(
    number=11,
    modes=1300,
    low_hz=330,
    high_hz=20000,
    length_s=2.2,
    reach_hz=21000,
    weight=0.8,
    t60_low_s=2.94,
    t60_high_s=0.818,
    peak_hz=8190,
    slope_db=6.51,
    slope_low_db=1.75,
    rise_s=0.00346,
    tick=1.5,
    tick_low_hz=5000,
    tick_s=0.0637,
    rush=0.208,
    rush_s=0.122,
    bend=0.951,
)
HAT_PEDAL: Final = Plate(
    number=11,
    modes=1300,
    low_hz=330,
    high_hz=20000,
    length_s=0.4,
    reach_hz=21000,
    weight=0.7,
    t60_low_s=0.362,
    t60_high_s=0.0914,
    peak_hz=10800,
    slope_db=5.25,
    slope_low_db=1.87,
    rise_s=0.00904,
    tick=0.065,
    tick_low_hz=4260,
    tick_s=0.0417,
    rush=0.0541,
    rush_s=0.0866,
    bend=0.784,
)
CRASH: Final = Plate(
    number=21,
    modes=1700,
    low_hz=180,
    high_hz=20000,
    length_s=3.4,
    reach_hz=18000,
    weight=1.3,
    t60_low_s=5.2,
    t60_high_s=1.36,
    peak_hz=4600,
    slope_db=6.97,
    slope_low_db=2.02,
    rise_s=0.0223,
    tick=0.136,
    tick_low_hz=5420,
    tick_s=0.0687,
    rush=0.342,
    rush_s=0.422,
    bend=0.467,
)
# darker and with less noise than the fit below gave: there the ping drowned in the wash and was taken for an open hat
RIDE: Final = Plate(
    number=31,
    modes=1400,
    low_hz=260,
    high_hz=20000,
    length_s=2.6,
    reach_hz=18000,
    weight=0.6,
    t60_low_s=6.5,
    t60_high_s=0.174,
    peak_hz=17000,
    slope_db=6,
    slope_low_db=1.81,
    rise_s=0.00117,
    tick=1.33,
    tick_low_hz=7850,
    tick_s=0.0514,
    rush=0.066,
    rush_s=0.133,
    bend=3.6,
)
BODY_HZ: Final = (230.0, 760.0)
"""Where the low ring of a ride lies. Fitted, with the plate, to medians of recorded rides of five kits: energy in 9
bands and three windows, and how it falls (statistics only). Separate modes for the ping made it a bell."""

CHINA: Final = Plate(
    number=41,
    modes=1600,
    low_hz=240,
    high_hz=19000,
    length_s=2.4,
    reach_hz=17000,
    weight=1.2,
    t60_low_s=2.59,
    t60_high_s=0.893,
    peak_hz=3300,
    slope_db=5.81,
    slope_low_db=1.03,
    rise_s=0.0193,
    tick=0.255,
    tick_low_hz=3000,
    tick_s=0.056,
    rush=0.273,
    rush_s=0.313,
    bend=1.08,
)
SPLASH: Final = Plate(
    number=51,
    modes=1100,
    low_hz=520,
    high_hz=20000,
    length_s=1.5,
    reach_hz=20000,
    weight=1,
    t60_low_s=1.53,
    t60_high_s=1.22,
    peak_hz=5120,
    slope_db=5.76,
    slope_low_db=2.19,
    rise_s=0.00475,
    tick=0.559,
    tick_low_hz=4400,
    tick_s=0.0748,
    rush=0.933,
    rush_s=0.394,
    bend=1.3,
)
"""Fitted by random search to medians of recorded single strokes, statistics only.

Centroid in four windows, ring and level in five bands, crest; 3 to 13 kits a sound, all open recordings.
"""

BELL_HZ: Final = np.array([640.0, 1105, 1580, 2160, 2810, 3500, 4280, 5100, 6120, 7350, 8800])
BELL_LEVEL: Final = np.array([0.2, 0.4, 0.7, 0.95, 1.0, 0.9, 0.85, 0.85, 0.75, 0.65, 0.5])
BELL_T60: Final = np.array([4.6, 4.8, 4.8, 4.4, 3.6, 2.9, 2.4, 2.0, 1.6, 1.2, 0.8])
"""Modes that stay in a ride's bell (fitted by hand)."""


def plate(spec: Plate, velocity: float, rng: np.random.Generator) -> Wave:
    """One stroke on a cymbal; velocity 0 to 1."""
    body = np.random.default_rng(spec.number)
    hz = np.sort(body.uniform(spec.low_hz, spec.high_hz, spec.modes))
    along = np.log(hz / spec.low_hz) / np.log(spec.high_hz / spec.low_hz)
    t60 = (
        spec.t60_low_s
        * (spec.t60_high_s / spec.t60_low_s) ** along**spec.bend
        * np.exp(body.normal(0, 0.3, spec.modes))
    )
    level = _colour(spec, hz, velocity) * np.exp(rng.normal(0, 0.5, spec.modes) + body.normal(0, 0.7, spec.modes))
    phase = rng.uniform(0, 2 * np.pi, spec.modes)
    count = int(spec.length_s * RATE)
    wave = _cascade(spec, hz, level / np.sqrt(spec.modes), t60, phase, count)
    wave += hiss(rng, count, spec.tick_low_hz, 19000) * decay(count, 0.0002, spec.tick_s) * spec.tick * 0.6 * velocity
    if spec.rush:
        rush = hiss(rng, count, spec.peak_hz * 0.6, 18500) * decay(count, 0.0006, spec.rush_s)
        wave += rush * spec.rush * 0.25 * velocity**1.3
    return edges(wave * velocity * spec.weight, 0.0006, spec.length_s * LONG_FADE)


def _colour(spec: Plate, hz: Wave, velocity: float) -> Wave:
    """Level of each mode: a hill at the plate's peak, cut off above what the blow reaches."""
    away = np.log2(hz / spec.peak_hz)
    below = spec.slope_db if spec.slope_low_db is None else spec.slope_low_db
    decibels = -np.where(away > 0, spec.slope_db * away, -below * away)
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
    """Stick tip on the bow: the plate's own ping, a quiet wash, and a low ring under it."""
    wave = plate(RIDE, velocity, rng)
    body = np.random.default_rng(RIDE.number + 1)
    hz, level = body.uniform(*BODY_HZ, 9), body.uniform(0.3, 1, 9) * 0.09 * velocity
    low = ring(hz, level, body.uniform(0.9, 2.3, 9), rng.uniform(0, 6, 9), len(wave))
    return wave + edges(low, 0.0005, 0.1)


def ride_bell(velocity: float, rng: np.random.Generator) -> Wave:
    """Shoulder of the stick on the bell."""
    wave = plate(RIDE, velocity * 0.6, rng) * 0.5
    hz = BELL_HZ * (1 + rng.normal(0, 0.0008, len(BELL_HZ)))
    bell = ring(hz, BELL_LEVEL * 0.16 * velocity, BELL_T60, rng.uniform(0, 6, len(hz)), len(wave))
    tick = hiss(rng, len(wave), 6000, 19000) * decay(len(wave), 0.0002, 0.02) * 0.75 * velocity**2
    return wave + edges(bell + tick, 0.0005, 0.1)


def hat_open(velocity: float, rng: np.random.Generator) -> Wave:
    """Hat with the pedal up: the two plates rattle on each other."""
    wave = plate(HAT_OPEN, velocity, rng)
    rattle = band(rng.standard_normal(len(wave)), None, 60)
    return wave * (1 + 0.25 * rattle / np.abs(rattle).max() * decay(len(wave), 0.01, 1.5))
