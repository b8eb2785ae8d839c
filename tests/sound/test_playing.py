"""A chart as sound, stretch by stretch: the sound that is rendered at once, in memory that does not grow with it."""

import tracemalloc
from typing import Any

import numpy as np
import pytest
from sound_sheets import GROOVE, sheet, stroke

from fourlimb.model import Audio, InputError, Sheet
from fourlimb.sound import Mix, loudness, played, render
from fourlimb.sound.kit import RATE
from fourlimb.sound.pressing import STRETCH


def song(bars: int) -> Sheet:
    strokes = [
        stroke(bar, str(s.position), s.piece, velocity=s.velocity)
        for bar in range(1, bars + 1)
        for s in GROOVE
        if s.bar == 1
    ]
    return sheet([*strokes, stroke(1, "0", "crash"), stroke(3, "7/8", "hat_open")], bars=bars)


ASKED: list[tuple[dict[str, Any], Mix]] = [
    ({}, Mix()),
    ({"speed": 0.6}, Mix(speed=0.6)),
    ({"from_bar": 2, "to_bar": 3}, Mix(from_bar=2, to_bar=3)),
    ({"click": False}, Mix(click_db=None)),
]


@pytest.mark.parametrize(("asked", "mix"), ASKED)
def test_the_same_strokes_sound_at_the_same_samples_as_rendered_at_once(asked: dict[str, Any], mix: Mix) -> None:
    piece = song(4)
    pieces = list(played(piece, **asked))
    assert all(len(one) == STRETCH for one in pieces[:-1])
    together, at_once = np.concatenate(pieces), render(piece, mix).audio.samples
    assert together.shape == at_once.shape
    assert loudness(Audio(together, RATE)) == pytest.approx(loudness(Audio(at_once, RATE)), abs=0.5)
    levels = [np.sqrt((one[: len(one) // 88 * 88] ** 2).reshape(-1, 176).mean(axis=1)) for one in (together, at_once)]
    assert np.corrcoef(*levels)[0, 1] > 0.97, "in steps of 2 ms"
    assert np.corrcoef(levels[0][1:], levels[1][:-1])[0, 1] < 0.9, "which a shift by one step would not be"


def test_no_seam_is_heard_where_pieces_meet() -> None:
    """A click before the first bar, then nothing but a ringing crash: no jump at a joint."""
    pieces = list(played(sheet([stroke(1, "0", "crash")], bars=4), click=False))
    together = np.concatenate(pieces)[:, 0].astype(np.float64)
    bends = np.abs(np.diff(together, 2))
    for joint in range(2 * STRETCH, 4 * STRETCH, STRETCH):
        around = max(bends[joint - 400 : joint - 3].max(), bends[joint + 2 : joint + 400].max())
        assert bends[joint - 3 : joint + 2].max() <= 1.5 * around


def test_memory_does_not_grow_with_the_song() -> None:
    peaks = []
    for bars in (12, 48):
        piece = song(bars)
        list(played(song(1)))  # the kit is read once
        tracemalloc.start()
        seconds = sum(len(one) for one in played(piece)) / RATE
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert seconds > 60
    assert peaks[1] < 1.25 * peaks[0]


def test_bars_that_are_not_there_are_refused() -> None:
    with pytest.raises(InputError, match="bars 9-9"):
        next(played(song(2), from_bar=9, to_bar=9))
