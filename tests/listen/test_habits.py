"""A song's own habits: what is faint here and clear elsewhere counts, and what nothing repeats doesn't."""

from dataclasses import replace

import numpy as np
import pytest

from fourlimb.listen.habits import Pulse, habits
from fourlimb.listen.peaks import find_peaks
from fourlimb.listen.song_sounds import evidence, read_judge, shipped_judge, write_judge
from fourlimb.listen.speeds import hear_twice
from fourlimb.listen.trained import NetworkEars
from fourlimb.model import SOUNDS, Audio, FourlimbError, silent

BEATS = Pulse(np.arange(65) * 0.5, 4)
EVEN = np.zeros(1)


def song(every_beats: float, height: float, bars: int = 16) -> np.ndarray:
    """One curve with bumps every so many beats at 120 to the minute."""
    curve = np.full((bars * 200, 1), 0.01, np.float32)
    curve[np.rint(np.arange(0, bars * 4, every_beats) * 50).astype(int), 0] = height
    return curve


def test_a_faint_stroke_that_every_bar_has_is_believed() -> None:
    curve = song(1.0, 0.9)
    curve[800, 0] = 0.1
    usual = habits(curve, BEATS, EVEN)[:, 0]
    assert usual[800] > 2.0
    assert usual[825] < -2.0


def test_a_bump_that_no_other_bar_has_is_doubted() -> None:
    curve = song(2.0, 0.9)
    curve[25 + 800, 0] = 0.3
    assert habits(curve, BEATS, EVEN)[825, 0] < -2.0


def test_half_heard_strokes_that_keep_time_confirm_one_another() -> None:
    regular, scattered = song(0.5, 0.6), np.full((3200, 1), 0.01, np.float32)
    places = np.random.default_rng(0).choice(3200, 128, replace=False)
    scattered[places, 0] = 0.6
    assert (
        np.median(habits(regular, BEATS, EVEN)[::25][:128]) > np.median(habits(scattered, BEATS, EVEN)[places]) + 2.0
    )


def test_a_cell_does_not_vote_on_itself() -> None:
    with_, without = song(4.0, 0.01), song(4.0, 0.01)
    with_[800, 0] = 0.99
    assert habits(with_, BEATS, EVEN)[800, 0] == pytest.approx(habits(without, BEATS, EVEN)[800, 0], abs=0.35)


@pytest.mark.parametrize("beats", [np.zeros(0), np.arange(5) * 0.5])
def test_without_beats_nothing_is_usual(beats: np.ndarray) -> None:
    assert not habits(song(1.0, 0.9), Pulse(beats, 4), EVEN).any()


def test_what_counts_as_even_moves_what_is_believed() -> None:
    faint = song(1.0, 0.4)
    assert habits(faint, BEATS, np.array([-2.0]))[800, 0] > 2.0 > -2.0 > habits(faint, BEATS, np.array([2.0]))[800, 0]


def test_a_song_that_starts_before_its_first_beat_and_ends_after_its_last_is_covered() -> None:
    late = Pulse(np.arange(10, 40) * 0.5, 4)
    assert habits(song(1.0, 0.9), late, EVEN).shape == (3200, 1)


def test_evidence_is_high_for_a_few_clear_strokes_and_low_for_faint_ones() -> None:
    clear, faint = song(4.0, 0.9)[:, 0], song(1.0, 0.2)[:, 0]
    assert evidence(find_peaks(clear, clear)) > 0.8 > 0.3 > evidence(find_peaks(faint, faint))


def test_the_judge_survives_its_file_and_refuses_another_list_of_sounds() -> None:
    text = write_judge(shipped_judge())
    assert write_judge(read_judge(text)) == text
    with pytest.raises(FourlimbError, match="reinstall"):
        read_judge(text.replace("shaker", "rattle"))


def test_both_hearings_speak_of_the_same_time() -> None:
    rate = 32000
    t = np.arange(rate * 12) / rate
    thumps = np.sin(2 * np.pi * 60 * (t % 1.0)) * np.exp(-(t % 1.0) / 0.08)
    answer = hear_twice(NetworkEars().network, Audio(thumps.astype(np.float32)[:, None] * 0.5, rate), silent)
    kick = find_peaks(answer.hits[:, SOUNDS.index("kick")], answer.levels[:, 0], least=0.5)
    assert len(answer.hits) == 1200
    assert np.abs(kick.times_s - np.rint(kick.times_s)).max() < 0.02
    assert len(kick.times_s) >= 10


def test_what_rises_with_habit_is_confirmed_by_it_and_never_refused() -> None:
    ride = SOUNDS.index("ride")
    hits = np.full((3200, len(SOUNDS)), 0.01, np.float32)
    hits[:, [ride]] = song(1.0, 0.7)
    hits[800, ride] = 0.1
    hits[1637, ride] = 0.6
    shipped = shipped_judge()
    without = replace(shipped, habit=np.zeros(len(SOUNDS)), rise=np.zeros(len(SOUNDS)))
    plain, risen = (
        j.candidates(hits, hits, BEATS)
        for j in (without, replace(without, rise=np.where(np.arange(18) == ride, 1, 0)))
    )
    gain = {
        int(f): float(g)
        for f, g, k in zip(plain.frames, risen.odds - plain.odds, plain.sounds, strict=True)
        if k == ride
    }
    assert gain[800] > 2.0
    assert gain[1637] == pytest.approx(0.0, abs=1e-6)
    assert np.allclose(without.confidence(plain), without.confidence(risen))  # what to write, not how sure it is
