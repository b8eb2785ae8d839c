"""A sound file -> samples in memory, decoded once; everything later is derived from this decode.

Method: soundfile (libsndfile: WAV, FLAC, OGG, Opus, MP3, AIFF) first; what it cannot read goes to av (FFmpeg: M4A,
MP4, WebM, MKV, AAC) packet by packet, so that a damaged packet costs that packet and not the song. Both give
sample 0 at the same instant; an MP3 without an encoder's info header comes about 25 ms late from every decoder,
which is harmless while all playback uses this decode.

What it returns is float32, finite, at the file's own rate and with at most two channels: more are mixed down by
their mean, because three hours of eight channels would not fit in memory and nothing later looks at single
channels.

What it cannot do: tell which of several streams the teacher meant (it takes the first and says so), or repair what
lies inside a hole (it leaves silence there and says so).
"""

from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from fourlimb.model import Audio, InputError, MissingPartError, Progress, Samples, silent

BLOCK_FRAMES: Final = 1 << 18
MIN_RATE_HZ: Final = 4_000
MAX_RATE_HZ: Final = 384_000
MIN_S: Final = 0.2
"""Shorter than any stroke's ring: not a song (ours)."""
MAX_S: Final = 3 * 3600.0
"""Three hours of stereo at 44.1 kHz are 3.8 GB of float32: past this the file is refused instead of the machine."""
LOUDEST: Final = 64.0
"""A sample this far above full scale (36 dB) comes from a corrupt stream, not from music (ours)."""


def read_audio(path: Path | str, progress: Progress = silent) -> Audio:
    """Decodes a sound or video file; what was odd about it stands in the audio's `notes`.

    Raises InputError, one line, when nothing usable is inside, MissingPartError when only av could read it and av is
    missing.
    """
    file = Path(path)
    _must_be_a_file(file)
    try:
        audio, notes = _by_soundfile(file, progress)
    except _NotReadableError as error:
        audio, notes = _by_av(file, progress, str(error))
    return _checked(file.name, Audio(audio.samples, audio.rate, notes))


class _NotReadableError(Exception):
    """The decoder does not know this file, or lost its way inside."""


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
        with file.open("rb"):
            pass
    except OSError as error:
        raise InputError(f"{name} cannot be read ({error.strerror}): check its permissions") from None


def _by_soundfile(file: Path, progress: Progress) -> tuple[Audio, tuple[str, ...]]:
    import soundfile

    try:
        with soundfile.SoundFile(str(file)) as source:
            _check_shape(file.name, source.samplerate, max(source.frames, 0) / max(source.samplerate, 1))
            blocks, done, total = [], 0, max(source.frames, 1)
            while len(block := source.read(BLOCK_FRAMES, dtype="float32", always_2d=True)):
                blocks.append(_few_channels(block))
                done += len(block)
                progress("reading the recording", min(done / total, 1.0))
                _check_shape(file.name, source.samplerate, done / source.samplerate)
            rate, promised = source.samplerate, source.frames
    except (soundfile.LibsndfileError, RuntimeError, TypeError) as error:
        raise _NotReadableError(str(error)) from None
    if not blocks:
        raise InputError(f"{file.name} has a header but no sound in it: export or copy it again")
    short = done < promised * 0.98 and promised < MAX_S * rate
    notes = (f"{file.name} ends early, at {_clock(done / rate)}: the rest of the file is missing",) if short else ()
    return Audio(np.concatenate(blocks), rate), notes


def _by_av(file: Path, progress: Progress, why: str) -> tuple[Audio, tuple[str, ...]]:
    name = file.name
    try:
        import av
    except ImportError:
        raise MissingPartError(
            f'{name} needs the video part to be read (M4A, MP4, WebM or damaged files): pip install "fourlimb[video]"'
        ) from None
    av.logging.set_level(av.logging.PANIC)
    try:
        with av.open(str(file)) as container:
            if not container.streams.audio:
                raise InputError(f"{name} has no sound in it (picture only): choose a file with a sound track")
            notes = _streams_said(name, len(container.streams.audio))
            audio, bad = _av_frames(name, container, progress)
    except (av.error.FFmpegError, OSError, EOFError, ValueError) as error:
        raise InputError(
            f"{name} is not a sound file that can be read ({_short(why)}; {_short(str(error))}): "
            "export it as WAV, FLAC or MP3, or copy it again"
        ) from None
    if bad:
        s = "s" if bad > 1 else ""
        notes += (f"{name} is damaged: {bad} piece{s} could not be decoded and stay silent or missing",)
    elif "FLAC" in why or name.lower().endswith(".flac"):
        notes += (f"{name} is damaged or cut short: what could be read ends at {_clock(audio.duration_s)}",)
    return audio, notes


def _streams_said(name: str, count: int) -> tuple[str, ...]:
    return (f"{name} holds {count} sound tracks: the first one is used",) if count > 1 else ()


def _av_frames(name: str, container: Any, progress: Progress) -> tuple[Audio, int]:
    """Decodes the first sound stream packet by packet, silence where frames are missing."""
    import av

    stream = container.streams.audio[0]
    rate = int(stream.rate or 0)
    _check_shape(name, rate, float(container.duration or 0) / 1e6)
    resampler = av.AudioResampler(format="fltp")
    blocks: list[Samples] = []
    done, bad, origin = 0, 0, None
    total_s = max(float(container.duration or 0) / 1e6, 1e-3)
    for packet in _packets(container, stream):
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
                blocks.append(np.zeros((hole, blocks[-1].shape[1] if blocks else 1), np.float32))
                done += hole
            for part in resampler.resample(frame):
                blocks.append(_few_channels(part.to_ndarray().T.astype(np.float32)))
                done += len(blocks[-1])
        _check_shape(name, rate, done / rate)
        progress("reading the recording", min(done / rate / total_s, 1.0))
    if not done:
        raise InputError(f"{name} has a header but no sound in it: export or copy it again")
    return Audio(_joined(blocks), rate), bad


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


def _joined(blocks: list[Samples]) -> Samples:
    """All blocks with the same number of channels (a stream may change from mono to stereo)."""
    width = max(block.shape[1] for block in blocks)
    return np.concatenate([b if b.shape[1] == width else np.repeat(b[:, :1], width, axis=1) for b in blocks])


def _few_channels(block: npt.NDArray[np.float32]) -> Samples:
    if block.shape[1] <= 2:
        return block
    mixed: Samples = block.mean(axis=1, keepdims=True, dtype=np.float32)
    return mixed


def _check_shape(name: str, rate: int, seconds: float) -> None:
    if not MIN_RATE_HZ <= rate <= MAX_RATE_HZ:
        raise InputError(f"{name} has {rate} samples a second: convert it to 44100 or 48000 Hz")
    if seconds > MAX_S and seconds < 1e9:  # a stream of unknown length promises an absurd one
        raise InputError(f"{name} is longer than 3 hours ({_clock(seconds)}): cut out the song")


def _checked(name: str, audio: Audio) -> Audio:
    if audio.duration_s < MIN_S:
        raise InputError(f"{name} is only {audio.duration_s:.2f} s long: choose a recording of a song")
    for start in range(0, len(audio.samples), BLOCK_FRAMES):
        block = audio.samples[start : start + BLOCK_FRAMES]
        wrong = ~np.isfinite(block).all(axis=1)
        if wrong.any():
            at = (start + int(wrong.argmax())) / audio.rate
            raise InputError(f"{name} holds samples that are not numbers, first at {at:.3f} s: export it again")
    peak = max(float(audio.samples.max()), -float(audio.samples.min()))
    if peak > LOUDEST:
        np.clip(audio.samples, -1.0, 1.0, out=audio.samples)
    return audio


def _clock(seconds: float) -> str:
    return f"{int(seconds // 60)}:{seconds % 60:04.1f}"


def _short(message: str) -> str:
    return " ".join(message.split())[:80].rstrip(".: ")
