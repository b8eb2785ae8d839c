"""Drums with a head: kick, snare, cross-stick (toms stand in `toms`).

Method: a circular membrane's modes (zeros of the Bessel functions), low ones lowered by the air they move, amplitudes
from where it is struck, a contact time that shortens with the blow (harder is brighter), and a pitch that starts high
while the head is stretched and glides down (Fletcher & Rossing, *The Physics of Musical Instruments*; Avanzini &
Marogna, IEEE TASLP 18(4) 2010; both for the physics, the numbers here are fitted by hand to recorded drums, those of
the cross-stick by search). A snare adds the wires as noise bands that start when the sound has reached the lower
head.

It cannot do: rim shots that change with the place struck, sympathetic buzz of the snare under toms.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from .modes import RATE, Wave, decay, drive, edges, hiss, ring, seconds

MODES: Final = ((0, 1), (1, 1), (2, 1), (0, 2), (3, 1), (1, 2), (4, 1), (2, 2), (0, 3), (5, 1), (3, 2), (6, 1))
"""Membrane modes (nodal diameters, nodal circles) in order of frequency."""

ZEROS: Final = np.array([2.405, 3.832, 5.136, 5.520, 6.380, 7.016, 7.588, 8.417, 8.654, 8.771, 9.761, 9.936])
"""Zeros of the Bessel functions for `MODES` (any mathematical handbook)."""

AIR_LOAD: Final = np.array([0.80, 0.90, 0.94, 0.93, 0.96, 0.96, 0.97, 0.98, 0.98, 0.98, 0.98, 0.98])
"""How much the air lowers each mode: the lowest most (direction from Rossing, values fitted by hand)."""


@dataclass(frozen=True)
class Head:
    """One head: fundamental, ring of the fundamental, where struck (0 middle, 1 edge), glide as share of pitch."""

    hz: float
    t60_s: float
    struck_at: float
    glide: float
    glide_s: float
    damping: float
    contact_s: float


def membrane(head: Head, velocity: float, rng: np.random.Generator, count: int) -> Wave:
    """A struck head without stick noise; velocity 0 to 1."""
    from scipy.special import jv

    ratio = ZEROS * AIR_LOAD / (ZEROS[0] * AIR_LOAD[0])
    hz = head.hz * ratio * (1 + rng.normal(0, 0.004, len(ratio)))
    shape = np.array([abs(jv(m, zero * head.struck_at)) for (m, _), zero in zip(MODES, ZEROS, strict=True)])
    contact = head.contact_s * (1.5 - velocity)
    level = shape * np.exp(-1.2 * (hz * contact) ** 2)
    t60 = head.t60_s / ratio**head.damping
    at = seconds(count)
    turns = 2 * np.pi * np.cumsum(1 + head.glide * velocity**1.5 * np.exp(-at / head.glide_s)) / RATE
    phase = np.concatenate([[0.0], rng.uniform(-0.3, 0.3, len(hz) - 1)])
    wave = np.zeros(count)
    for mode in range(len(hz)):
        wave += level[mode] * np.sin(hz[mode] * turns + phase[mode]) * np.exp(-6.908 * at / t60[mode])
    return wave


KICK: Final = Head(hz=53, t60_s=0.42, struck_at=0.12, glide=1.0, glide_s=0.026, damping=0.8, contact_s=0.004)

KNOCK_HZ: Final = np.array([210.0, 330, 470, 760, 1150, 1900])
"""Resonances of the kick's beater head above the fundamental (fitted by hand)."""


def kick(velocity: float, rng: np.random.Generator) -> Wave:
    """Felt beater on a damped head."""
    count = int(0.75 * RATE)
    wave = membrane(KICK, velocity, rng, count)
    wave += hiss(rng, count, 60, 400) * decay(count, 0.001, 0.2) * 0.10
    wave += hiss(rng, count, 1500, 6500, 1) * decay(count, 0.0006, 0.026) * 0.24 * velocity**1.6
    level = np.array([0.5, 0.42, 0.35, 0.3, 0.22, 0.16]) * velocity * 0.3
    wave += ring(KNOCK_HZ, level, np.array([0.2, 0.17, 0.15, 0.12, 0.1, 0.08]), rng.uniform(0, 1, 6), count)
    return edges(drive(wave * 0.9 * velocity**0.8, 0.8))


SNARE_HZ: Final = np.array([186.0, 282, 332, 345, 405, 448, 513, 565, 640, 710, 790, 880, 960, 1060, 1190, 1340])
SNARE_T60: Final = np.array(
    [0.36, 0.34, 0.32, 0.34, 0.33, 0.32, 0.3, 0.28, 0.26, 0.24, 0.22, 0.2, 0.19, 0.18, 0.17, 0.16]
)
"""Modes of a 14-inch snare with both heads coupled (186 and 332 Hz are the pair; fitted by hand)."""

WIRE_DELAY_S: Final = 0.0012
"""Time for the blow to reach the lower head and its wires."""


def snare(velocity: float, rng: np.random.Generator) -> Wave:
    """Stick on the head, wires on."""
    count = int(0.6 * RATE)
    hz = SNARE_HZ * (1 + rng.normal(0, 0.004, len(SNARE_HZ)))
    level = np.linspace(1, 0.25, len(hz)) ** 1.5 * np.exp(-hz / (900 + 2500 * velocity)) * 0.9
    at = seconds(count)
    turns = 2 * np.pi * np.cumsum(1 + 0.06 * velocity * np.exp(-at / 0.02)) / RATE
    wave = np.zeros(count)
    for mode, f in enumerate(hz):
        wave += level[mode] * np.sin(f * turns + rng.uniform(0, 0.6)) * np.exp(-6.908 * at / SNARE_T60[mode])
    wave += hiss(rng, count, 900, 9000, 1) * decay(count, 0.0002, 0.014) * 0.36 * (0.4 + 0.8 * velocity)
    wave += wires(velocity, rng, count)
    return edges(drive(wave * 0.6 * velocity, 0.8))


def wires(velocity: float, rng: np.random.Generator, count: int) -> Wave:
    """Snare wires: three noise bands, shaken by the head's own lowest mode at first."""
    low = hiss(rng, count, 450, 2600, 1) * decay(count, 0.004, 0.46) * 0.34
    middle = hiss(rng, count, 2200, 6500, 1) * decay(count, 0.005, 0.42) * 0.22
    high = hiss(rng, count, 6500, 13000, 1) * decay(count, 0.005, 0.34) * 0.075 * (0.5 + 0.7 * velocity)
    at = seconds(count)
    shaken = (low + middle + high) * (0.75 + 0.25 * np.sin(2 * np.pi * 186 * at + 1) * np.exp(-at / 0.05))
    delay = int(WIRE_DELAY_S * RATE)
    return np.concatenate([np.zeros(delay), shaken[:-delay]]) * (0.5 + velocity**0.6)


STICK_MODES: Final = 64
STICK_AT_HZ: Final = np.array([180.0, 350, 700, 1400, 2800, 5600, 11000])
STICK_DB: Final = np.array([-10.4, -6.5, -11.9, -3.9, -11.7, -7.6, -37.0])
STICK_T60: Final = ((0.257, 0.008), (0.25, 0.357))
STICK_KEEPS: Final = (0.303, 0.54)
"""Head, shell, rim and stick of a cross-stick as one crowd of modes from 170 Hz to 12 kHz: their level in dB at seven
frequencies; fast and slow T60, and the share that dies slowly, at the lowest and the highest of these.

Fitted by random search to medians of recorded cross-sticks of six sources (16 drums): energy in 13 bands and five
windows up to 0.2 s, how it falls, how much of it is tone; statistics only."""


def rim(velocity: float, rng: np.random.Generator) -> Wave:
    """Cross-stick: the stick lies on the head and its shoulder strikes the rim."""
    count = int(0.5 * RATE)
    body = np.random.default_rng(71)
    hz = np.sort(np.exp(body.uniform(np.log(170), np.log(12000), STICK_MODES)))
    own = np.exp(body.normal(0, 0.6, STICK_MODES) + rng.normal(0, 0.25, STICK_MODES)) * 3 / np.sqrt(STICK_MODES)
    low, high = np.log(STICK_AT_HZ[[0, -1]])
    along = (np.log(hz) - low) / (high - low)
    level = own * 10 ** (np.interp(np.log(hz), np.log(STICK_AT_HZ), STICK_DB) / 20) * velocity ** (0.5 * along)
    fast, slow = (first * (last / first) ** along for first, last in STICK_T60)
    keeps = STICK_KEEPS[0] + (STICK_KEEPS[1] - STICK_KEEPS[0]) * along
    phase = rng.uniform(0, 2 * np.pi, STICK_MODES)
    hz = hz * (1 + rng.normal(0, 0.003, STICK_MODES))
    wave = ring(hz, level * keeps, slow, phase, count) + ring(hz, level * (1 - keeps), fast, phase, count)
    wave += hiss(rng, count, 600, 9000, 1) * decay(count, 0.0006, 0.4) * 0.058
    return edges(wave * velocity)
