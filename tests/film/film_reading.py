"""An independent reading of a film's file."""

from fractions import Fraction
from io import BytesIO
from typing import Any, NamedTuple

import numpy as np

HEIGHT = 180
"""Pixels: the smallest picture that is made, so that tests are quick."""


class ReadBack(NamedTuple):
    """A film as an independent reading of the file has it. pictures : I420; sound : shape (n, channels), 44.1 kHz."""

    pictures: list[np.ndarray]
    times_s: list[float]
    sound: np.ndarray
    chapters: list[tuple[float, float, str]]
    captions: list[tuple[float, float, str]]
    codecs: tuple[str, str]


def read_back(av: Any, data: bytes) -> ReadBack:
    pictures, times, sound, captions = [], [], [], []
    with av.open(BytesIO(data)) as film:
        video, audio, words = film.streams.video[0], film.streams.audio[0], film.streams.subtitles[0]
        codecs = video.codec_context.name, audio.codec_context.name
        chapters = [
            (
                float(c["start"] * Fraction(c["time_base"])),
                float(c["end"] * Fraction(c["time_base"])),
                c["metadata"]["title"],
            )
            for c in film.chapters()
        ]
        resampler = av.AudioResampler(format="fltp", rate=44_100)
        for packet in film.demux(video, audio, words):
            if packet.stream is words:
                text = bytes(packet)[2:] if film.format.name.startswith("mov") else bytes(packet)
                if text:
                    start = float(packet.pts * packet.time_base)
                    captions.append((start, start + float(packet.duration * packet.time_base), text.decode()))
                continue
            for frame in packet.decode():
                if packet.stream is video:
                    pictures.append(frame.to_ndarray())
                    times.append(frame.time)
                else:
                    sound += [part.to_ndarray().T for part in resampler.resample(frame)]
    return ReadBack(pictures, times, np.concatenate(sound), chapters, captions, codecs)
