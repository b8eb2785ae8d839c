"""Pictures and sound -> a video file, with chapters and captions inside.

MP4 with H.264 and AAC, or WebM with VP9 and Opus. One encoder thread and no clock or chance in the file, so the same
film is the same bytes with the same libraries. The only module that encodes; PyAV is imported when it is used.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import IO, TYPE_CHECKING, Any, Final, Literal

import numpy as np

from fourlimb.model import FourlimbError, InputError, MissingPartError, Samples
from fourlimb.sound.kit import RATE

from .captions import Caption, Chapter, escaped
from .stage import FRAMES_A_SECOND

if TYPE_CHECKING:
    from .canvas import Plane

Container = Literal["mp4", "webm"]

MILLI: Final = Fraction(1, 1000)


@dataclass(frozen=True)
class Coding:
    """How a container's picture, sound and captions are coded."""

    picture: str
    settings: dict[str, str]
    sound: str
    rate: int
    captions: str


SOUND_BITS: Final = 160_000
"""Bits a second of the sound (transparent enough for drums; common practice)."""

CODINGS: Final[dict[Container, Coding]] = {
    "mp4": Coding(
        "libx264",
        {"preset": "veryfast", "crf": "23", "tune": "stillimage", "x264-params": "chroma-qp-offset=-12"},
        "aac",
        RATE,
        "mov_text",
    ),
    "webm": Coding(
        "libvpx-vp9", {"deadline": "realtime", "cpu-used": "8", "crf": "32", "b:v": "0"}, "libopus", 48_000, "webvtt"
    ),
}
"""Settings that are cheap for a page with a moving mark: 16 s of one core and some 3 MB a minute at full size
(measured; slower presets win nothing). Colour is coded finer than luma: else the mark leaves a faint trail behind."""


INSTALL: Final = '"fourlimb[video]"'


OLDEST: Final = 18
"""PyAV's first version that writes captions into a file without harm (17 frees them too early, measured)."""


def needs_av() -> Any:
    """PyAV. Raises MissingPartError, one line, where it is not installed or too old."""
    try:
        import av
    except ImportError:
        raise MissingPartError(
            f"films need the video part, which is not installed: pip install {INSTALL} "
            "(everything else works without it)"
        ) from None
    if int(av.__version__.partition(".")[0]) < OLDEST:
        raise MissingPartError(f"films need a newer PyAV than {av.__version__}: pip install --upgrade {INSTALL}")
    av.logging.set_level(av.logging.PANIC)
    return av


class Writer:
    """One film on its way into an open file. Call `picture` and `sound` in step, then `close`."""

    def __init__(
        self,
        file: IO[bytes],
        container: Container,
        size: tuple[int, int],
        title: str,
        chapters: Sequence[Chapter],
        captions: Sequence[Caption],
    ) -> None:
        self._av = needs_av()
        self._coding = CODINGS[container]
        self._container = container
        self._out = self._av.open(file, "w", format=container, options={"fflags": "+bitexact"})
        self._picture = self._picture_stream(size)
        self._sound = self._out.add_stream(self._coding.sound, rate=self._coding.rate, layout="stereo")
        self._sound.bit_rate = SOUND_BITS
        self._words = self._out.add_mux_stream(self._coding.captions)
        self._words.time_base = MILLI
        self._out.metadata["title"] = title
        self._out.set_chapters([_chapter(number, one) for number, one in enumerate(chapters, start=1)])
        self._waiting = list(captions)
        self._kept: list[object] = []  # the muxer reads them later
        self._frames = self._samples = 0
        self._resampler: Any = None

    def _picture_stream(self, size: tuple[int, int]) -> Any:
        stream = self._out.add_stream(self._coding.picture, rate=FRAMES_A_SECOND, options=self._coding.settings)
        stream.width, stream.height = size
        stream.pix_fmt = "yuv420p"
        stream.codec_context.thread_count = 1
        for name in ("color_primaries", "color_trc", "colorspace"):
            setattr(stream.codec_context, name, 1)  # BT.709
        stream.codec_context.color_range = 1  # 16 to 235
        return stream

    def picture(self, planes: "Plane") -> None:
        """One frame more: I420, shape (3/2 height, width)."""
        start_ms = self._frames * 1000 / FRAMES_A_SECOND
        while self._waiting and self._waiting[0].start_s * 1000 <= start_ms:
            self._caption(self._waiting.pop(0))
        frame = self._av.VideoFrame.from_ndarray(planes, format="yuv420p")
        frame.pts, frame.time_base = self._frames, Fraction(1, FRAMES_A_SECOND)
        self._frames += 1
        self._mux(self._picture.encode(frame))

    def sound(self, samples: Samples) -> None:
        """Stereo at 44.1 kHz, shape (n, 2), following on what came before."""
        if self._coding.rate != RATE:
            samples = self._resampled(samples, last=False)
        self._sounded(samples)

    def _resampled(self, samples: Samples, *, last: bool) -> Samples:
        import soxr

        if self._resampler is None:
            self._resampler = soxr.ResampleStream(RATE, self._coding.rate, 2, dtype="float32", quality="HQ")
        made: Samples = self._resampler.resample_chunk(samples, last=last)
        return made

    def _sounded(self, samples: Samples) -> None:
        if not len(samples):
            return
        planar = np.ascontiguousarray(np.clip(samples, -1.0, 1.0).T)
        frame = self._av.AudioFrame.from_ndarray(planar, format="fltp", layout="stereo")
        frame.sample_rate = self._coding.rate
        frame.pts, frame.time_base = self._samples, Fraction(1, self._coding.rate)
        self._samples += len(samples)
        self._mux(self._sound.encode(frame))

    def _caption(self, caption: Caption) -> None:
        text = caption.text.encode() if self._container == "mp4" else escaped(caption.text).encode()
        data = len(text).to_bytes(2, "big") + text if self._container == "mp4" else text
        packet = self._av.Packet(data)
        packet.pts = packet.dts = round(caption.start_s * 1000)
        packet.duration = round(caption.end_s * 1000) - packet.pts
        packet.time_base, packet.stream = MILLI, self._words
        self._kept.append((packet, data))
        self._mux(packet)

    def close(self) -> None:
        """What the encoders still hold, and the file's index."""
        for caption in self._waiting:
            self._caption(caption)
        if self._resampler is not None:
            self._sounded(self._resampled(np.zeros((0, 2), np.float32), last=True))
        self._mux(self._picture.encode(None))
        self._mux(self._sound.encode(None))
        try:
            self._out.close()
        except OSError as error:
            raise _not_written(error) from None

    def _mux(self, packets: Any) -> None:
        try:
            self._out.mux(packets)
        except OSError as error:
            raise _not_written(error) from None


def _not_written(error: OSError) -> FourlimbError:
    return InputError(
        f"the film cannot be written ({error.strerror or error}): free some space or choose another place"
    )


def _chapter(number: int, chapter: Chapter) -> dict[str, Any]:
    start, end = round(chapter.start_s * 1000), round(chapter.end_s * 1000)
    name = " ".join(chapter.name.split())
    return {"id": number, "start": start, "end": end, "time_base": MILLI, "metadata": {"title": name}}
