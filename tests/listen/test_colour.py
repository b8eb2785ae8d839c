"""How strokes sound: colours are stable text, and those like the named ones are found."""

import base64

import numpy as np

from fourlimb.listen.colour import colours, sounding_like
from fourlimb.listen.features import SHADES, Floats, pictures, shades
from fourlimb.model import SOUNDS, Audio, Hit, Sound

RATE = 32000


def hit(number: int, sound: Sound, confidence: float = 0.7) -> Hit:
    return Hit(id=number, time_s=float(number), sound=sound, loudness_db=-6.0, confidence=confidence)


def seen(audio: Audio) -> Floats:
    return np.concatenate([shades(picture) for picture in pictures(audio)])


def test_two_kinds_of_burst_have_two_colours_and_one_kind_has_one() -> None:
    rng = np.random.default_rng(1)
    t = np.arange(RATE // 2) / RATE
    hiss = rng.normal(0, 0.3, len(t)) * np.exp(-t / 0.03)
    thump = np.sin(2 * np.pi * 70 * t) * np.exp(-t / 0.1)
    audio = Audio(np.concatenate([thump, hiss, thump, hiss, thump, hiss]).astype(np.float32)[:, None], RATE)
    heard = np.full((300, len(SOUNDS)), 0.01, np.float32)
    found = colours(seen(audio), heard, [0.5 * k for k in range(6)])
    raw = [np.frombuffer(base64.b64decode(c), np.uint8).astype(int) for c in found]
    assert all(len(r) == len(SOUNDS) + 2 * SHADES for r in raw)
    apart = np.abs(raw[2] - raw[3]).mean()
    assert np.abs(raw[2] - raw[4]).mean() < 0.2 * apart
    assert found == colours(seen(audio), heard, [0.5 * k for k in range(6)])


def test_silence_and_an_empty_recording_have_colours_too() -> None:
    empty = np.zeros((0, len(SOUNDS)), np.float32)
    assert colours(np.zeros((0, SHADES), np.float32), empty, [0.0]) == ("",)
    heard = np.full((100, len(SOUNDS)), 0.01, np.float32)
    assert len(colours(seen(Audio(np.zeros((RATE, 2), np.float32), RATE)), heard, [0.0, 0.99])) == 2


def test_nothing_is_changed_without_examples_or_colours() -> None:
    hits = [hit(1, "ride"), hit(2, "ride")]
    assert sounding_like(hits, {}, [1], "ride", "ride_bell") == ()
    assert sounding_like(hits, {1: "", 2: ""}, [1], "ride", "ride_bell") == ()
