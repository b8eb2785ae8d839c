"""The demo song and its truth belong together, and hold what makes songs hard."""

import hashlib
from fractions import Fraction as F
from io import BytesIO

import numpy as np
import pytest
import soundfile

from fourlimb import demo
from fourlimb.model import Audio, Listening
from fourlimb.sound import loudness, true_peak_db


@pytest.fixture(scope="module")
def truth() -> Listening:
    return demo.truth()


@pytest.fixture(scope="module")
def song() -> Audio:
    samples, rate = soundfile.read(BytesIO(demo.recording()), dtype="float32", always_2d=True)
    return Audio(samples, rate)


def test_truth_is_of_this_recording(truth: Listening, song: Audio) -> None:
    assert truth.song.sha256 == hashlib.sha256(demo.recording()).hexdigest()
    assert song.duration_s == pytest.approx(truth.song.duration_s, abs=0.001)
    assert truth.grid.end_s < song.duration_s


def test_the_recording_does_not_clip_and_is_as_loud_as_records_are(song: Audio) -> None:
    assert true_peak_db(song) < 0.0
    assert -18 < loudness(song) < -12


def test_a_snare_can_be_heard_at_every_snare_hit(truth: Listening, song: Audio) -> None:
    """Energy above 2 kHz in the 12 ms after the hit stands over the 12 ms before it."""
    from scipy.signal import butter, sosfilt

    high = sosfilt(butter(2, 2000, "highpass", fs=song.rate, output="sos"), song.mono()) ** 2
    span = int(0.012 * song.rate)
    hits = [h for h in truth.hits if h.sound == "snare" and h.layer is None and h.loudness_db > -12 and not h.grace]
    starts = [round(h.time_s * song.rate) for h in hits]
    rises = [10 * np.log10(high[s : s + span].sum() / (high[s - 2 * span : s - span].sum() + 1e-9)) for s in starts]
    assert np.mean(np.array(rises) > 3) > 0.9


def test_hits_lie_within_human_reach_of_their_written_places(truth: Listening) -> None:
    for hit in truth.hits:
        assert hit.bar is not None
        assert hit.position is not None
        assert hit.late_ms is not None
        written = truth.grid.time_at(hit.bar, hit.position)
        assert 1000 * (hit.time_s - written) == pytest.approx(hit.late_ms, abs=0.2)
        assert -20 < hit.late_ms < 30


def test_one_kick_moves_between_the_ends_of_the_verse(truth: Listening) -> None:
    def played(bar: int) -> set[tuple[str, F | None]]:
        return {(h.sound, h.position) for h in truth.hits if h.bar == bar and h.layer is None and h.sound != "crash"}

    changed = [n for n in range(4) if played(5 + n) - played(13 + n) and n]
    assert changed == [1]
    assert played(6) ^ played(14) == {("kick", F(7, 8)), ("kick", F(15, 16))}


def test_what_makes_songs_hard_is_in_it(truth: Listening) -> None:
    assert {h.layer for h in truth.hits} == {None, "stacked kick", "second snare", "hand percussion"}
    assert {span.feel for span in truth.grid.feel} == {"straight", "half-time", "double-time"}
    assert any(s.tacet for s in truth.sections)
    assert not [h for h in truth.hits if h.bar in (25, 26)]
    assert {h.sound for h in truth.hits if h.bar in (31, 32)} == {"kick"}
    assert any(h.position is not None and h.position.denominator % 3 == 0 for h in truth.hits)
    assert any(h.grace == "flam" for h in truth.hits)
    assert any(h.bar == 0 for h in truth.hits)
    lows = [h for h in truth.hits if h.layer == "stacked kick"]
    kicks = [h.time_s for h in truth.hits if h.sound == "kick" and h.layer is None]
    assert all(min(abs(h.time_s - k) for k in kicks) < 0.045 for h in lows)
