"""A lesson's video: the song played through with moving music, or taught step by step.

In: a lesson folder; if wished the recording that it was made from, and the teacher's own camera file. Out: a video,
its captions and its chapters, in the lesson's `film/` or wherever `out` says. Recording and camera file are read, not
changed, and no copy of them goes into the lesson.
"""

import mmap
import os
from collections.abc import Mapping
from contextlib import closing, nullcontext
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, TYPE_CHECKING, Final

from fourlimb.model import InputError, Lesson, Level, MissingPartError, Progress, Sheet, silent
from fourlimb.model.tempo import tempo_said

from .build import is_played, sheets
from .camera import Camera, camera_of
from .camera import own_sound as sound_of_camera
from .folder import Content, read_heard, read_lesson, state_of, write
from .printing import layout_of
from .show import minutes
from .slowing import at_rate_of_kit, attacks_of, must_be_its_recording, speed_of
from .takes import bars_named
from .workshop import safe_words, write_file

if TYPE_CHECKING:
    from fourlimb.film import Film, Scene, Wanted
    from fourlimb.film.writing import Container

FOLDER: Final = "film"
ENDINGS: Final[Mapping[str, "Container"]] = {".mp4": "mp4", ".webm": "webm"}


def filmed(
    folder: Path,
    *,
    level: Level = "full",
    teach: bool = False,
    bars: str | None = None,
    tempo: str | None = None,
    song: Path | None = None,
    click: bool = True,
    footage: Path | None = None,
    offset_s: float | None = None,
    own_sound: bool = False,
    out: Path | None = None,
    height: int = 1080,
    progress: Progress = silent,
) -> str:
    """Make a lesson's film; says what was done.

    teach : the lesson in running order, not the song played through. bars : "9-12", all when None. tempo : as for
    `slowed`, only of the song played through. song : the recording, laid under the drums. click : through all bars.
    footage : a video of the teacher playing; `offset_s` is its second at which the film's first bar begins, found by
    its sound when None; own_sound : its sound in place of the drums. out : an MP4 or WebM by its name's ending.
    height : of the picture, a multiple of 4.
    Raises InputError when something asked for cannot be, MissingPartError without PyAV, LessonError when the lesson
    or a file cannot be used; nothing is then half-written.
    """
    from fourlimb import film
    from fourlimb.film.writing import needs_av

    needs_av()
    since = state_of(folder)
    lesson = read_lesson(folder)
    sheet = _sheet(lesson, level, bars)
    container, place = _container(out), _place(folder, out)
    wanted = _wanted(lesson, folder, song, click, progress)
    scenes = _scenes(sheet, teach, tempo)
    camera = _camera(sheet, scenes, footage, offset_s, own_sound, progress)
    if camera is not None and own_sound:
        wanted = sound_of_camera(camera, sheet, wanted, progress)
    name = _name(level, teach, bars, scenes[1].bpm if tempo else 0)
    with closing(camera.footage) if camera else nullcontext() as beside, _growing(place) as file:
        made = film.make(
            sheet, scenes, file, container=container, wanted=wanted, beside=beside,
            layout=layout_of(lesson.printing), height=height, progress=progress,
        )  # fmt: skip
        paths = _kept(folder, out, name, file, made, since)
    return "\n  ".join([*_said(paths, made), *(camera.said if camera else ())])


def needs_for_film() -> str:
    """What is missing for films, in one line that says what to do; "" where there is all."""
    from fourlimb.film.writing import needs_av

    try:
        needs_av()
    except MissingPartError as error:
        return str(error)
    return ""


def _sheet(lesson: Lesson, level: Level, bars: str | None) -> Sheet:
    """The level's sheet, or those bars of it as if they were the song."""
    from fourlimb import film

    whole = sheets(lesson)[level]
    if not whole.grid.bars:
        raise InputError("no bars were found in this lesson: nothing can be filmed")
    if bars is None:
        if not is_played(whole.grid):
            raise InputError("this song is too long to be played: film some of it with --bars")
        return whole
    first, last = bars_named(bars, whole.grid)
    numbers = whole.grid.numbers
    return film.excerpt(whole, numbers[0] if first is None else first, numbers[-1] if last is None else last)


def _container(out: Path | None) -> "Container":
    if out is None:
        return "mp4"
    found = ENDINGS.get(out.suffix.lower())
    if found is None:
        raise InputError(f"{out} is no film's name: let it end in {' or '.join(ENDINGS)}")
    return found


def _wanted(lesson: Lesson, folder: Path, song: Path | None, click: bool, progress: Progress) -> "Wanted":
    from fourlimb import film, listen

    if song is None:
        return film.Wanted(click=click)
    must_be_its_recording(song, folder, lesson)
    recording = at_rate_of_kit(listen.read_audio(song, progress))
    return film.Wanted(click=click, recording=recording, attacks_s=attacks_of(read_heard(folder)))


def _scenes(sheet: Sheet, teach: bool, tempo: str | None) -> "list[Scene]":
    from fourlimb import film
    from fourlimb.teach.cautions import caution

    care = (caution("sharing"),)
    if teach:
        if tempo is not None:
            raise InputError("a film that teaches takes its tempi from the ladder: leave out --tempo")
        return film.taught(sheet, care=care)
    own = tempo_said(sheet.grid, sheet.grid.numbers[0])
    return film.played_through(sheet, bpm=None if tempo is None else own * speed_of(tempo, own), care=care)


def _name(level: Level, teach: bool, bars: str | None, bpm: int) -> str:
    words = [level, "taught" if teach else "", f"bars {bars}" if bars else "", f"at {bpm}" if bpm else ""]
    return safe_words(" ".join(word for word in words if word))


def _place(folder: Path, out: Path | None) -> Path:
    """Where the film grows, nameless, until it is whole: on the disk where it will stay."""
    if out is not None and out.exists() and not out.is_file():
        raise InputError(f"{out} is no file that can be replaced: choose another place with -o")
    place = folder if out is None else out.absolute().parent
    if not place.is_dir() or not os.access(place, os.W_OK):
        raise InputError(f"{place} cannot be written into: choose another place with -o")
    return place


def _growing(place: Path) -> IO[bytes]:
    try:
        return TemporaryFile(dir=place)
    except OSError as error:
        raise InputError(f"{place} cannot be written into ({error.strerror}): choose another place with -o") from None


def _kept(
    folder: Path, out: Path | None, name: str, file: IO[bytes], made: "Film", since: str
) -> tuple[Path, Path, Path]:
    """Put film, captions and chapters in their place; the film last."""
    from fourlimb import film

    texts = film.vtt(made.captions).encode(), film.chapters_text(made.chapters).encode()
    path = folder / FOLDER / f"{name}.mp4" if out is None else out
    paths = path.with_suffix(".vtt"), path.with_suffix(".chapters.txt"), path
    file.flush()
    with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as mapped, memoryview(mapped) as whole:
        contents: tuple[Content, ...] = (*texts, whole)
        if out is None:
            names = [target.relative_to(folder).as_posix() for target in paths]
            write(folder, dict(zip(names, contents, strict=True)), since=since)
        else:
            for target, content in zip(paths, contents, strict=True):
                write_file(target, content)
    return paths


def _said(paths: tuple[Path, Path, Path], made: "Film") -> tuple[str, ...]:
    from fourlimb import sound

    count = len(made.chapters)
    return (
        f"{paths[2]}: {minutes(made.seconds)}, {count} chapter{'s' * (count != 1)}",
        f"captions in {paths[0].name}, chapters in {paths[1].name}; both are in the film too",
        sound.RIGHTS,
    )


def _camera(
    sheet: Sheet,
    scenes: "list[Scene]",
    footage: Path | None,
    offset_s: float | None,
    own_sound: bool,
    progress: Progress,
) -> Camera | None:
    if footage is None:
        if offset_s is not None or own_sound:
            raise InputError("--offset and --own-sound speak of your own video: name it with --footage")
        return None
    speeds = (1.0, *(scene.speed for scene in scenes if scene.by_section))
    return camera_of(footage, sheet, speeds, offset_s, progress)
