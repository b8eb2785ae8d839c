"""The kit cut down for the practice page: few strokes, mono MP3, small enough to stand inside one HTML file."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from ..model import SOUNDS, Audio, Sound
from .encode import MIME, encode
from .kit import RATE, built_in, level
from .voicing import PLACES

LONGEST_S: Final = 1.7
"""Cymbals are faded by then."""

LAYERS: Final[dict[Sound, tuple[int, ...]]] = {"snare": (36, 108), "hat_closed": (70,), "kick": (105,)}
"""Velocities sent for a sound; others send their loudest layer."""

COMPRESSION: Final = 0.7
PEAK: Final = 0.8


@dataclass(frozen=True)
class KitSample:
    """One stroke as an MP3. Play it times `gain` for velocity 127; other velocities: times (velocity/127) ** 1.7.

    `velocity`: the layer (take the nearest); `side` -1 left to 1 right; the attack is within 3 ms of the start.
    """

    sound: Sound
    velocity: int
    data: bytes
    mime: str
    gain: float
    side: float


@lru_cache(maxsize=1)
def kit_samples() -> tuple[KitSample, ...]:
    """One or two strokes of each of the eighteen sounds, in the fixed order of sounds."""
    return tuple(_sample(sound, velocity) for sound in SOUNDS for velocity in LAYERS.get(sound, (110,)))


def _sample(sound: Sound, velocity: int) -> KitSample:
    wave = built_in().stroke(sound, velocity, 0) / np.float32(level(sound, velocity))
    count = min(len(wave), int(LONGEST_S * RATE))
    cut = wave[:count].copy()
    fade = count // 3 if count < len(wave) else int(0.01 * RATE)
    cut[count - fade :] *= np.linspace(1, 0, fade, dtype=np.float32) ** 2
    peak = float(np.abs(cut).max())
    data = encode(Audio((cut / peak * PEAK)[:, None].astype(np.float32), RATE), "mp3", COMPRESSION)
    gain = round(peak / PEAK * level(sound, 127), 4)
    return KitSample(sound, velocity, data, MIME["mp3"], gain, PLACES[sound].side)
