"""A song with more bells than rides has a ride that sounds like a bell."""

import numpy as np
import pytest

from fourlimb.listen.bells import as_rides, bells_are_rides
from fourlimb.model import SOUNDS

RIDE, BELL, HAT = (SOUNDS.index(s) for s in ("ride", "ride_bell", "hat_closed"))


@pytest.mark.parametrize(
    ("rides", "bells", "are"), [(0, 1, True), (7, 8, True), (8, 8, False), (9, 2, False), (0, 0, False)]
)
def test_the_more_of_the_two_is_the_ride(rides: int, bells: int, are: bool) -> None:
    assert bells_are_rides(np.array([RIDE] * rides + [BELL] * bells + [HAT] * 5)) is are


def test_only_bells_change() -> None:
    assert as_rides(np.array([RIDE, BELL, HAT])).tolist() == [RIDE, RIDE, HAT]
