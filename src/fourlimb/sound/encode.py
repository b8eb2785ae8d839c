"""Sound -> bytes of a file: WAV, FLAC, MP3, OGG.

The same sound gives the same bytes (the random serial number of an OGG stream is replaced). All four decode with
their first sample in place (the MP3 has the header that says how much to skip).
"""

import struct
import zlib
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

SERIAL: Final = 0x46344C42
REFLECT: Final = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))

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
    return _with_serial(out.getvalue(), SERIAL) if format == "ogg" else out.getvalue()


def _with_serial(stream: bytes, serial: int) -> bytes:
    """An OGG stream with its serial number replaced in every page (RFC 3533.

    bytes 14-17; 22-25 hold the checksum).
    """
    pages, at = bytearray(stream), 0
    while at < len(pages):
        segments = pages[at + 26]
        size = 27 + segments + sum(pages[at + 27 : at + 27 + segments])
        struct.pack_into("<II", pages, at + 14, serial, struct.unpack_from("<I", pages, at + 18)[0])
        struct.pack_into("<I", pages, at + 22, 0)
        struct.pack_into("<I", pages, at + 22, _checksum(bytes(pages[at : at + size])))
        at += size
    return bytes(pages)


def _checksum(page: bytes) -> int:
    """CRC-32 as OGG wants it: polynomial 04C11DB7, bits not reflected, nothing inverted.

    zlib has the reflected one: reflect the bytes going in and the number coming out.
    """
    reflected = zlib.crc32(page.translate(REFLECT), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{reflected:032b}"[::-1], 2)
