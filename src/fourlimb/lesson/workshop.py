"""What a teacher does to a lesson folder: make it, make it anew, correct it, take a correction back."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from fourlimb.model import (
    LEVELS,
    Correction,
    CorrectionError,
    InputError,
    Kit,
    Lesson,
    LessonError,
    Level,
    Listening,
    Printing,
    Progress,
    silent,
)
from fourlimb.model.kit_words import kit_said

from . import corrections as c
from .build import build
from .folder import Content, Disk, is_lesson, lesson_files, read_heard, read_lesson, state_of, write
from .printing import printed_as
from .products import documents, kept_names, outputs, sound_name, sounds_alike
from .refused import not_as_written
from .show import one_line
from .source import hear_song, title_of

if TYPE_CHECKING:
    from fourlimb.arrange import Memory

Hear = Callable[..., Listening]


def make(
    song: Path,
    folder: Path | None = None,
    *,
    title: str | None = None,
    left_handed: bool = False,
    kit_words: str = "",
    again: bool = False,
    progress: Progress = silent,
    disk: Disk | None = None,
    hear: Hear = hear_song,
) -> Path:
    """A lesson folder from a song file; returns the folder.

    `kit_words`: about kit and player, like "double pedal, second crash, no ride".
    `again`: listen anew to a song whose folder holds a lesson; its corrections and kit are kept and replayed.
    Raises InputError when the song cannot be used, LessonError when the folder cannot be.
    """
    target = folder if folder is not None else Path.cwd() / f"{safe_name(song)}.lesson"
    since = state_of(target)
    corrections, kit, printing = _kept(target, again)
    if left_handed or kit is None:
        kit = msgspec.structs.replace(kit or Kit(), handed="left" if left_handed else "right")
    kit = kit_said(kit, kit_words)
    heard = hear(song, title=title, progress=progress)
    lesson = build(heard, kit=kit, corrections=corrections, printing=printing, progress=progress)
    files = lesson_files(lesson, heard) | outputs(lesson, progress=progress)
    write(target, files, since=since, disk=disk)
    return target


def make_demo(
    folder: Path | None = None, *, again: bool = False, progress: Progress = silent, disk: Disk | None = None
) -> Path:
    """The lesson of the demo song that ships with the package."""
    from fourlimb import demo

    with demo.recording_path() as path:
        target = folder if folder is not None else Path.cwd() / "night-ferry.lesson"
        return make(path, target, title="Night Ferry", again=again, progress=progress, disk=disk)


def safe_name(song: Path) -> str:
    """A name from a file's name that every disk takes: no separators, no dots in front, 80 characters."""
    return safe_words(title_of(song)) or "song"


def safe_words(text: str) -> str:
    """Words as part of a file's name; empty when nothing is left of them."""
    safe = "".join(ch if ch.isalnum() or ch in " -_'" else "-" for ch in text)
    return "-".join(safe.split()).strip("-.")[:80]


def _kept(target: Path, again: bool) -> tuple[tuple[Correction, ...], Kit | None, Printing]:
    if target.is_dir() and is_lesson(target):
        if not again:
            raise LessonError(
                f"{target} holds a lesson already: choose another folder with -o, or add --again to listen anew "
                "(its corrections are kept)"
            )
        before = read_lesson(target)
        return before.corrections, before.kit, before.printing
    if target.exists() and (not target.is_dir() or any(p for p in target.iterdir() if not p.name.startswith("."))):
        raise LessonError(f"{target} is there already and is not a lesson: choose another folder with -o")
    return (), None, Printing()


def rebuild(
    folder: Path,
    *,
    level: Level | None = None,
    key: str | None = None,
    kit_words: str = "",
    since: str | None = None,
    progress: Progress = silent,
    disk: Disk | None = None,
    **choices: Any,
) -> Lesson:
    """Arrange and engrave anew from what was heard and the corrections; with `level`, write only its files.

    `kit_words` changes kit and player, `key` is the name of a school's key,
    `choices` are fields of `Printing`; both are kept in the lesson, and since
    they concern all levels, all are then written. `since`: as for `correct`.
    """
    since = state_of(folder) if since is None else since
    found = read_lesson(folder)
    before = printed_as(found, key=key, **choices)
    before = msgspec.structs.replace(before, kit=kit_said(before.kit, kit_words))
    heard = read_heard(folder)
    lesson = _built(before, heard, before.corrections, progress)
    changed = before.printing != found.printing or before.kit != found.kit
    levels = LEVELS if level is None or changed else (level,)
    sounding = _to_play(folder, found, lesson) if changed else LEVELS  # nothing said: all is made anew
    files = outputs(lesson, levels=levels, sounding=sounding, progress=progress)
    write(folder, lesson_files(lesson) | files, since=since, disk=disk)
    return lesson


def _to_play(folder: Path, before: Lesson, lesson: Lesson) -> tuple[Level, ...]:
    """Levels whose sound is made: those that are played otherwise than before, and those that have none."""
    return tuple(
        level
        for level in LEVELS
        if not (folder / sound_name(level)).is_file() or not sounds_alike(before, lesson, level)
    )


def _kept_files(folder: Path, before: Lesson, lesson: Lesson) -> dict[str, bytes]:
    """Files of the lesson as it was from which sound can be taken: none when another version or kit made them."""
    if (before.made_by, before.kit) != (lesson.made_by, lesson.kit):
        return {}
    return {name: (folder / name).read_bytes() for name in kept_names() if (folder / name).is_file()}


def _built(
    before: Lesson,
    heard: Listening,
    corrections: tuple[Correction, ...],
    progress: Progress,
    memory: "Memory | None" = None,
) -> Lesson:
    lesson = build(
        heard,
        kit=before.kit,
        corrections=corrections,
        printing=before.printing,
        progress=progress,
        memory=memory,
    )
    return msgspec.structs.replace(lesson, extra=before.extra)


def correct(
    folder: Path,
    text: str | None = None,
    *,
    undo: int | None = None,
    redo: int | None = None,
    since: str | None = None,
    progress: Progress = silent,
    disk: Disk | None = None,
    memory: "Memory | None" = None,
) -> str:
    """Add a correction (or take one back, `undo=0` the last one; or `redo` one) and rebuild; says what happened.

    A program that corrects bar after bar passes the same `memory` every time: only what changed is arranged.
    `since`: `folder.state_of` the lesson that the teacher has seen, where that was earlier; LessonError when it is
    another one by now.
    Raises CorrectionError, one line, when the text is not understood or does not fit; nothing is then changed.
    """
    since = state_of(folder) if since is None else since
    before, heard = read_lesson(folder), read_heard(folder)
    lesson, said = corrected(before, heard, text, undo=undo, redo=redo, progress=progress, memory=memory)
    put_in(folder, before, lesson, since=since, progress=progress, disk=disk)
    return said


def corrected(
    before: Lesson,
    heard: Listening,
    text: str | None = None,
    *,
    undo: int | None = None,
    redo: int | None = None,
    progress: Progress = silent,
    memory: "Memory | None" = None,
) -> tuple[Lesson, str]:
    """A lesson with one correction more, taken back or applied again, and what happened. Raises as `correct`.

    The first half of `correct`: nothing is written, and it can be called again and again before `put_in`.
    """
    if text is not None:
        corrections, said = _added(before, text)
    else:
        corrections, said = _switched(before, undo, redo)
    lesson = _built(before, heard, corrections, progress, memory)
    fresh = lesson.corrections[-1] if text is not None else None
    if fresh is not None and fresh.state == "unfit":
        raise CorrectionError(fresh.why)
    refused = "".join(f"\n  {one_line(line, 300)}" for line in not_as_written(before, lesson))
    return lesson, said + _news(before, lesson) + refused + _unfit(lesson)


def put_in(
    folder: Path,
    before: Lesson,
    lesson: Lesson,
    *,
    since: str,
    progress: Progress = silent,
    disk: Disk | None = None,
) -> None:
    """Make all files of a corrected lesson and put them in place of those of the lesson `before`, all or none.

    `since`: `folder.state_of` the folder when `before` was read from it. Raises LessonError.
    """
    kept = _kept_files(folder, before, lesson)
    files = outputs(lesson, sounding=_to_play(folder, before, lesson), kept=kept, progress=progress)
    write(folder, lesson_files(lesson) | files, since=since, disk=disk)


def _added(before: Lesson, text: str) -> tuple[tuple[Correction, ...], str]:
    c.read(text, before.grid)  # raises when it is not understood, before anything is done
    number = max((item.n for item in before.corrections), default=0) + 1
    added = Correction(n=number, what=" ".join(text.split()))
    return (*before.corrections, added), f"correction {number}: {one_line(added.what)}"


def _switched(before: Lesson, undo: int | None, redo: int | None) -> tuple[tuple[Correction, ...], str]:
    wanted = undo if undo is not None else redo
    state = "undone" if undo is not None else "applied"
    open_ones = [item for item in before.corrections if (item.state == "undone") == (state == "applied")]
    if wanted == 0 and open_ones:
        wanted = open_ones[-1].n
    if not any(item.n == wanted for item in open_ones):
        numbers = ", ".join(str(item.n) for item in open_ones) or "none"
        what = "taken back" if undo is not None else "applied again"
        raise CorrectionError(f"there is no such correction to be {what}: those that can are {numbers}")
    changed = tuple(
        msgspec.structs.replace(item, state=state, why="") if item.n == wanted else item
        for item in before.corrections
    )
    text = next(item.what for item in before.corrections if item.n == wanted)
    return changed, f"correction {wanted} {'undone' if undo is not None else 'applied again'}: {one_line(text)}"


def _news(before: Lesson, lesson: Lesson) -> str:
    """What a correction that touches other bars has done there."""
    return "".join(f"\n  {one_line(note, 300)}" for note in lesson.notes if note not in before.notes)


def _unfit(lesson: Lesson) -> str:
    lines = [
        f"\n  correction {item.n} no longer fits: {item.why}" for item in lesson.corrections if item.state == "unfit"
    ]
    return "".join(lines)


def level_named(name: str | None) -> Level | None:
    """A level from its name; None stays None. Raises InputError on an unknown one."""
    if name is None:
        return None
    for level in LEVELS:
        if level == name:
            return level
    raise InputError(f'there is no level "{name}": use {", ".join(LEVELS)}')


def print_to(
    folder: Path,
    target: Path,
    *,
    level: Level | None = None,
    key: str | None = None,
    progress: Progress = silent,
    **choices: Any,
) -> Path:
    """All printed documents of a lesson in another folder, in other choices; the lesson stays as it is."""
    lesson = printed_as(read_lesson(folder), key=key, **choices)
    files = documents(lesson, levels=LEVELS if level is None else (level,), progress=progress)
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{target} cannot be made ({error.strerror}): choose another folder with -o") from None
    for name, data in files.items():
        write_file(target / Path(name).name, data)
    return target


def write_file(path: Path, data: Content) -> None:
    """Write one file, whole or not at all, with the rights that files made here have. A link stays a link.

    Raises LessonError where it cannot be, also for a device or a pipe, which no file may take the place of.
    """
    import os
    import tempfile

    path = path.resolve() if path.is_symlink() else path
    if path.exists() and not path.is_file():
        raise LessonError(f"{path} is no file that can be replaced: choose another place with -o")
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(name).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise LessonError(f"{path} cannot be written ({error.strerror}): choose another place with -o") from None


def _umask() -> int:
    """What new files are kept from; it can only be read by setting it."""
    import os

    mask = os.umask(0)
    os.umask(mask)
    return mask
