"""A folder of lessons, and the songs in it that have none yet."""

from pathlib import Path
from typing import Any, Final

from fourlimb.lesson.folder import is_lesson, read_lesson
from fourlimb.lesson.show import counted, one_line, whole_bars
from fourlimb.lesson.source import MIDI_ENDINGS, MUSICXML_ENDINGS
from fourlimb.lesson.workshop import safe_name
from fourlimb.model import FourlimbError

from .hearing import SONG_ENDINGS

MOST_LISTED: Final = 200
"""Lessons, and songs, that are listed (ours)."""


def shelf_view(folder: Path) -> dict[str, Any]:
    """The lessons in a folder and the songs of which one could be made, by name."""
    lessons = [_lesson(path) for path in lessons_in(folder)[:MOST_LISTED]]
    songs = [{"name": path.name, "makes": f"{safe_name(path)}.lesson"} for path in songs_in(folder)[:MOST_LISTED]]
    return {"folder": folder.resolve().name, "lessons": lessons, "songs": songs}


def lessons_in(folder: Path) -> list[Path]:
    """Lesson folders that lie in a folder."""
    return [path for path in _inside(folder) if path.is_dir() and is_lesson(path)]


def songs_in(folder: Path) -> list[Path]:
    """Song files in a folder whose lesson would find its place."""
    endings = SONG_ENDINGS | MIDI_ENDINGS | MUSICXML_ENDINGS
    return [
        path
        for path in _inside(folder)
        if path.suffix.lower() in endings and path.is_file() and not (folder / f"{safe_name(path)}.lesson").exists()
    ]


def _inside(folder: Path) -> list[Path]:
    try:
        inside = (path for path in folder.iterdir() if not path.name.startswith("."))
        return sorted(inside, key=lambda path: (path.name.casefold(), path.name))
    except OSError:
        return []


def _lesson(path: Path) -> dict[str, Any]:
    try:
        lesson = read_lesson(path)
    except FourlimbError as error:
        return {"name": path.name, "title": path.name, "says": one_line(str(error), 300), "opens": False}
    bars = counted(len(whole_bars(lesson)), "bar")
    check = f"{counted(len(lesson.doubts), 'bar')} to check" if lesson.doubts else "nothing to check"
    title = one_line(lesson.song.title) or path.name
    return {"name": path.name, "title": title, "says": f"{bars}, {check}", "opens": True}
