"""The eighteen sounds the network hears, in the order of its outputs, and how loud a kit plays them.

The order is part of the weight file (it is stored there and checked when the weights are opened).
Nominal peaks are the centre of what is drawn while rendering: judged by ear on recorded kits, no source.
"""

import numpy as np

SOUNDS = (
    "kick", "snare", "rim", "clap", "hat_closed", "hat_open", "hat_pedal", "tom_high", "tom_mid",
    "tom_floor", "crash", "ride", "ride_bell", "china", "splash", "cowbell", "tambourine", "shaker",
)  # fmt: skip
INDEX = {name: i for i, name in enumerate(SOUNDS)}

NOMINAL_PEAK_DB = np.array([0, -1, -7, -4, -13, -10, -19, -3, -3, -2, -7, -14, -10, -7, -9, -14, -15, -17.0])
"""Peak of a full-strength stroke relative to the kick's, per sound."""

NOMINAL_SPREAD_DB = np.array([4, 4, 4, 4, 5.6, 5, 4, 4, 4, 4, 5, 5.2, 5, 5, 5, 4.5, 4.5, 4.5])
"""Standard deviation of that peak from song to song."""

LEVEL_FLOOR_DB = -48.0
"""Loudness is learnt on a scale from this (0) to 0 dB (1), relative to a nominal full kick."""

NEVER_LABELLED_DB = -46.0
"""A stroke weaker than this can't be heard in a mix: it is neither asked for nor forbidden."""

CYMBALS = ("crash", "ride", "ride_bell", "china", "splash", "hat_open")


def index(name: str) -> int:
    """Output number of a sound."""
    return INDEX[name]
