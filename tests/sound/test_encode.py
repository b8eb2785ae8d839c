from io import BytesIO

import numpy as np
import pytest
import soundfile

from fourlimb.model import SOUNDS, Audio, InputError
from fourlimb.sound import MIME, encode, kit_samples


def burst(seconds: float = 1.0, rate: int = 44100) -> Audio:
    samples = np.zeros((int(seconds * rate), 2), dtype=np.float32)
    at = np.arange(2000) / rate
    samples[5000:7000] = (0.5 * np.sin(2 * np.pi * 900 * at) * np.exp(-at * 60))[:, None]
    return Audio(samples, rate)


@pytest.mark.parametrize("form", list(MIME))
def test_what_is_written_reads_back_in_place(form: str) -> None:
    sound = burst()
    back, rate = soundfile.read(BytesIO(encode(sound, form)), always_2d=True)
    assert rate == 44100
    assert back.shape == sound.samples.shape
    lags = np.correlate(back[4000:8000, 0], sound.samples[4100:7900, 0], "valid")
    assert np.argmax(lags) == 100


@pytest.mark.parametrize("form", ["wav", "flac", "mp3", "ogg"])
def test_same_sound_gives_the_same_bytes(form: str) -> None:
    assert encode(burst(), form) == encode(burst(), form)


def test_a_long_vorbis_file_does_not_crash() -> None:
    noise = np.random.default_rng(0).standard_normal((44100 * 70, 2)).astype(np.float32) * 0.1
    assert len(encode(Audio(noise, 44100), "ogg", 0.9)) > 100_000


def test_over_full_scale_is_clipped_not_wrapped() -> None:
    loud = Audio(np.full((1000, 1), 3.0, dtype=np.float32), 44100)
    back, _ = soundfile.read(BytesIO(encode(loud, "wav")))
    assert back.min() > 0.99


def test_unknown_format_is_named_with_those_that_work() -> None:
    with pytest.raises(InputError, match="wav, flac, mp3, ogg"):
        encode(burst(), "xyz")


def test_small_kit_holds_every_sound_in_little_room() -> None:
    samples = kit_samples()
    assert {s.sound for s in samples} == set(SOUNDS)
    assert sum(len(s.data) for s in samples) * 4 / 3 < 700_000
    for sample in samples:
        wave, rate = soundfile.read(BytesIO(sample.data))
        assert rate == 44100
        assert wave.ndim == 1
        assert np.argmax(np.abs(wave) > np.abs(wave).max() / 10) < 0.005 * rate
