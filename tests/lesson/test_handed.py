"""A take that is handed to a lesson lies in its takes/, under a safe name, and over nothing."""

import shutil
from pathlib import Path

import pytest

from fourlimb.lesson.folder import Disk, ThereError, write
from fourlimb.lesson.handed import keep_take, take_name, takes_in
from fourlimb.lesson.lock import locked
from fourlimb.model import InputError, LessonError


@pytest.fixture
def folder(short_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(short_folder, tmp_path / "night-ferry.lesson"))


def files(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ("take one.wav", "take-one.wav"),
        ("../../etc/passwd.wav", "passwd.wav"),
        ("..\\..\\x.MP3", "x.mp3"),
        ("C:\\fakepath\\Jon's take.m4a", "Jon's-take.m4a"),
        ("..wav.wav", "wav.wav"),
        ("a/b/.wav.mid", "wav.mid"),
        ("lesson.json.flac", "lesson-json.flac"),
        ("été\0\n|?*.ogg", "été.ogg"),
        ("漢" * 300 + ".wav", "漢" * 60 + ".wav"),
    ],
)
def test_a_take_s_name_leads_nowhere_and_fits_every_disk(given: str, name: str, folder: Path) -> None:
    assert take_name(given) == name
    assert keep_take(folder, given, b"strokes") == name
    assert [path.name for path in takes_in(folder)] == [name]


@pytest.mark.parametrize(
    "given", ["", "take", ".wav", "a.html", "a.wav.exe", "a.json", "../lesson.json", "a.mp4", "a.wav/"]
)
def test_what_is_no_sound_by_its_name_is_told_and_not_kept(given: str, folder: Path) -> None:
    before = files(folder)
    with pytest.raises(InputError, match="is no take that can be marked"):
        keep_take(folder, given, b"strokes")
    assert files(folder) == before


def test_nothing_is_put_over_a_take_and_the_same_take_lies_there_once(folder: Path) -> None:
    assert keep_take(folder, "one.wav", b"first") == "one.wav"
    assert keep_take(folder, "one.wav", b"other") == "one-2.wav"
    assert keep_take(folder, "one.wav", b"other") == "one-2.wav"
    assert keep_take(folder, "one.wav", memoryview(b"third")) == "one-3.wav"
    assert [path.read_bytes() for path in takes_in(folder)] == [b"other", b"third", b"first"]
    (folder / "takes" / "link.wav").symlink_to(folder / "nowhere")
    assert keep_take(folder, "link.wav", b"x") == "link-2.wav"  # not even a link that leads to nothing
    assert not (folder / "nowhere").exists()


def test_what_is_there_by_the_time_it_is_written_stays(folder: Path) -> None:
    """Two at once: the one who comes second is told, and takes another name."""

    class Late(Disk):
        pass

    (folder / "takes").mkdir(exist_ok=True)
    (folder / "takes" / "one.wav").write_bytes(b"theirs")
    with pytest.raises(ThereError, match=r"one\.wav is there already"):
        write(folder, {"takes/two.wav": b"x", "takes/one.wav": b"x"}, new=True, disk=Late())
    assert [path.name for path in takes_in(folder)] == ["one.wav"]
    assert (folder / "takes" / "one.wav").read_bytes() == b"theirs"


def test_a_folder_that_is_held_or_full_or_no_lesson_is_told_and_left(folder: Path, tmp_path: Path) -> None:
    class Full(Disk):
        def write(self, path: Path, data: object) -> None:
            raise OSError(28, "No space left on device")

    before = files(folder)
    with pytest.raises(LessonError, match="the disk is full"):
        keep_take(folder, "one.wav", b"x", disk=Full())
    with locked(folder), pytest.raises(LessonError, match="another fourlimb is working"):
        keep_take(folder, "one.wav", b"x")
    with pytest.raises(InputError, match="is empty"):
        keep_take(folder, "one.wav", b"")
    assert files(folder) == before
    (tmp_path / "other").mkdir()
    with pytest.raises(LessonError, match="is not a lesson folder"):
        keep_take(tmp_path / "other", "one.wav", b"x")
    assert files(tmp_path / "other") == {}


def test_takes_are_listed_and_nothing_else_that_lies_there(folder: Path) -> None:
    assert takes_in(folder) == []
    (folder / "takes").mkdir()
    for name in ("b.WAV", "A.mid", "c.mp4", "first.marking.html", "first.marking.json", ".hidden.wav", "notes.txt"):
        (folder / "takes" / name).write_bytes(b"x")
    (folder / "takes" / "d.wav").mkdir()
    assert [path.name for path in takes_in(folder)] == ["A.mid", "b.WAV", "c.mp4"]
