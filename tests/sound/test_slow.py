"""The slow-down: what must hold, measured by `stretch_measures` on short made signals, beside librosa."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stretch_measures import attacks, tone

from fourlimb.model import Audio, InputError
from fourlimb.sound.kit import RATE, built_in
from fourlimb.sound.perform import Blow, perform
from fourlimb.sound.slow import slow
from fourlimb.sound.timemap import BEFORE_S, time_map

SECONDS = 8


@pytest.fixture(scope="module")
def groove() -> tuple[Audio, list[float]]:
    """Kick, snare and hats at 110 beats a minute, stereo."""
    beat = 60 / 110
    made = [Blow(0.3 + n * beat / 2, "hat_closed", 80 + 10 * (n % 2)) for n in range(25)]
    made += [Blow(0.3 + n * beat, "kick" if n % 2 == 0 else "snare", 105) for n in range(13)]
    samples = perform(made, built_in(), SECONDS * RATE, dry=True) * np.float32(0.5)
    return Audio(samples, RATE), [b.time_s for b in made]


@pytest.fixture(scope="module")
def chord() -> Audio:
    at = np.arange(SECONDS * RATE) / RATE
    tones = [(110.0, 0.2, -0.5), (220.3, 0.2, 0.0), (277.6, 0.15, 0.4), (329.1, 0.15, 0.5), (1318.5, 0.05, -0.2)]
    left = sum(a * (1 - p) * np.sin(2 * np.pi * f * at) for f, a, p in tones)
    right = sum(a * (1 + p) * np.sin(2 * np.pi * f * at) for f, a, p in tones)
    return Audio(np.stack([left, right], axis=1).astype(np.float32) * np.float32(0.5), RATE)


def mono(audio: Audio) -> np.ndarray:
    return audio.samples.mean(axis=1).astype(np.float64)


@pytest.mark.parametrize(("speed", "pre_db"), [(0.3, 11.0), (0.5, 6.0), (0.75, 4.0)])
def test_attacks_keep_their_rise_their_place_and_their_shape(
    groove: tuple[Audio, list[float]], speed: float, pre_db: float
) -> None:
    sound, hits = groove
    apart = sorted(set(hits))
    measured = attacks(mono(sound), mono(slow(sound, speed, hits)), speed, apart)
    assert measured.count >= 20
    assert measured.rise == pytest.approx(1.0, abs=0.05)
    assert measured.rise_90 < 1.4
    assert measured.time_ms_95 < 1.0
    assert measured.pre_db_90 < pre_db
    assert measured.shape > 0.98


def test_attacks_are_kept_better_than_by_a_general_stretch(groove: tuple[Audio, list[float]]) -> None:
    """Reference: librosa.effects.time_stretch in the same run."""
    import librosa

    sound, hits = groove
    general = librosa.effects.time_stretch(mono(sound), rate=0.5)
    apart = sorted(set(hits))
    theirs = attacks(mono(sound), general, 0.5, apart)
    ours = attacks(mono(sound), mono(slow(sound, 0.5, hits)), 0.5, apart)
    assert theirs.rise > 2 * ours.rise
    assert theirs.time_ms_95 > 5 * ours.time_ms_95


@pytest.mark.parametrize("speed", [0.5, 0.75])
def test_held_tones_keep_their_colour(chord: Audio, speed: float) -> None:
    zones = list(np.arange(0.4, SECONDS, 0.25))
    assert tone(mono(chord), mono(slow(chord, speed, zones)), speed) < 0.25
    assert tone(mono(chord), mono(slow(chord, speed, [])), speed) < 0.1


def test_pitch_stays(chord: Audio) -> None:
    slower = mono(slow(chord, 0.6, []))[RATE : RATE * 9]
    spectrum = np.abs(np.fft.rfft(slower * np.hanning(len(slower))))
    peak = np.argmax(spectrum[: len(slower) * 150 // RATE]) * RATE / len(slower)
    assert peak == pytest.approx(110.0, abs=0.3)


def test_the_stereo_image_stays(chord: Audio) -> None:
    slower = slow(chord, 0.5, [1.0, 2.0]).samples.astype(np.float64)
    for band in ((100, 120), (310, 350)):
        sides = []
        for x in (chord.samples.astype(np.float64), slower):
            spectrum = np.abs(np.fft.rfft(x, axis=0)) ** 2
            hz = np.fft.rfftfreq(len(x), 1 / RATE)
            left, right = spectrum[(hz > band[0]) & (hz < band[1])].sum(axis=0)
            sides.append(10 * np.log10(left / right))
        assert sides[0] == pytest.approx(sides[1], abs=0.5)


def test_sound_that_differs_in_sign_between_channels_survives() -> None:
    wave = (0.3 * np.sin(2 * np.pi * 440 * np.arange(2 * RATE) / RATE)).astype(np.float32)
    slower = slow(Audio(np.stack([wave, -wave], axis=1), RATE), 0.5, []).samples[RATE : 3 * RATE, 0]
    assert np.sqrt((slower**2).mean()) == pytest.approx(0.3 / np.sqrt(2), rel=0.1)


def test_the_attack_is_the_recording_sample_for_sample() -> None:
    """A click among silence: every window that touches it lies inside its zone."""
    samples = np.zeros((2 * RATE, 1), dtype=np.float32)
    samples[RATE, 0] = 0.8
    slower = slow(Audio(samples, RATE), 0.5, [1.0]).samples[:, 0]
    assert np.argmax(np.abs(slower)) == 2 * RATE
    assert slower[2 * RATE] == pytest.approx(0.8, abs=0.02)


@given(
    st.lists(st.floats(-1, 12), max_size=60),
    st.floats(0.25, 1.25),
    st.floats(0.05, 10),
)
@settings(max_examples=150, deadline=None)
def test_the_time_map_always_runs_forward_and_hits_land_in_place(
    hits: list[float], speed: float, duration: float
) -> None:
    mapped = time_map(hits, duration, speed)
    assert (np.diff(mapped.out_s) > 0).all()
    assert (np.diff(mapped.in_s) > 0).all()
    assert mapped.in_s[-1] == pytest.approx(duration)
    assert (mapped.zones[:1, 0] >= -1e-9).all()
    assert (np.diff(mapped.zones.ravel()) >= -1e-9).all()


def test_every_separate_attack_is_heard_at_its_time_over_the_speed() -> None:
    hits = [0.5, 0.579, 0.7, 2.0]
    mapped = time_map(hits, 3.0, 0.5)
    np.testing.assert_allclose(mapped.heard(np.array(hits) / 0.5), hits, atol=1e-9)
    inside = np.array([2.0 / 0.5 - BEFORE_S / 2, 4.0, 4.01])
    np.testing.assert_allclose(np.diff(mapped.heard(inside)), np.diff(inside), atol=1e-9)


@pytest.mark.parametrize("count", [0, 1, 50, 3000])
def test_very_short_sound_comes_out_at_its_length(count: int) -> None:
    sound = Audio(np.full((count, 2), 0.1, dtype=np.float32), RATE)
    slower = slow(sound, 0.5, [0.01])
    assert slower.samples.shape == (2 * count, 2)
    assert np.isfinite(slower.samples).all()


@pytest.mark.parametrize("rate", [22_050, 48_000, 96_000])
def test_other_sample_rates_work(rate: int) -> None:
    at = np.arange(2 * rate) / rate
    sound = Audio((0.3 * np.sin(2 * np.pi * 300 * at)).astype(np.float32)[:, None], rate)
    slower = slow(sound, 0.5, [1.0])
    assert len(slower.samples) == 4 * rate
    middle = slower.samples[rate : 3 * rate]
    assert float(np.sqrt((middle**2).mean())) == pytest.approx(0.3 / np.sqrt(2), rel=0.1)


def test_same_input_gives_the_same_samples(groove: tuple[Audio, list[float]]) -> None:
    sound, hits = groove
    assert np.array_equal(slow(sound, 0.7, hits).samples, slow(sound, 0.7, hits[::-1]).samples)


def test_full_speed_is_the_recording_itself(groove: tuple[Audio, list[float]]) -> None:
    assert slow(groove[0], 1.0, groove[1]) is groove[0]


@pytest.mark.parametrize("speed", [0.0, 0.1, 2.0, -1.0, float("nan")])
def test_speeds_that_cannot_be_are_refused(chord: Audio, speed: float) -> None:
    with pytest.raises(InputError, match=r"use 0\.25 to 1\.25"):
        slow(chord, speed, [])


def test_times_that_are_no_numbers_are_refused(chord: Audio) -> None:
    with pytest.raises(InputError, match="not a number"):
        slow(chord, 0.5, [float("nan")])
