"""A student's take that is handed to a lesson: kept in its `takes/`, beside the markings.

Nothing is ever put over a file that is there: the same bytes are the same take, others of its name get a number.
"""

import os
from itertools import count
from pathlib import Path
from typing import Final

from fourlimb.model import InputError, LessonError

from .folder import Content, Disk, ThereError, is_lesson, write
from .source import MIDI_ENDINGS, title_of
from .workshop import safe_words

FOLDER: Final = "takes"
AUDIO_ENDINGS: Final = frozenset(
    {".wav", ".flac", ".mp3", ".ogg", ".oga", ".opus", ".m4a", ".aac", ".aif", ".aiff"}
)  # fmt: skip
VIDEO_ENDINGS: Final = frozenset({".mp4", ".mov", ".mkv", ".webm"})
HANDED: Final = AUDIO_ENDINGS | MIDI_ENDINGS
"""Endings of what can be handed over: sound, and strokes as MIDI."""

LONGEST_NAME: Final = 60
"""Characters of a take's name: with a marking's ending they fit every disk, however wide the letters (ours)."""


def takes_in(folder: Path) -> list[Path]:
    """Files in a lesson's `takes/` that can be marked, also videos that were put there, by name."""
    try:
        inside = [path for path in (folder / FOLDER).iterdir() if not path.name.startswith(".") and path.is_file()]
    except OSError:
        return []
    found = [path for path in inside if path.suffix.lower() in HANDED | VIDEO_ENDINGS]
    return sorted(found, key=lambda path: (path.name.casefold(), path.name))


def take_name(given: str) -> str:
    """A name that every disk takes and that leads nowhere else, from a file's own name. Raises InputError."""
    path = Path(given.replace("\\", "/").rpartition("/")[2])
    ending = path.suffix.lower()
    if ending not in HANDED:
        kinds = ", ".join(sorted(one.removeprefix(".") for one in HANDED))
        raise InputError(f'"{given[:80]}" is no take that can be marked: choose a file of sound or MIDI ({kinds})')
    return f"{safe_words(title_of(path))[:LONGEST_NAME].strip('-.') or 'take'}{ending}"


def keep_take(folder: Path, given: str, data: Content, *, disk: Disk | None = None) -> str:
    """Put a take into the lesson's `takes/`; returns its name there.

    Raises InputError when it cannot be a take, LessonError when the folder cannot be used; nothing is then written.
    """
    name = Path(take_name(given))
    if not is_lesson(folder):
        raise LessonError(f"{folder} is not a lesson folder: make one with fourlimb lesson SONG -o FOLDER")
    if not len(data):
        raise InputError(f"{name} is empty (0 bytes): copy it again")
    for number in count(1):
        tried = name.name if number == 1 else f"{name.stem}-{number}{name.suffix}"
        if _holds(folder / FOLDER / tried, data):
            return tried
        try:
            write(folder, {f"{FOLDER}/{tried}": data}, new=True, disk=disk)
            return tried
        except ThereError:
            continue
    raise AssertionError("there is always a number more")


def _holds(path: Path, data: Content) -> bool:
    """Whether a file has these very bytes."""
    try:
        return os.path.getsize(path) == len(data) and path.read_bytes() == data
    except OSError:
        return False
