"""A tom that only ever comes with the snare is the snare's ring; one that is struck alone too is a tom."""

import numpy as np

from fourlimb.listen.echoes import echoes
from fourlimb.model import SOUNDS

SNARE, HIGH, FLOOR = (SOUNDS.index(s) for s in ("snare", "tom_high", "tom_floor"))


def found(strokes: list[tuple[int, float]]) -> list[bool]:
    sounds, times = (np.array(column) for column in zip(*strokes, strict=True))
    return [bool(x) for x in echoes(sounds, times)]


def test_a_ring_goes_and_its_snare_stays() -> None:
    strokes = [(sound, t + 0.01 * (sound == HIGH)) for t in (0.5, 1.5, 2.5) for sound in (SNARE, HIGH)]
    assert found(strokes) == [False, True] * 3


def test_the_one_stroke_beside_the_snare_is_not_its_ring() -> None:
    strokes = [(SNARE, t) for t in (0.5, 1.5, 2.5)] + [(HIGH, t) for t in (0.5, 1.5, 2.5, 2.0)]
    assert found(strokes) == [False, False, False, True, True, True, False]


def test_a_tom_that_has_its_own_fills_stays_where_it_meets_the_snare() -> None:
    strokes = [(SNARE, 1.0), (HIGH, 1.0), (HIGH, 2.0), (HIGH, 2.2), (HIGH, 2.4)]
    assert not any(found(strokes))


def test_low_toms_and_songs_without_a_snare_are_left_alone() -> None:
    assert not any(found([(SNARE, 1.0), (FLOOR, 1.0), (SNARE, 2.0), (FLOOR, 2.0)]))
    assert not any(found([(HIGH, 1.0), (HIGH, 2.0)]))
    assert not len(echoes(np.zeros(0, np.int64), np.zeros(0)))
