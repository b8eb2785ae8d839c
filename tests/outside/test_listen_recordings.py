"""The teacher's word on a real recording: the bars are counted again round it, and they meet the hand-marked beats.

Recordings and beats: MDB Drums (Southall, Wu, Lerch and Hockman 2017, CC BY-NC-SA 4.0), evaluation only, not in this
repository; absent, these tests skip.
"""

import json
from fractions import Fraction as F
from pathlib import Path

import numpy as np
import pytest

from fourlimb.listen import Hints, listen, read_audio, regrid
from fourlimb.model import Listening, Song

DATA = Path(__file__).parents[3] / "shared" / "data" / "recordings"
TRACK = "Reggae"
pytestmark = pytest.mark.usefixtures("shared")


@pytest.fixture(scope="module")
def heard() -> Listening:
    audio = read_audio(DATA / "mix" / f"{TRACK}.flac")
    return listen(audio, song=Song(duration_s=audio.duration_s, sample_rate_hz=audio.rate, sha256=""))


@pytest.fixture(scope="module")
def truth() -> tuple[np.ndarray, np.ndarray]:
    beats = json.loads((DATA / "truth" / f"{TRACK}.json").read_text())["beats"]
    return np.array([b["time_s"] for b in beats]), np.array([b["time_s"] for b in beats if b["beat_in_bar"] == 1])


def ones(listening: Listening) -> np.ndarray:
    return np.array([b.time_s for b in listening.grid.beats if b.beat == 1 and b.bar > 0])


def met(found: np.ndarray, wanted: np.ndarray) -> float:
    """Share of the wanted times that something found lies within 70 ms of."""
    return float(np.mean([np.abs(found - t).min() < 0.07 for t in wanted]))


def test_a_moved_one_is_put_right_by_one_word(heard: Listening, truth: tuple[np.ndarray, np.ndarray]) -> None:
    _, downbeats = truth
    wrong = next(b.time_s for b in heard.grid.beats if b.bar == 4 and b.beat == 3)
    moved = regrid(heard, Hints(ones_s=(wrong,)))
    assert met(ones(moved), downbeats) < 0.3
    third = next(b.time_s for b in moved.grid.beats if b.bar == 3 and b.beat == 3)
    back = regrid(moved, Hints(bar_lines_s=(third,)))
    assert met(ones(back), downbeats[downbeats > third - 0.1]) > 0.9


def test_half_and_twice_the_tempo_keep_to_the_beats(heard: Listening, truth: tuple[np.ndarray, np.ndarray]) -> None:
    beats, _ = truth
    twice = regrid(heard, Hints(tempo_factor=F(2)))
    times = np.array([b.time_s for b in twice.grid.beats])
    assert met(times, beats) > 0.9
    assert np.median(np.diff(times)) == pytest.approx(np.median(np.diff(beats)) / 2, rel=0.02)
    half = regrid(heard, Hints(tempo_factor=F(1, 2)))
    slow = np.array([b.time_s for b in half.grid.beats])
    inner = slow[(slow > beats[0] - 0.05) & (slow < beats[-1] + 0.05)]
    assert met(beats, inner) > 0.9


def test_a_bar_line_inside_a_bar_moves_those_after_it_and_none_before(heard: Listening) -> None:
    at = next(b.time_s for b in heard.grid.beats if b.bar == 5 and b.beat == 3)
    cut = regrid(heard, Hints(bar_lines_s=(at,)))
    before = ones(heard)[ones(heard) < at - 0.1]
    assert np.allclose(ones(cut)[: len(before)], before, atol=1e-3)
    assert np.abs(ones(cut) - at).min() < 1e-3
    assert [h.id for h in cut.hits] == [h.id for h in heard.hits]
    assert all(h.position is not None for h in cut.hits)
