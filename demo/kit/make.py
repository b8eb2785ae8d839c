"""Renders the kit that ships with fourlimb: `python -m demo.kit.make [SOUND ...]`.

Run it after changing a voice, with the names of what changed: the same voices give the same files on one machine, and
files that differ in the last bit on another. Drums are packed as FLAC, 16 bit, mono; strokes
are laid one after another, `kit.json` says where each lies. Tails are cut where they fall under -72 dB of their
peak.
"""

import sys
import zlib
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Final

import msgspec
import numpy as np

from fourlimb.model import SOUNDS, Sound
from fourlimb.sound.kit import FOLDER, INDEX, Cut, Pressing, loudest_rms

from .modes import RATE, Wave
from .voices import VOICES

LAYERS: Final[dict[Sound, tuple[tuple[int, ...], int]]] = {
    "kick": ((50, 85, 118), 3),
    "snare": ((25, 55, 88, 118), 4),
    "rim": ((60, 105), 3),
    "hat_closed": ((35, 70, 105), 4),
    "hat_open": ((60, 105), 2),
    "hat_pedal": ((80,), 3),
    "tom_high": ((45, 80, 112), 3),
    "tom_mid": ((45, 80, 112), 3),
    "tom_floor": ((45, 80, 112), 3),
    "crash": ((60, 110), 2),
    "ride": ((45, 80, 112), 2),
    "ride_bell": ((60, 105), 2),
    "china": ((100,), 2),
    "splash": ((100,), 2),
    "clap": ((95,), 3),
    "cowbell": ((60, 105), 2),
    "tambourine": ((60, 105), 3),
    "shaker": ((60, 105), 4),
}
"""Velocities struck and strokes of each: as many as 4 MB holds, most where an ear tires first."""

FLOOR_DB: Final = -66.0
PEAK: Final = 0.9


def main(names: Sequence[str]) -> None:
    """Render the sounds named, or every one, and write them where the package looks for them."""
    folder = Path(__file__).parents[2] / "src" / "fourlimb" / "sound" / FOLDER
    unknown = set(names) - set(SOUNDS)
    if unknown:
        raise SystemExit(f"no sound is called {', '.join(sorted(unknown))}: use {', '.join(SOUNDS)}")
    folder.mkdir(exist_ok=True)
    index: dict[str, Pressing] = {}
    if names:
        index = msgspec.json.decode((folder / INDEX).read_bytes(), type=dict[str, Pressing])
    for sound in [sound for sound in SOUNDS if not names or sound in names]:
        data, index[sound] = press(sound)
        (folder / index[sound].file).write_bytes(data)
        print(f"{sound}: {len(index[sound].cuts)} strokes, {len(data) // 1024} kB")
    ordered = {sound: index[sound] for sound in SOUNDS}
    (folder / INDEX).write_bytes(msgspec.json.format(msgspec.json.encode(ordered), indent=0) + b"\n")


def press(sound: Sound) -> tuple[bytes, Pressing]:
    """One sound's file and its index."""
    import soundfile

    velocities, takes = LAYERS[sound]
    strokes: list[Wave] = []
    cuts: list[Cut] = []
    gains: list[float] = []
    at = 0
    for velocity in velocities:
        for take in range(takes):
            wave = stroke(sound, velocity, take)
            strokes.append(wave)
            cuts.append(Cut(velocity, at, len(wave)))
            gains.append(round(1 / loudest_rms(wave), 4))
            at += len(wave)
    out = BytesIO()
    soundfile.write(out, np.concatenate(strokes).astype(np.float32), RATE, format="FLAC", subtype="PCM_16")
    return out.getvalue(), Pressing(f"{sound}.flac", tuple(cuts), tuple(gains))


def stroke(sound: Sound, velocity: int, take: int) -> Wave:
    """One stroke, peak at `PEAK`, tail cut."""
    seed = zlib.crc32(f"{sound} {velocity} {take}".encode())
    wave = VOICES[sound](velocity / 127, np.random.default_rng(seed))
    wave = wave / np.abs(wave).max() * PEAK
    loud = np.flatnonzero(np.abs(wave) > PEAK * 10 ** (FLOOR_DB / 20))
    end = min(len(wave), int(loud[-1]) + 1 + int(0.02 * RATE))
    fade = min(end, int(0.02 * RATE))
    cut = wave[:end].copy()
    cut[end - fade :] *= np.linspace(1, 0, fade)
    return cut


if __name__ == "__main__":
    main(sys.argv[1:])
