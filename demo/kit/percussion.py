"""What is shaken, clapped or struck beside the kit: clap, cowbell, tambourine, shaker.

Clap: several hands a few milliseconds apart, then a short room. Cowbell: a few plate modes of a folded box.
Tambourine: jingle pairs as high plate modes, shaken a few times by one blow. Shaker: grains, a burst with a soft
rise. Numbers fitted by hand.
"""

from typing import Final

import numpy as np

from .modes import RATE, Wave, band, decay, edges, hiss, ring

JINGLE_MODES: Final = 60
COWBELL_HZ: Final = np.array([562.0, 845, 1345, 1790, 2230, 2930, 3660, 4470, 5600])
COWBELL_LEVEL: Final = np.array([0.8, 1.0, 0.6, 0.6, 0.5, 0.45, 0.4, 0.4, 0.3])
COWBELL_T60: Final = np.array([0.44, 0.42, 0.42, 0.44, 0.42, 0.36, 0.32, 0.28, 0.24])


def clap(velocity: float, rng: np.random.Generator) -> Wave:
    """A few hands together."""
    count = int(0.32 * RATE)
    wave = np.zeros(count)
    for hand in range(4):
        at = int((hand * 0.0075 + rng.uniform(0, 0.002)) * RATE)
        burst = hiss(rng, count - at, 700, 2900, 1) * decay(count - at, 0.0003, 0.022 if hand < 3 else 0.16)
        wave[at:] += burst * (0.6 if hand < 3 else 1.0)
    wave += hiss(rng, count, 3500, 12000, 1) * decay(count, 0.001, 0.14) * 0.16
    return edges(wave * 0.28 * velocity)


def cowbell(velocity: float, rng: np.random.Generator) -> Wave:
    """Stick shoulder on the mouth of the bell."""
    count = int(0.6 * RATE)
    hz = COWBELL_HZ * (1 + rng.normal(0, 0.0015, len(COWBELL_HZ)))
    tilt = np.exp(-hz / (2000 + 5000 * velocity))
    wave = ring(hz, COWBELL_LEVEL * tilt, COWBELL_T60, rng.uniform(0, 1, len(hz)), count)
    wave += hiss(rng, count, 2500, 12000) * decay(count, 0.0002, 0.02) * 0.25 * velocity
    return edges(wave * 0.42 * velocity)


def tambourine(velocity: float, rng: np.random.Generator) -> Wave:
    """Hand on the frame: jingles rattle three or four times."""
    count = int(0.45 * RATE)
    body = np.random.default_rng(61)
    hz = body.uniform(3800, 15500, JINGLE_MODES)
    t60 = body.uniform(0.25, 0.6, JINGLE_MODES)
    wave = np.zeros(count)
    for shake, level in enumerate((1.0, 0.5, 0.35, 0.2)):
        at = int((shake * 0.017 + rng.uniform(0, 0.005) * bool(shake)) * RATE)
        levels = np.exp(rng.normal(0, 0.6, JINGLE_MODES)) * level * 0.1
        wave[at:] += ring(hz, levels, t60, rng.uniform(0, 6.28, JINGLE_MODES), count - at)
    wave += hiss(rng, count, 4000, 16000) * decay(count, 0.0005, 0.1) * 0.2
    wave += hiss(rng, count, 150, 900) * decay(count, 0.0005, 0.05) * 0.12 * velocity
    return edges(wave * 0.42 * velocity)


def shaker(velocity: float, rng: np.random.Generator) -> Wave:
    """One push: grains gather, hit the wall, scatter."""
    count = int(0.24 * RATE)
    grains = np.abs(band(rng.standard_normal(count), None, 400)) + 0.15
    rise = decay(count, 0.016, 0.2)
    wave = hiss(rng, count, 5500, 16000) * rise * grains / grains.mean()
    return edges(wave * 0.16 * velocity, 0.001)
