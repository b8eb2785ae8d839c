"""The kit that ships with fourlimb: every stroke rendered once, packed, and read back here.

In: nothing but the package's own files. Out: `Voices`: mono float32 strokes at 44.1 kHz whose loudest 10 ms has
RMS 1, in velocity layers and round robins (the same stroke never sounds twice in a row).
"""

from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from io import BytesIO
from typing import Final

import msgspec
import numpy as np
import numpy.typing as npt

from ..model import SOUNDS, Samples, Sound
from .voicing import DYNAMIC_POWER, PLACES, second_of

RATE: Final = 44_100
"""Samples a second of everything that is rendered."""

DECAY_60_DB: Final = 6.907755
"""ln(1000): exp(-DECAY_60_DB) is -60 dB."""

FOLDER: Final = "kit_sounds"
INDEX: Final = "kit.json"


class Cut(msgspec.Struct, frozen=True):
    """Where one stroke lies in its sound's file: samples, and the velocity it was struck with (1 to 127)."""

    velocity: int
    start: int
    count: int


class Pressing(msgspec.Struct, frozen=True):
    """One sound's file, and what its samples are multiplied with to get RMS 1 in the loudest 10 ms."""

    file: str
    cuts: tuple[Cut, ...]
    gains: tuple[float, ...]


@dataclass(frozen=True)
class Voices:
    """A kit in memory: for each sound its layers, soft to hard, as (velocity, strokes)."""

    layers: dict[Sound, tuple[tuple[int, tuple[Samples, ...]], ...]]
    seconds: dict[tuple[Sound, int, int], Samples] = field(default_factory=dict, repr=False, compare=False)

    def stroke(self, sound: Sound, velocity: int, turn: int, *, second: bool = False) -> Samples:
        """The stroke of the nearest layer, at the level the mix gives it; `turn` counts strokes on this sound.

        `second`: on the second of its kind, the same stroke tuned by `voicing.SECONDS`.
        """
        layer, takes = self._takes(sound, velocity)
        taken = takes[turn % len(takes)]
        if second:
            name = sound, layer, turn % len(takes)
            if name not in self.seconds:
                self.seconds[name] = tuned(taken, second_of(sound).pitch)
            taken = self.seconds[name]
        return taken * np.float32(level(sound, velocity))

    def rings(self, sound: Sound, velocity: int, *, second: bool = False) -> int:
        """Samples after which the longest of such strokes has died away."""
        longest = max(len(take) for take in self._takes(sound, velocity)[1])
        return int(longest / second_of(sound).pitch) + 1 if second else longest

    def _takes(self, sound: Sound, velocity: int) -> tuple[int, tuple[Samples, ...]]:
        return min(self.layers[sound], key=lambda layer: (abs(layer[0] - velocity), layer[0]))


def level(sound: Sound, velocity: int) -> float:
    """RMS of the loudest 10 ms of a stroke: 1 is a kick at velocity 127."""
    loudness = 10 ** (PLACES[sound].level_db / 20)
    return float(loudness * (max(1, min(127, velocity)) / 127) ** DYNAMIC_POWER)


def tuned(wave: Samples, pitch: float) -> Samples:
    """A stroke on a piece `pitch` times as high, as loud as before; a lower one rings longer."""
    import soxr

    moved: Samples = soxr.resample(wave, RATE * pitch, RATE, quality="HQ").astype(np.float32)
    moved *= np.float32(loudest_rms(wave) / max(1e-9, loudest_rms(moved)))
    return moved


@lru_cache(maxsize=1)
def built_in() -> Voices:
    """The kit that ships with fourlimb. Read once."""
    folder = files(__package__) / FOLDER
    index = msgspec.json.decode((folder / INDEX).read_bytes(), type=dict[str, Pressing])
    return Voices({sound: _layers(index[sound], (folder / index[sound].file).read_bytes()) for sound in SOUNDS})


def _layers(pressing: Pressing, data: bytes) -> tuple[tuple[int, tuple[Samples, ...]], ...]:
    import soundfile

    samples, rate = soundfile.read(BytesIO(data), dtype="float32")
    if rate != RATE:
        raise ValueError(f"{pressing.file} is at {rate} Hz, not {RATE}")
    found: dict[int, list[Samples]] = {}
    for cut, gain in zip(pressing.cuts, pressing.gains, strict=True):
        found.setdefault(cut.velocity, []).append(samples[cut.start : cut.start + cut.count] * np.float32(gain))
    return tuple((velocity, tuple(found[velocity])) for velocity in sorted(found))


def loudest_rms(wave: npt.NDArray[np.floating]) -> float:
    """RMS of the loudest 10 ms."""
    window = int(0.01 * RATE)
    power = np.concatenate([[0.0], np.cumsum(np.asarray(wave, dtype=np.float64) ** 2)])
    if len(wave) <= window:
        return float(np.sqrt(power[-1] / max(1, window)))
    return float(np.sqrt((power[window:] - power[:-window]).max() / window))
