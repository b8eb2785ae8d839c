"""The whole of listening: from sound to a placed, sectioned song, and what is said when there is none."""

from itertools import pairwise

import msgspec
import numpy as np
import pytest
from listen_material import RATE, SONG, TellingEars, performance, sound_of

from fourlimb.listen import FluxEars, listen
from fourlimb.model import Audio, Listening
from fourlimb.model.codec import decode, encode


@pytest.mark.parametrize("bpm", [104])
def test_a_plain_rock_beat_is_heard_from_sound(bpm: float) -> None:
    truth = performance(12, bpm, start_s=0.4)
    duration = truth[-1].time_s + 1.0
    heard = listen(sound_of(truth, duration), song=SONG, ears=FluxEars())
    assert heard.grid.bars[2].tempo_bpm == pytest.approx(bpm, rel=0.03)
    kicks = {(h.bar, h.position) for h in heard.hits if h.sound == "kick"}
    wanted = {(h.bar, h.position) for h in truth if h.sound == "kick"}
    assert len(kicks & wanted) / len(wanted) > 0.85


@pytest.mark.parametrize("bpm", [60, 76, 92, 118, 140, 168])
def test_tempo_octave_and_the_one_are_found_from_strokes_alone(bpm: float) -> None:
    truth = performance(12, bpm, start_s=0.4, spread_s=0.005)
    heard = listen(sound_of(truth, truth[-1].time_s + 1), song=SONG, ears=TellingEars(truth))
    assert heard.grid.bars[2].tempo_bpm == pytest.approx(bpm, rel=0.02)
    assert {(h.sound, h.position) for h in heard.hits} == {(h.sound, h.position) for h in truth}


def test_places_are_exact_when_the_ears_are() -> None:
    truth = performance(16, 118, spread_s=0.007, start_s=0.2)
    heard = listen(sound_of(truth, truth[-1].time_s + 1), song=SONG, ears=TellingEars(truth))
    right = sum((a.bar, a.position) == (b.bar, b.position) for a, b in zip(heard.hits, truth, strict=True))
    assert right / len(truth) > 0.97


def quiet(kind: str, seconds: float) -> Audio:
    rng = np.random.default_rng(5)
    count = int(seconds * RATE)
    if kind == "silence":
        samples = np.zeros(count)
    elif kind == "noise":
        samples = rng.normal(0, 0.1, count)
    else:
        samples = 0.3 * np.sin(2 * np.pi * 220 * np.arange(count) / RATE)
    return Audio(samples[:, None].astype(np.float32), RATE)


@pytest.mark.parametrize("kind", ["silence", "noise", "tone"])
@pytest.mark.parametrize("seconds", [0.3, 3.0, 30.0])
def test_without_drums_a_grid_is_given_and_it_is_said(kind: str, seconds: float) -> None:
    heard = listen(quiet(kind, seconds), song=SONG, ears=FluxEars())
    assert heard.grid.bars
    assert heard.grid.end_s >= seconds - 0.5
    if kind == "silence":
        assert any("no drums were found" in note for note in heard.notes)
        assert any("no steady beat" in note for note in heard.notes)
        assert all(beat.confidence == 0 for beat in heard.grid.beats)


def test_the_same_sound_gives_the_same_bytes_and_they_read_back() -> None:
    truth = performance(8, 96, spread_s=0.01)
    audio = sound_of(truth, truth[-1].time_s + 1)
    one, two = (listen(audio, song=SONG, ears=FluxEars()) for _ in range(2))
    assert encode(one) == encode(two)
    assert decode(encode(one), Listening) == one


def test_numbers_are_rounded_as_promised() -> None:
    truth = performance(8, 96, spread_s=0.01)
    heard = listen(sound_of(truth, truth[-1].time_s + 1), song=SONG, ears=FluxEars())
    assert all(h.confidence == round(h.confidence, 3) and h.time_s == round(h.time_s, 4) for h in heard.hits)
    assert all(h.loudness_db == round(h.loudness_db, 1) <= 0 for h in heard.hits)
    assert all(b.time_s == round(b.time_s, 4) and b.confidence == round(b.confidence, 3) for b in heard.grid.beats)


def test_progress_is_told_in_order_and_ends_at_one() -> None:
    seen: list[tuple[str, float]] = []
    truth = performance(4, 120)
    listen(sound_of(truth, 9), song=SONG, ears=FluxEars(), progress=lambda stage, share: seen.append((stage, share)))
    assert seen[-1][1] == 1.0
    assert all(0 <= share <= 1 for _, share in seen)
    assert "finding the beat" in [stage for stage, _ in seen]


def test_beats_increase_and_bars_join_without_gap() -> None:
    truth = performance(12, 88, start_s=1.3, spread_s=0.01)
    grid = listen(sound_of(truth, truth[-1].time_s + 3), song=SONG, ears=FluxEars()).grid
    times = [b.time_s for b in grid.beats]
    assert all(a < b for a, b in pairwise(times))
    assert list(grid.numbers) == list(range(grid.numbers[0], grid.numbers[-1] + 1))


def test_a_long_silence_inside_is_said() -> None:
    one = sound_of(performance(4, 120), 9.0).samples
    both = Audio(np.concatenate([one, np.zeros((6 * RATE, 1), np.float32), one]), RATE)
    heard = listen(both, song=SONG, ears=FluxEars())
    assert any("two songs" in note for note in heard.notes)


def test_hits_before_the_first_beat_are_kept() -> None:
    truth = performance(10, 112, start_s=0.0, spread_s=0.004)
    cut = tuple(msgspec.structs.replace(h, time_s=h.time_s - 0.8) for h in truth if h.time_s > 0.8)
    heard = listen(sound_of(cut, cut[-1].time_s + 1), song=SONG, ears=TellingEars(cut))
    assert all(h.position is not None for h in heard.hits)
