"""A hat that falls with a running ride is the foot's; any other stays what it was."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.listen.feet import footed, washes
from fourlimb.model import SOUNDS

CLOSED, OPEN, PEDAL, RIDE, BELL, SNARE = (
    SOUNDS.index(s) for s in ("hat_closed", "hat_open", "hat_pedal", "ride", "ride_bell", "snare")
)
TIME = [(RIDE, 0.25 * n) for n in range(9)]


def found(strokes: list[tuple[int, float]]) -> list[int]:
    sounds, times = (np.array(column) for column in zip(*strokes, strict=True))
    return [int(x) for x in footed(sounds, times)]


def test_a_hat_under_a_running_ride_is_the_pedals() -> None:
    assert found([*TIME, (CLOSED, 0.51), (CLOSED, 1.49)])[-2:] == [PEDAL, PEDAL]


def test_a_doubtful_hat_under_a_running_ride_is_its_wash() -> None:
    strokes = [*TIME, (CLOSED, 0.5), (CLOSED, 1.0), (CLOSED, 1.1)]
    sounds, times = (np.array(column) for column in zip(*strokes, strict=True))
    likely = np.array([0.5] * len(TIME) + [0.5, 0.7, 0.5])
    assert washes(sounds, times, likely).tolist() == [False] * len(TIME) + [True, False, False]


def test_a_bell_runs_too() -> None:
    bells = [(BELL, t) for _, t in TIME]
    assert found([*bells, (CLOSED, 1.0)])[-1] == PEDAL


def test_a_hat_between_the_rides_or_with_a_lone_one_stays() -> None:
    assert found([*TIME, (CLOSED, 0.62)])[-1] == CLOSED
    assert found([(RIDE, 1.0), (CLOSED, 1.0), (SNARE, 1.0)]) == [RIDE, CLOSED, SNARE]


def test_a_song_without_a_ride_keeps_its_hats() -> None:
    assert found([(CLOSED, 0.1 * n) for n in range(8)]) == [CLOSED] * 8
    assert not len(footed(np.zeros(0, np.int64), np.zeros(0)))


@given(st.lists(st.tuples(st.integers(0, len(SOUNDS) - 1), st.floats(0, 5)), min_size=1, max_size=40))
def test_nothing_else_changes_and_saying_it_twice_says_no_more(strokes: list[tuple[int, float]]) -> None:
    once = found(strokes)
    for (before, _), after in zip(strokes, once, strict=True):
        assert after == before or (before, after) == (CLOSED, PEDAL)
    assert found([(sound, t) for sound, (_, t) in zip(once, strokes, strict=True)]) == once
