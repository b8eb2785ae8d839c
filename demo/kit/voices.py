"""Which function makes which of the eighteen sounds."""

from collections.abc import Callable
from functools import partial
from typing import Final

import numpy as np

from fourlimb.model import Sound

from . import metals, percussion, skins, toms
from .modes import Wave

Voice = Callable[[float, np.random.Generator], Wave]
"""(velocity 0 to 1, random source) -> one stroke, mono at `modes.RATE`."""

VOICES: Final[dict[Sound, Voice]] = {
    "kick": skins.kick,
    "snare": skins.snare,
    "rim": skins.rim,
    "clap": percussion.clap,
    "hat_closed": partial(metals.plate, metals.HAT),
    "hat_open": metals.hat_open,
    "hat_pedal": partial(metals.plate, metals.HAT_PEDAL),
    "tom_high": partial(toms.tom, toms.HIGH),
    "tom_mid": partial(toms.tom, toms.MID),
    "tom_floor": partial(toms.tom, toms.FLOOR),
    "crash": partial(metals.plate, metals.CRASH),
    "ride": metals.ride,
    "ride_bell": metals.ride_bell,
    "china": partial(metals.plate, metals.CHINA),
    "splash": partial(metals.plate, metals.SPLASH),
    "cowbell": percussion.cowbell,
    "tambourine": percussion.tambourine,
    "shaker": percussion.shaker,
}
