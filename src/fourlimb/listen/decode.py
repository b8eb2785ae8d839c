"""A sound file -> a recording; everything later is derived from this decode.

Method: soundfile first, what it cannot read goes to av (`decoders`). A song is decoded once and held; a recording of
more than `HELD` samples is decoded anew each time it is read, so that three hours need no more memory than ten
minutes. Either way the samples are the same: float32, finite, at the file's own rate, with one or two channels.

What it cannot do: notice that a long file was replaced by another of the same length while it was heard.
"""

from codecs import getincrementaldecoder
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from fourlimb.model import Audio, InputError, Progress, Recording, Samples, silent
from fourlimb.model.audio import in_blocks, peak_size

from .decoders import ByAv, BySoundfile, Decoder, NotReadableError

MIN_S: Final = 0.2
"""Shorter than any stroke's ring: not a song (ours)."""
HELD: Final = 1 << 25
"""Samples of all channels that are held: 134 MB, six minutes of stereo at 44.1 kHz."""
LOUDEST: Final = 64.0
"""A sample this far above full scale (36 dB) comes from a corrupt stream, not from music (ours)."""


def open_recording(path: Path | str, progress: Progress = silent, held: int = HELD) -> Recording:
    """Opens a sound or video file and reads it once; what was odd about it stands in the recording's `notes`.

    held : samples of all channels up to which it stays in memory.
    Raises InputError, one line, when nothing usable is inside, MissingPartError when only av could read it and av is
    missing; while a long recording is read again, InputError when its file has changed.
    """
    file = Path(path)
    _must_be_a_file(file)
    try:
        return _opened(file.name, lambda: BySoundfile(file), held, progress)
    except NotReadableError as error:
        why = str(error)
        return _opened(file.name, lambda: ByAv(file, why), held, progress)


def read_audio(path: Path | str, progress: Progress = silent) -> Audio:
    """The same, in memory whatever its length."""
    recording = open_recording(path, progress)
    if isinstance(recording, Audio):
        return recording
    return Audio(next(recording.blocks(recording.length)), recording.rate, recording.notes)


HEAD: Final = 512
OTHER_KINDS: Final = (
    (b"%PDF", "a PDF"), (b"PK\x03\x04", "a packed folder or an office document"), (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"), (b"GIF8", "a picture"),
)  # fmt: skip
"""How files begin that get taken for recordings (their formats' standards, from memory)."""


def kind_of(head: bytes) -> str:
    """What a file is by its first bytes where that is surely no sound, as "a picture"; else ""."""
    for begins, kind in OTHER_KINDS:
        if head.startswith(begins):
            return kind
    if b"\0" in head:
        return ""
    try:
        text = getincrementaldecoder("utf-8")().decode(head)  # the last letter may be cut
    except UnicodeDecodeError:
        return ""
    if not all(letter.isprintable() or letter.isspace() for letter in text):
        return ""
    return "a web page" if text.lstrip().lower().startswith(("<!doctype html", "<html")) else "text"


def _must_be_a_file(file: Path) -> None:
    name = file.name
    try:
        size = file.stat().st_size
    except OSError as error:
        raise InputError(f"{name} cannot be opened ({error.strerror}): check the name and the folder") from None
    if file.is_dir():
        raise InputError(f"{name} is a folder: name one sound file inside it")
    if size == 0:
        raise InputError(f"{name} is empty (0 bytes): copy or download it again")
    try:
        with file.open("rb") as opened:
            kind = kind_of(opened.read(HEAD))
    except OSError as error:
        raise InputError(f"{name} cannot be read ({error.strerror}): check its permissions") from None
    if kind:
        raise InputError(f"{name} is {kind}, not a recording: choose the sound file itself")


def _opened(name: str, decoder_of: Callable[[], Decoder], held: int, progress: Progress) -> Recording:
    decoder = decoder_of()
    seen = _Seen(name)
    kept: list[Samples] = []
    for piece in decoder.pieces(progress):
        seen.add(piece, decoder.rate)
        if seen.length * seen.channels <= held:
            kept.append(piece)
        else:
            kept.clear()
    rate, length = decoder.rate, seen.length
    if length < MIN_S * rate:
        raise InputError(f"{name} is only {length / rate:.2f} s long: choose a recording of a song")
    if kept and length * seen.channels <= held:
        samples = np.concatenate(list(_alike(kept, seen.channels, seen.corrupt)))
        return Audio(samples, rate, decoder.notes)
    loudest = np.minimum(seen.loudest(), 1.0) if seen.corrupt else seen.loudest()
    return _Reread(name, decoder_of, rate, length, seen.channels, decoder.notes, seen.corrupt, loudest)


class _Seen:
    """What is known of a recording whose pieces go by. Raises InputError on samples that are not numbers."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.length, self.channels, self.peak = 0, 1, 0.0
        self._rest = np.zeros(0, np.float32)
        self._loudest = [self._rest]

    def add(self, piece: Samples, rate: int) -> None:
        """One piece more."""
        loud = np.abs(piece[:, 0])
        for k in range(1, piece.shape[1]):
            np.maximum(loud, np.abs(piece[:, k]), out=loud)
        wrong = ~np.isfinite(loud)
        if wrong.any():
            at = (self.length + int(wrong.argmax())) / rate
            raise InputError(f"{self.name} holds samples that are not numbers, first at {at:.3f} s: export it again")
        self.length += len(piece)
        self.channels = max(self.channels, piece.shape[1])
        self.peak = max(self.peak, float(loud.max(initial=0.0)))
        size, loud = peak_size(rate), np.concatenate([self._rest, loud])
        whole = len(loud) // size * size
        self._loudest.append(loud[:whole].reshape(-1, size).max(axis=1))
        self._rest = loud[whole:]

    def loudest(self) -> Samples:
        """See `Recording.peaks`."""
        return np.concatenate(self._loudest)

    @property
    def corrupt(self) -> bool:
        """Whether samples have to be bounded."""
        return self.peak > LOUDEST


def _alike(pieces: Iterable[Samples], channels: int, corrupt: bool) -> Iterator[Samples]:
    """Pieces of the same number of channels (a stream may change from mono to stereo), bounded where corrupt."""
    for piece in pieces:
        wide = piece if piece.shape[1] == channels else np.repeat(piece[:, :1], channels, axis=1)
        yield np.clip(wide, -1.0, 1.0) if corrupt else wide


@dataclass(frozen=True, eq=False)
class _Reread:
    """A long recording (see `Recording`), decoded anew each time it is read."""

    name: str
    decoder_of: Callable[[], Decoder]
    rate: int
    length: int
    channels: int
    notes: tuple[str, ...]
    corrupt: bool
    loudest: Samples

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.length / self.rate

    def blocks(self, size: int) -> Iterator[Samples]:
        """All samples from the start. Raises InputError when the file is no longer what it was."""
        return in_blocks(_alike(self._again(), self.channels, self.corrupt), size)

    def _again(self) -> Iterator[Samples]:
        changed = InputError(f"{self.name} changed while it was heard: try again when nothing writes to it")
        read = 0
        try:
            for piece in self.decoder_of().pieces(silent):
                read += len(piece)
                if read > self.length:
                    raise changed
                yield piece
        except (NotReadableError, InputError):
            raise changed from None
        if read < self.length:
            raise changed

    def peaks(self) -> Samples:
        """The loudest sample of every hundredth of a second."""
        return self.loudest
