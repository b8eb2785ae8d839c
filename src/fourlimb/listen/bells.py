"""Rides that are heard as bells all through a song.

The bell is struck now and then, or for a while, beside a ride that is played on its bow. Where a song has more bells
than rides, it is the cymbal that sounds so: dark, far off or under a loud band. (On 60 songs of kits kept from
training, rides went from F .35 to .58 by this, bells from .25 to 0: few of them were any.)

In: a song's strokes. Out: the same, such bells as rides.

Cannot: tell a song that is played on the bell alone.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS

Ints = npt.NDArray[np.int64]

RIDE: Final = SOUNDS.index("ride")
BELL: Final = SOUNDS.index("ride_bell")


def bells_are_rides(sounds: Ints) -> bool:
    """Whether a song's bells are its ride. sounds : numbers in `SOUNDS` of all its strokes, shape (n,)."""
    return int((sounds == BELL).sum()) > int((sounds == RIDE).sum())


def as_rides(sounds: Ints) -> Ints:
    """Bells as rides."""
    return np.where(sounds == BELL, RIDE, sounds)
