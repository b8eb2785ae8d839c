"""Hats that only the foot can have struck.

While one hand plays time on the ride and the other has the snare, the hat sounds by its pedal. A stroke of the pedal
and a soft one of the stick sound much alike; what tells them apart is what the hands are doing.

In: a song's strokes. Out: which closed hats are the pedal's (common practice among those who transcribe, no source),
and which are no hats: a doubtful one that falls with the ride is the ride's own wash.

Cannot: tell a drummer who plays both cymbals at once with two sticks.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS

Doubles = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

RIDES: Final = tuple(SOUNDS.index(s) for s in ("ride", "ride_bell"))
CLOSED: Final = SOUNDS.index("hat_closed")
PEDAL: Final = SOUNDS.index("hat_pedal")
TOGETHER_S: Final = 0.03
AROUND_S: Final = 1.2
RUNNING: Final = 4
"""So many ride strokes within `AROUND_S` of the hat, the one with it included, are time played on the ride (ours)."""


DOUBTFUL: Final = 0.6
"""A hat under a running ride less likely than this is none (ours; nine of the twelve met in the demo song,
rendered songs and songs of held kits were none)."""


def footed(sounds: Ints, times_s: Doubles) -> Ints:
    """The sounds, hats with a running ride as the pedal's. sounds : numbers in `SOUNDS`; shape (n,) each."""
    return np.where(_with_running_ride(sounds, times_s), PEDAL, sounds)


def washes(sounds: Ints, times_s: Doubles, likely: Doubles) -> npt.NDArray[np.bool_]:
    """Which closed hats are the wash of the ride they fall with. likely : share right of each stroke, 0 to 1."""
    return np.asarray(_with_running_ride(sounds, times_s) & (likely < DOUBTFUL))


def _with_running_ride(sounds: Ints, times_s: Doubles) -> npt.NDArray[np.bool_]:
    rides = np.sort(times_s[np.isin(sounds, RIDES)])
    with_ride = _within(rides, times_s, TOGETHER_S) >= 1
    running = _within(rides, times_s, AROUND_S) >= RUNNING
    return np.asarray((sounds == CLOSED) & with_ride & running)


def _within(rides: Doubles, times_s: Doubles, reach_s: float) -> Ints:
    """How many rides lie that near to each time."""
    last = np.searchsorted(rides, times_s + reach_s, "right")
    return np.asarray(last - np.searchsorted(rides, times_s - reach_s, "left"))
