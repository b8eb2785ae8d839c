"""How much of a sound the ears hear at a moment, whether or not they called it a stroke.

For `mark`: a written stroke that was not heard may have left a trace in the curves, and was then played.
"""

from collections.abc import Callable
from typing import Final

import numpy as np

from fourlimb.model import SOUNDS, Sound
from fourlimb.model.sounds import INSTRUMENT, ORDER

from .ears import Heard

REACH_S: Final = 0.04
"""How far from a moment a curve may peak (as in `bench.unheard`, which measures what heights mean)."""

SAME: Final[dict[Sound, list[int]]] = {
    sound: [ORDER[other] for other in SOUNDS if INSTRUMENT[other] == INSTRUMENT[sound]] for sound in SOUNDS
}
"""Columns of the sounds of one instrument: an open hat leaves its trace in the closed one's curve."""


def heights(heard: Heard) -> Callable[[Sound, float], float] | None:
    """(sound, second) -> highest point near it of the curves of the sound's instrument, 0 to 1.

    None where the detector has no curves.
    """
    curves = heard.activations
    if curves is None:
        return None

    def height(sound: Sound, time_s: float) -> float:
        low = max(int((time_s - REACH_S) * heard.frames_per_s), 0)
        high = max(int((time_s + REACH_S) * heard.frames_per_s) + 2, 0)
        near = curves[low:high, SAME[sound]]
        return float(np.max(near, initial=0.0))

    return height
