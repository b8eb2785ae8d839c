"""One small room: early reflections and a short diffuse tail, different left and right.

The response is sparse noise (random signs at random places) under an exponential decay, high tones dying sooner
("velvet noise" reverberation; Järveläinen & Karjalainen 2007, from memory). Seeded: always the same room.
"""

from functools import lru_cache
from typing import Final

import numpy as np

from ..model import Samples
from .filters import convolve
from .kit import DECAY_60_DB, RATE

T60_S: Final = 0.38
"""Reverberation time: a treated practice room (by ear)."""

FIRST_S: Final = 0.007
"""First reflection."""

DENSITY: Final = 1800
"""Reflections a second."""

BRIGHT_S: Final = 0.08
DULL_HZ: Final = 2600.0
RUMBLE_HZ: Final = 140.0
"""How long the reflections stay bright; what the walls leave of the rest (by ear)."""


def room(send: Samples) -> Samples:
    """What the room gives back of a stereo send; same shape."""
    heard = response()
    back = np.empty(send.shape, dtype=np.float32)
    for side in range(2):
        back[:, side] = convolve(send[:, side], heard[:, side])
    return back


@lru_cache(maxsize=1)
def response() -> Samples:
    """Impulse response of shape (n, 2), energy 1 a channel."""
    count = int(T60_S * 1.2 * RATE)
    rng = np.random.default_rng(7)
    at = np.arange(count) / RATE
    taps = np.where(rng.random((count, 2)) < DENSITY / RATE, rng.choice([-1.0, 1.0], (count, 2)), 0.0)
    taps[at < FIRST_S] = 0.0
    taps *= np.exp(-DECAY_60_DB * at / T60_S)[:, None]
    tilt = np.fft.rfftfreq(2 * count, 1 / RATE)
    colour = 1 / (1 + 1j * tilt / DULL_HZ) * (1j * tilt / RUMBLE_HZ) / (1 + 1j * tilt / RUMBLE_HZ)
    dull = np.fft.irfft(np.fft.rfft(taps, 2 * count, axis=0) * colour[:, None], 2 * count, axis=0)[:count]
    both = taps * np.exp(-at / BRIGHT_S)[:, None] * 0.25 + dull
    return np.asarray(both / np.sqrt((both**2).sum(axis=0)), dtype=np.float32)
