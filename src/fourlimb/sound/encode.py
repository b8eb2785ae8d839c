"""Sound -> bytes of a file: WAV, FLAC, MP3, OGG.

WAV, FLAC and MP3 are the same bytes every time; an OGG stream carries a random serial number. All four decode with
their first sample in place (the MP3 has the header that says how much to skip).
"""

from io import BytesIO
from typing import Final, Literal

import numpy as np

from ..model import Audio, InputError

Format = Literal["wav", "flac", "mp3", "ogg"]

PIECE: Final = 16_384
"""Frames written at a time: one large write of Vorbis overflows the stack (libsndfile issue 1095)."""

QUALITY: Final[dict[Format, tuple[str, str, float | None]]] = {
    "wav": ("WAV", "PCM_16", None),
    "flac": ("FLAC", "PCM_16", None),
    "mp3": ("MP3", "MPEG_LAYER_III", 0.5),
    "ogg": ("OGG", "VORBIS", 0.5),
}
"""Container, coding, and compression 0 (best) to 1: 0.5 gives about 136 kbit/s of stereo MP3 (measured)."""

MIME: Final[dict[Format, str]] = {"wav": "audio/wav", "flac": "audio/flac", "mp3": "audio/mpeg", "ogg": "audio/ogg"}


def encode(audio: Audio, format: Format, compression: float | None = None) -> bytes:
    """The bytes of a file.

    `compression` 0 to 0.95 for MP3 and OGG, None: the usual. Values are clipped at full scale.
    """
    import soundfile

    if format not in QUALITY:
        raise InputError(f'"{format}" cannot be written: use {", ".join(QUALITY)}')
    container, coding, usual = QUALITY[format]
    chosen = usual if compression is None or usual is None else max(0.0, min(0.95, compression))
    out = BytesIO()
    settings = {} if chosen is None else {"compression_level": chosen}
    channels = audio.samples.shape[1]
    with soundfile.SoundFile(out, "w", audio.rate, channels, format=container, subtype=coding, **settings) as file:
        for start in range(0, len(audio.samples), PIECE):
            file.write(np.clip(audio.samples[start : start + PIECE], -1.0, 1.0))
    return out.getvalue()
