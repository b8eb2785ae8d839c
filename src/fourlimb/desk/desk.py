"""What lies on the desk: a lesson or the shelf it came from, the recording, and the work being done."""

from contextlib import ExitStack
from pathlib import Path
from typing import Any

from fourlimb import demo
from fourlimb import lesson as room
from fourlimb.lesson.folder import is_lesson
from fourlimb.lesson.workshop import safe_name
from fourlimb.model import InputError, Progress

from .hearing import Recorded, must_be_recording, recording_near
from .opened import Opened
from .shelf import lessons_in, songs_in
from .work import Work


def desk_at(folder: Path, song: Path | None = None) -> "Desk":
    """A desk with the lesson in a folder, or with the shelf where the folder holds lessons or songs."""
    if song is None and not is_lesson(folder) and (lessons_in(folder) or songs_in(folder) or folder == Path(".")):
        return Desk(shelf=folder)
    return Desk(folder, song=song)


class Desk:
    """One lesson opened, or the shelf (a folder of lessons) to choose one from.

    Raises LessonError when `lesson` is none, InputError when `song` is not its recording.
    """

    def __init__(self, lesson: Path | None = None, *, shelf: Path | None = None, song: Path | None = None) -> None:
        self.work = Work(self._note)
        self.shelf = shelf
        self.opened: Opened | None = None
        self.recorded: Recorded | None = None
        self._held = ExitStack()
        if lesson is not None:
            self._open(lesson, song)

    def open_from_shelf(self, name: str) -> None:
        """Lay a lesson of the shelf on the desk. Raises InputError when there is none of this name."""
        found = next((path for path in lessons_in(self.shelf) if path.name == name), None) if self.shelf else None
        if found is None:
            raise InputError(f'there is no lesson "{name[:80]}" on the shelf')
        self._open(found, None)

    def back_to_shelf(self) -> None:
        """Put the lesson back. Raises InputError where there is no shelf, or something is still to be done."""
        if self.shelf is None:
            raise InputError("the desk was opened with one lesson: start it without a lesson to see the shelf")
        if not self.work.idle():
            raise InputError("something is still being done: wait until it is, then go back to the shelf")
        self.opened = self.recorded = None

    def make_from_shelf(self, name: str) -> int:
        """Ask for a lesson of a song that lies in the shelf's folder; returns the job's number."""
        shelf = self.shelf
        song = next((path for path in songs_in(shelf) if path.name == name), None) if shelf else None
        if shelf is None or song is None:
            raise InputError(f'there is no song "{name[:80]}" here that has no lesson')
        target = shelf / f"{safe_name(song)}.lesson"

        def make(progress: Progress) -> str:
            made = room.make(song, target, progress=progress)
            return room.summary(made, room.read_lesson(made)).splitlines()[0]

        return self.work.ask("make", f"make a lesson of {name}", make)

    def recording_says(self) -> dict[str, Any]:
        """Whether the recording can be heard, and if not, what to do."""
        if self.recorded is not None:
            return {"there": True, "say": self.recorded.path.name}
        opened = self.opened
        if opened is not None and opened.now()[1].song.kind != "audio":
            return {"there": False, "say": "This lesson was made from notes: there is no recording to hear."}
        say = "To hear the recording, put its file beside the lesson's folder, or start the desk with --song FILE."
        return {"there": False, "say": say}

    def close(self) -> None:
        """Let go of what is held open."""
        self._held.close()

    def _open(self, folder: Path, song: Path | None) -> None:
        opened = Opened(folder, self.work)
        _, lesson = opened.now()
        if song is not None:
            must_be_recording(song, lesson)
        found = song or recording_near(folder, lesson) or self._demo_song(lesson.song.sha256)
        self.opened, self.recorded = opened, Recorded(found) if found else None
        opened.recall()

    def _note(self) -> None:
        if self.opened is not None:
            self.opened.note()

    def _demo_song(self, sha256: str) -> Path | None:
        """The recording that ships with the program, for its own lesson."""
        from fourlimb.lesson.source import kind_of

        path = self._held.enter_context(demo.recording_path())
        return path if kind_of(path)[1] == sha256 else None
