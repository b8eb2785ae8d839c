"""One small room: early reflections and a short diffuse tail, different left and right.

The response is sparse noise (random signs at random places) under an exponential decay, high tones dying sooner
("velvet noise" reverberation; Järveläinen & Karjalainen 2007, from memory). Seeded: always the same room.
"""

from functools import lru_cache
from typing import Final

import numpy as np

from ..model import Samples
from .modes import DECAY_60_DB, RATE

T60_S: Final = 0.38
"""Reverberation time: a treated practice room (by ear)."""

FIRST_S: Final = 0.007
"""First reflection."""

DENSITY: Final = 1800
"""Reflections a second."""


def room(send: Samples) -> Samples:
    """What the room gives back of a stereo send; same shape."""
    from scipy.signal import oaconvolve

    back = oaconvolve(send, response(), axes=0)[: len(send)]
    return back.astype(np.float32)


@lru_cache(maxsize=1)
def response() -> Samples:
    """Impulse response of shape (n, 2), energy 1 a channel."""
    from scipy.signal import lfilter

    count = int(T60_S * 1.2 * RATE)
    rng = np.random.default_rng(7)
    at = np.arange(count) / RATE
    taps = np.where(rng.random((count, 2)) < DENSITY / RATE, rng.choice([-1.0, 1.0], (count, 2)), 0.0)
    taps[at < FIRST_S] = 0.0
    taps *= np.exp(-DECAY_60_DB * at / T60_S)[:, None]
    bright = taps * np.exp(-at / 0.08)[:, None]
    dull = lfilter([0.25], [1.0, -0.75], taps, axis=0)
    both = bright * 0.5 + dull
    both = lfilter([1.0, -1.0], [1.0, -0.98], both, axis=0)  # no rumble
    return (both / np.sqrt((both**2).sum(axis=0))).astype(np.float32)
