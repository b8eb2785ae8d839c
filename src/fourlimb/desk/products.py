"""The finished products of a lesson that the desk hands out: by a fixed list of names, markings of takes, and films.

A name from outside is looked up in this list and never joined to a path, so nothing beside the lesson can be reached.
"""

from pathlib import Path
from typing import Final

from fourlimb.model import LEVELS

LABELS: Final[tuple[tuple[str, str, str], ...]] = (
    ("page/index.html", "Practice page", "for the student: see, hear, loop, slow down"),
    *((f"charts/{level}.pdf", f"The {level} chart", "to print") for level in LEVELS),
    ("charts/roadmap.pdf", "Road map", "the song on one page"),
    ("charts/figures.pdf", "Figures", "each bar that is new, and what changes"),
    ("charts/practice.pdf", "Practice sheet", "a week's figures with boxes to tick"),
    ("charts/teacher.pdf", "Teacher's book", "all of it, with doubts and reasons"),
    *((f"sound/{level}.mp3", f"The {level} chart played", "with count-in and click") for level in LEVELS),
    ("cues.md", "Cue sheet", "what to say and play, in teaching order"),
    ("cues.csv", "Cue sheet as a table", "with bars and times"),
    *(
        (f"charts/{level}.{ending}", f"The {level} chart as {name}", "to go on with elsewhere")
        for level in LEVELS
        for ending, name in (("musicxml", "MusicXML"), ("mid", "MIDI"), ("mei", "MEI"))
    ),
)
"""File, what it is called, what it is for."""

MIME: Final = {
    ".pdf": "application/pdf",
    ".mp3": "audio/mpeg",
    ".html": "text/html; charset=utf-8",
    ".md": "text/plain; charset=utf-8",
    ".csv": "text/csv; charset=utf-8",
    ".musicxml": "application/vnd.recordare.musicxml+xml",
    ".mid": "audio/midi",
    ".mei": "application/xml",
    ".mp4": "video/mp4",
    ".webm": "video/webm",
}
"""Types by a file's ending (IANA; MEI has none of its own that browsers know)."""

SHOWN: Final = frozenset({".pdf", ".mp3", ".html", ".md", ".mp4", ".webm"})
"""Endings that a browser shows; the others are saved."""


def products(folder: Path) -> list[dict[str, str]]:
    """The products that are there, in the order in which they are listed."""
    listed = [{"file": name, "say": say, "what": what} for name, say, what in LABELS if (folder / name).is_file()]
    return listed + [{"file": name, "say": say, "what": what} for name, (_, say, what) in _others(folder).items()]


def product(folder: Path, name: str) -> Path | None:
    """The file of a product; None for everything else."""
    if name in {known for known, _, _ in LABELS}:
        path = folder / name
        return path if path.is_file() else None
    found = _others(folder).get(name)
    return found[0] if found else None


def _others(folder: Path) -> dict[str, tuple[Path, str, str]]:
    """What a lesson has if it was made: files by name, what they are called, what they are for."""
    films = [
        (path, f"Film: {path.stem}", "with chapters and captions")
        for path in _inside(folder / "film")
        if path.suffix in (".mp4", ".webm")
    ]
    markings = [
        (path, f"Marking of {path.name.removesuffix('.marking.html')}", "a take")
        for path in _inside(folder / "takes")
        if path.name.endswith(".marking.html")
    ]
    return {f"{one[0].parent.name}/{one[0].name}": one for one in (*films, *markings)}


def _inside(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.is_file() and not path.name.startswith("."))
    except OSError:
        return []
