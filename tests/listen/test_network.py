"""The network in numpy: same windows, same answer; the weight file is what the model card says."""

import numpy as np
import pytest

from fourlimb.listen.features import FRAMES_PER_S, RATE_HZ, count_frames, pictures, song_gain
from fourlimb.listen.network import STEP_FRAMES, WEIGHTS, listen_in_windows, shipped
from fourlimb.listen.peaks import find_peaks
from fourlimb.listen.trained import NetworkEars
from fourlimb.model import SOUNDS, Audio, silent

WEIGHT_LIMIT_BYTES = 6_000_000


def bursts(seconds: float, rate: int = RATE_HZ, every_s: float = 0.5) -> Audio:
    """Falling noise bursts and low thumps, alternating: something drum-like."""
    rng = np.random.default_rng(3)
    t = np.arange(int(seconds * rate)) / rate
    since = t % every_s
    thump = np.sin(2 * np.pi * 60 * since) * np.exp(-since / 0.08)
    hiss = rng.normal(0, 0.3, len(t)) * np.exp(-since / 0.04)
    odd = (t / every_s).astype(int) % 2 == 1
    return Audio(np.where(odd, hiss, thump).astype(np.float32)[:, None] * 0.5, rate)


def test_the_weight_file_fits_the_package() -> None:
    assert WEIGHTS.stat().st_size <= WEIGHT_LIMIT_BYTES


def test_answers_do_not_depend_on_how_the_pictures_arrive() -> None:
    picture = np.concatenate(list(pictures(bursts(15))))
    whole = [a.hits for a in listen_in_windows(shipped(), [picture])]
    pieces = [picture[i : i + 37] for i in range(0, len(picture), 37)]
    parts = [a.hits for a in listen_in_windows(shipped(), pieces)]
    assert np.array_equal(np.concatenate(whole), np.concatenate(parts))


@pytest.mark.parametrize("frames", [1, 99, STEP_FRAMES, STEP_FRAMES + 1, 2 * STEP_FRAMES + 5])
def test_every_frame_is_answered_once(frames: int) -> None:
    picture = np.full((frames, 2, 80), -1.0, np.float32)
    assert sum(len(a.hits) for a in listen_in_windows(shipped(), [picture])) == frames


@pytest.mark.parametrize("rate", [8000, 22050, 44100, 96000])
def test_pictures_cover_every_rate(rate: int) -> None:
    audio = bursts(2.5, rate)
    assert sum(len(p) for p in pictures(audio)) == count_frames(audio) == int(2.5 * FRAMES_PER_S)


@pytest.mark.parametrize("gain", [10 ** (-30 / 20), 10 ** (30 / 20)])
def test_a_softer_or_louder_copy_gives_the_same_strokes(gain: float) -> None:
    audio = bursts(8)
    ears = NetworkEars()
    loud = ears.hear(audio, silent).strokes
    other = ears.hear(Audio(audio.samples * np.float32(gain), audio.rate), silent).strokes
    assert [(s.sound, round(s.time_s, 2)) for s in loud] == [(s.sound, round(s.time_s, 2)) for s in other]


def test_thumps_are_heard_as_kicks_on_time() -> None:
    strokes = NetworkEars().hear(bursts(10), silent).strokes
    kicks = np.array([s.time_s for s in strokes if s.sound == "kick"])
    assert len(kicks) >= 8
    assert np.median(np.abs(kicks - np.round(kicks))) < 0.02


@pytest.mark.parametrize("samples", [0, 1, 500])
@pytest.mark.parametrize("channels", [1, 2])
def test_silence_and_hardly_any_sound_give_no_strokes(samples: int, channels: int) -> None:
    heard = NetworkEars().hear(Audio(np.zeros((samples, channels), np.float32), 44100), silent)
    assert heard.strokes == ()
    assert len(heard.beat) == len(heard.drums_present)


def test_white_noise_and_a_clipped_song_do_not_break_anything() -> None:
    noise = np.random.default_rng(1).normal(0, 0.2, (44100 * 4, 2)).astype(np.float32)
    for samples in (noise, np.clip(noise * 40, -1, 1), np.ones((30000, 1), np.float32)):
        heard = NetworkEars().hear(Audio(samples, 44100), silent)
        assert all(0 <= s.confidence <= 1 and s.loudness_db <= 0 for s in heard.strokes)


def test_silence_is_not_turned_up() -> None:
    assert song_gain(Audio(np.zeros((44100, 1), np.float32), 44100)) == 1.0


def test_a_peak_between_frames_is_placed_between_them() -> None:
    frames = np.arange(100)
    curve = np.exp(-0.5 * ((frames - 41.3) / 0.9) ** 2).astype(np.float32)
    peaks = find_peaks(curve, curve)
    assert peaks.times_s == pytest.approx([0.413], abs=1e-4)


def test_a_flam_stays_two_strokes() -> None:
    curve = np.zeros(100, np.float32)
    curve[[40, 43]] = 0.9
    assert len(find_peaks(curve, curve).frames) == 2


def test_sounds_are_in_the_models_order() -> None:
    heard = NetworkEars().hear(bursts(2), silent)
    assert heard.activations is not None
    assert heard.activations.shape[1] == len(SOUNDS)
