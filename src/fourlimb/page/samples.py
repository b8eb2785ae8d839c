"""The kit's strokes as text, so that the page can strike them itself.

Each sound used becomes a few short MP3 files in base64 (velocity layers, and round robins so that no stroke sounds
twice in a row). MP3 written by libsndfile is decoded sample-exact by browsers and is the same bytes every time.
The room (one short stereo response) and the two clicks are FLAC.
"""

import os
from base64 import b64encode
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from fourlimb.model import SOUNDS, Samples

from .music import SECOND

if TYPE_CHECKING:
    from fourlimb.sound.voicing import Place

RATE_HZ: Final = 44_100
PEAK: Final = 0.9
"""Peak of each encoded stroke; the page multiplies it back (lossy coding overshoots by up to 1 dB)."""
COMPRESSION: Final = 0.4
"""libsndfile's scale, 0 to 1: about 80 kbit/s mono, no audible pre-echo on drums (by ear)."""
SILENCE: Final = 10 ** (-66 / 20)
"""A stroke's tail below this share of its peak is left out."""


def kit(names: Iterable[str], *, mirrored: bool = False) -> dict[str, Any]:
    """Strokes, gains, levels and sides of the voices used (see `music.VOICES`), in their order, and the room.

    The second of a kind is the first, tuned: it has its own `pitch` and side and no strokes of its own.
    """
    from fourlimb.sound.click import click
    from fourlimb.sound.kit import built_in, level
    from fourlimb.sound.render import CLICK_UNDER_DB
    from fourlimb.sound.room import response
    from fourlimb.sound.voicing import DYNAMIC_POWER, place_of, second_of

    wanted, voices = set(names), built_in()
    firsts: dict[str, Any] = {}
    seconds: dict[str, Any] = {}
    struck = [sound for sound in SOUNDS if sound in wanted or f"{SECOND}{sound}" in wanted]
    coded = _coded([take for sound in struck for _, takes in voices.layers[sound] for take in takes])
    for sound in SOUNDS:
        again = f"{SECOND}{sound}" in wanted
        if sound in struck:
            layers = [[velocity, [next(coded) for _ in takes]] for velocity, takes in voices.layers[sound]]
            firsts[sound] = _placed(place_of(sound), mirrored) | {"layers": layers}
        if again:
            tuned = {"of": sound, "pitch": second_of(sound).pitch}
            seconds[f"{SECOND}{sound}"] = _placed(place_of(sound, second=True), mirrored) | tuned
    under = level("kick", 100) * 10 ** (CLICK_UNDER_DB / 20)
    return {
        "sounds": firsts | seconds,
        "room": exact(response()),
        "clicks": [exact(click(first)[:, None] * np.float32(under)) for first in (True, False)],
        "power": DYNAMIC_POWER,
    }


def _coded(takes: Sequence[Samples]) -> Iterator[dict[str, Any]]:
    """All strokes coded, in order: on threads, since the coder works outside Python's lock.

    It writes by calling back into Python, where an interrupt of the main thread would be lost.
    """
    pool = ThreadPoolExecutor(max_workers=os.cpu_count())
    try:
        return iter(list(pool.map(stroke, takes)))
    finally:
        pool.shutdown(cancel_futures=True)


def _placed(place: "Place", mirrored: bool) -> dict[str, float]:
    return {
        "level": round(10 ** (place.level_db / 20), 4),
        "side": -place.side if mirrored else place.side,
        "room": round(10 ** (place.room_db / 20), 4),
    }


def stroke(samples: Samples) -> dict[str, Any]:
    """One stroke, shape (n,), as base64 MP3 and the gain that gives its own level back."""
    peak = float(np.abs(samples).max()) or 1.0
    heard = np.flatnonzero(np.abs(samples) > peak * SILENCE)
    kept = samples[: int(heard[-1]) + 1 if len(heard) else 1] * np.float32(PEAK / peak)
    kept[-min(256, len(kept)) :] *= np.linspace(1, 0, min(256, len(kept)), dtype=np.float32)
    return {"gain": round(peak / PEAK, 4), "mp3": _text(kept, "MP3", compression_level=COMPRESSION)}


def exact(samples: Samples) -> dict[str, Any]:
    """Sound of shape (n, channels) as base64 FLAC and the gain that gives its own level back."""
    peak = float(np.abs(samples).max()) or 1.0
    return {"gain": round(peak, 4), "flac": _text(samples / peak, "FLAC", subtype="PCM_16")}


def _text(samples: Samples, kind: str, **options: Any) -> str:
    import soundfile

    out = BytesIO()
    soundfile.write(out, samples, RATE_HZ, format=kind, **options)
    return b64encode(out.getvalue()).decode("ascii")
