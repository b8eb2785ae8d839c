"""Two decoders that give a file's sound in pieces from its start.

Method: soundfile (libsndfile: WAV, FLAC, OGG, Opus, MP3, AIFF), and av (FFmpeg: M4A, MP4, WebM, MKV, AAC) packet by
packet, so that a damaged packet costs that packet and not the song. Both give sample 0 at the same instant; an MP3
without an encoder's info header comes about 25 ms late from every decoder.

Pieces are float32, shape (n, 1 or 2): more channels are mixed down by their mean, because nothing later looks at
single channels. In a broken stream the number may change from piece to piece.

What they cannot do: tell which of several streams the teacher meant (the first is taken, and that is said), or repair
what lies inside a hole (it stays silent, and that is said).
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, Protocol

import numpy as np
import numpy.typing as npt

from fourlimb.model import InputError, MissingPartError, Progress, Samples

from .aside import Aside

PIECE: Final = 1 << 18
MIN_RATE_HZ: Final = 4_000
MAX_RATE_HZ: Final = 384_000
MAX_S: Final = 3 * 3600.0
"""A longer file is refused: what is heard in three hours takes .7 GB and ten minutes already (docs/ears.md)."""
READING: Final = "reading the recording"


class NotReadableError(Exception):
    """The decoder does not know this file, or lost its way inside."""


class Decoder(Protocol):
    """Reads one file from its start. `rate` is known with the first piece, `notes` are complete after the last."""

    rate: int
    notes: tuple[str, ...]

    def pieces(self, progress: Progress) -> Iterator[Samples]:
        """All of the sound. Raises NotReadableError, at any piece; InputError when no decoder could do better."""
        ...


class BySoundfile:
    """libsndfile (see `Decoder`)."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.rate = 0
        self.notes: tuple[str, ...] = ()
        self._said = Aside()

    def pieces(self, progress: Progress) -> Iterator[Samples]:
        """All of the sound."""
        import soundfile

        try:
            with self._said.taken():
                source = soundfile.SoundFile(str(self.file))
            with source:
                yield from self._read(source, progress)
        except (soundfile.LibsndfileError, RuntimeError, TypeError) as error:
            raise NotReadableError(str(error)) from None

    def _read(self, source: Any, progress: Progress) -> Iterator[Samples]:
        self.rate, done, promised = source.samplerate, 0, source.frames
        _check_shape(self.file.name, self.rate, max(promised, 0) / max(self.rate, 1))
        while len(piece := self._piece(source)):
            done += len(piece)
            progress(READING, min(done / max(promised, 1), 1.0))
            _check_shape(self.file.name, self.rate, done / self.rate)
            yield _few_channels(piece)
        if not done:
            raise InputError(f"{self.file.name} has a header but no sound in it: export or copy it again")
        short = done < promised * 0.98 and promised < MAX_S * self.rate
        if self._damaged and short:
            raise NotReadableError("lost its way in a damaged stream")
        if self._damaged:
            self.notes = (f"{self.file.name} is damaged: some of it could not be decoded and may sound wrong",)
        elif short:
            at = clock(done / self.rate)
            self.notes = (f"{self.file.name} ends early, at {at}: the rest of the file is missing",)

    def _piece(self, source: Any) -> npt.NDArray[np.float32]:
        with self._said.taken():
            piece: npt.NDArray[np.float32] = source.read(PIECE, dtype="float32", always_2d=True)
        return piece

    @property
    def _damaged(self) -> bool:
        """Whether the decoder has spoken of errors, or of bytes that it had to skip."""
        return "error:" in self._said.text or "Skipped" in self._said.text


class ByAv:
    """FFmpeg (see `Decoder`). `why`: what the other decoder said."""

    def __init__(self, file: Path, why: str) -> None:
        self.file = file
        self.why = why
        self.rate = 0
        self.notes: tuple[str, ...] = ()

    def pieces(self, progress: Progress) -> Iterator[Samples]:
        """All of the sound, silence where frames are missing."""
        name = self.file.name
        try:
            import av
        except ImportError:
            raise MissingPartError(
                f"{name} needs the video part to be read (M4A, MP4, WebM or damaged files): "
                'pip install "fourlimb[video]"'
            ) from None
        av.logging.set_level(av.logging.PANIC)
        try:
            with av.open(str(self.file)) as container:
                yield from _in_runs(self._frames(container, progress))
        except (av.error.FFmpegError, OSError, EOFError, ValueError):
            raise InputError(
                f"{name} is not a sound file that can be read, or its beginning is damaged: export it as WAV, FLAC "
                "or MP3, or copy it again"
            ) from None

    def _frames(self, container: Any, progress: Progress) -> Iterator[Samples]:
        import av

        name, streams = self.file.name, container.streams.audio
        if not streams:
            raise InputError(f"{name} has no sound in it (picture only): choose a file with a sound track")
        self.rate = rate = int(streams[0].rate or 0)
        total_s = float(container.duration or 0) / 1e6
        _check_shape(name, rate, total_s)
        resampler = av.AudioResampler(format="fltp")
        done, bad, width, origin = 0, 0, 1, None
        for packet in _packets(container, streams[0]):
            try:
                frames = packet.decode()
            except (av.error.FFmpegError, OSError, EOFError):
                bad += 1
                continue
            for frame in frames:
                at = None if frame.pts is None else round(float(frame.pts * frame.time_base) * rate)
                origin = at if origin is None else origin
                hole = 0 if at is None or origin is None else at - origin - done
                if bad and rate // 100 < hole < rate * 600:  # smaller steps are rounding of the container's clock
                    done += hole
                    yield np.zeros((hole, width), np.float32)
                for part in resampler.resample(frame):
                    piece = _few_channels(part.to_ndarray().T.astype(np.float32))
                    done, width = done + len(piece), piece.shape[1]
                    yield piece
            _check_shape(name, rate, done / rate)
            progress(READING, min(done / rate / max(total_s, 1e-3), 1.0))
        if not done:
            raise InputError(f"{name} has a header but no sound in it: export or copy it again")
        self.notes = (*_streams_said(name, len(streams)), *self._damage_said(bad, done / rate))

    def _damage_said(self, bad: int, ends_s: float) -> tuple[str, ...]:
        name = self.file.name
        if bad:
            s = "s" if bad > 1 else ""
            return (f"{name} is damaged: {bad} piece{s} could not be decoded and stay silent or missing",)
        if "FLAC" in self.why or name.lower().endswith(".flac"):
            return (f"{name} is damaged or cut short: what could be read ends at {clock(ends_s)}",)
        return ()


def _streams_said(name: str, count: int) -> tuple[str, ...]:
    return (f"{name} holds {count} sound tracks: the first one is used",) if count > 1 else ()


def _packets(container: Any, stream: Any) -> Any:
    """Packets of one stream; a container that breaks off in the middle just ends."""
    import av

    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets, None)
        except (av.error.FFmpegError, OSError, EOFError):
            return
        if packet is None:
            return
        yield packet


def _in_runs(pieces: Iterator[Samples]) -> Iterator[Samples]:
    """Small pieces of one width joined to about `PIECE` samples."""
    held: list[Samples] = []
    count = 0
    for piece in pieces:
        if held and (held[0].shape[1] != piece.shape[1] or count >= PIECE):
            yield np.concatenate(held)
            held, count = [], 0
        held.append(piece)
        count += len(piece)
    if held:
        yield np.concatenate(held)


def _few_channels(piece: npt.NDArray[np.float32]) -> Samples:
    if piece.shape[1] <= 2:
        return piece
    mixed: Samples = piece.mean(axis=1, keepdims=True, dtype=np.float32)
    return mixed


def _check_shape(name: str, rate: int, seconds: float) -> None:
    if not MIN_RATE_HZ <= rate <= MAX_RATE_HZ:
        raise InputError(f"{name} has {rate} samples a second: convert it to 44100 or 48000 Hz")
    if seconds > MAX_S and seconds < 1e9:  # a stream of unknown length promises an absurd one
        raise InputError(f"{name} is longer than 3 hours ({clock(seconds)}): cut out the song")


def clock(seconds: float) -> str:
    """As a player shows it: "1:02.0"."""
    return f"{int(seconds // 60)}:{seconds % 60:04.1f}"
