"""Which kind of song a file is, and its first reading: sound is heard, MIDI and MusicXML are read."""

import hashlib
from pathlib import Path

import msgspec

from fourlimb.model import Hit, InputError, Listening, Progress, Song, silent
from fourlimb.model.heard import Roll, SourceKind

from .grouping import with_groups

MAX_SCORE_BYTES = 64 * 1024 * 1024
"""A MIDI or MusicXML file larger than this is not one (ours; a whole opera is about 20 MB)."""

MIDI_ENDINGS = {".mid", ".midi", ".smf", ".kar"}
MUSICXML_ENDINGS = {".musicxml", ".mxl", ".xml"}


def hear_song(path: Path, *, title: str | None = None, progress: Progress = silent) -> Listening:
    """Everything heard (or read) in a song file.

    Raises InputError, one line, when the file is missing, not a song, damaged, or holds nothing to work with.
    """
    kind, digest = kind_of(path)
    name = title if title is not None else title_of(path)
    if kind == "audio":
        return with_groups(_hear_sound(path, name, digest, progress))
    read = _read_midi(path) if kind == "midi" else _read_musicxml(path)
    return with_groups(_titled(read, name, digest, title is not None))


def kind_of(path: Path) -> tuple[SourceKind, str]:
    """What kind of file it is, by its first bytes or its name, and its SHA-256. Raises InputError as `hear_song`."""
    if path.is_dir():
        raise InputError(f"{path} is a folder: name one file in it")
    if not path.exists():
        raise InputError(f"{path}: there is no such file: check the name and the folder")
    try:
        with open(path, "rb") as file:
            head = file.read(4)
            file.seek(0)
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise InputError(f"{path} cannot be read ({error.strerror}): check that you may open it") from None
    if not head:
        raise InputError(f"{path} is empty (0 bytes): copy it again")
    ending = path.suffix.lower()
    if head == b"MThd" or ending in MIDI_ENDINGS:
        return "midi", digest
    return ("musicxml" if ending in MUSICXML_ENDINGS else "audio"), digest


def title_of(path: Path) -> str:
    """A song's title from its file name: "night_ferry.wav" -> "night ferry"."""
    return " ".join(path.stem.replace("_", " ").split()) or "song"


def _score_bytes(path: Path) -> bytes:
    if path.stat().st_size > MAX_SCORE_BYTES:
        raise InputError(f"{path} is {path.stat().st_size >> 20} MB, too large for a score: is it the right file?")
    return path.read_bytes()


def _read_midi(path: Path) -> Listening:
    from fourlimb import listen

    return listen.read_midi(_score_bytes(path), name=str(path))


def _read_musicxml(path: Path) -> Listening:
    from fourlimb import engrave, listen

    score = engrave.read_musicxml(_score_bytes(path), name=str(path))
    hits = tuple(
        Hit(
            id=number,
            time_s=round(score.grid.time_at(stroke.bar, stroke.position, swung=True), 4),
            sound=stroke.piece,
            loudness_db=round(_decibels(stroke.velocity), 1),
            confidence=1.0,
            bar=stroke.bar,
            position=stroke.position,
            grace=stroke.grace,
            struck=stroke.struck,
            stress="ghost" if stroke.ghost else "accent" if stroke.accent else "plain",
            roll=Roll(notes=stroke.roll, lasts=stroke.lasts, tied=stroke.tied) if stroke.rolls else None,
            second=stroke.second,
            by="file",
        )
        for number, stroke in enumerate(score.strokes, start=1)
    )
    sections, landmarks, _ = listen.form(score.grid, hits)
    song = Song(
        duration_s=round(score.grid.end_s, 4),
        sample_rate_hz=0,
        sha256="",
        title=score.title,
        kind="musicxml",
        credits=score.credits,
    )
    return Listening(
        song=song,
        grid=score.grid,
        hits=hits,
        sections=score.sections or sections,
        landmarks=landmarks,
        notes=score.notes,
    )


def _decibels(velocity: int) -> float:
    """MIDI velocity as level below the loudest stroke: 40 log10(v / 127) (the square law usual in General MIDI)."""
    import math

    return 40 * math.log10(max(velocity, 1) / 127)


def _titled(heard: Listening, name: str, digest: str, forced: bool) -> Listening:
    title = name if forced or not heard.song.title.strip() else heard.song.title
    song = msgspec.structs.replace(heard.song, sha256=digest, title=title)
    return msgspec.structs.replace(heard, song=song)


def _hear_sound(path: Path, name: str, digest: str, progress: Progress) -> Listening:
    from fourlimb import listen

    audio = listen.open_recording(path, progress)
    song = Song(duration_s=round(audio.duration_s, 4), sample_rate_hz=audio.rate, sha256=digest, title=name)
    return listen.listen(audio, song=song, progress=progress)
