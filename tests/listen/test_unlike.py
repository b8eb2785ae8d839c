"""A doubted kick of a take is a hit where its curve stands as high as a kick's, and no tom's does."""

import numpy as np
import pytest

from fourlimb.listen import Heard, HeardStroke, hits_of, hits_of_take
from fourlimb.model import SOUNDS, Sound
from fourlimb.model.sounds import ORDER

SILENCE = np.zeros(400)
AT_S = 2.0


def _heard(height: float, likely: float = 0.6, sound: Sound = "kick", tom: float = 0.0) -> Heard:
    curves = np.zeros((400, len(SOUNDS)))
    curves[200, ORDER[sound]] = height
    curves[201, ORDER["tom_floor"]] = tom
    sure = (HeardStroke(1.0, "kick", 0.0, 0.9), HeardStroke(3.0, "snare", 0.0, 0.9))
    doubted = (HeardStroke(AT_S, sound, -6.0, likely),)
    return Heard(sure, 100.0, SILENCE, SILENCE, SILENCE, SILENCE, curves, possible=doubted)


@pytest.mark.parametrize(("height", "sure"), [(0.95, 0.8), (0.8, 0.35)])
def test_a_doubted_kick_that_stands_high_is_a_hit_as_sure_as_its_height(height: float, sure: float) -> None:
    hits = hits_of_take(_heard(height))
    assert [(hit.id, hit.time_s, hit.sound) for hit in hits] == [
        (1, 1.0, "kick"),
        (2, AT_S, "kick"),
        (3, 3.0, "snare"),
    ]
    assert hits[1].confidence == sure


@pytest.mark.parametrize(
    "heard",
    [_heard(0.7), _heard(0.95, likely=0.1), _heard(0.95, sound="snare"), _heard(0.95, tom=0.5)],
    ids=["low", "unlikely", "a snare", "a floor tom"],
)
def test_what_else_is_doubted_stays_out(heard: Heard) -> None:
    assert hits_of_take(heard) == hits_of(heard)


def test_ears_without_curves_have_nothing_to_add() -> None:
    bare = Heard((HeardStroke(1.0, "kick", 0.0, 0.9),), 100.0, SILENCE, SILENCE, SILENCE, SILENCE)
    assert hits_of_take(bare) == hits_of(bare)
