"""The command: files in their place or none at all, one line for what cannot be."""

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from film_reading import HEIGHT, read_back

from fourlimb import demo, lesson
from fourlimb.cli import main
from fourlimb.model import FourlimbError, MissingPartError


@pytest.fixture
def folder(demo_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_folder, tmp_path / "a.lesson"))


@pytest.fixture(scope="module")
def song() -> Iterator[Path]:
    with demo.recording_path() as path:
        yield path


def inside(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}


def test_the_command_puts_film_captions_and_chapters_into_the_lesson(av: Any, folder: Path) -> None:
    before = inside(folder)
    done = CliRunner().invoke(main, ["film", str(folder), "--bars", "26-26", "--level", "bones", "-q"])
    assert done.exit_code == 0, done.output
    name = "film/bones-bars-26-26"
    assert inside(folder) - before == {"film", f"{name}.mp4", f"{name}.vtt", f"{name}.chapters.txt"}
    assert "1 chapter" in done.output
    assert "may need a licence" in done.output
    back = read_back(av, (folder / f"{name}.mp4").read_bytes())
    assert back.pictures[0].shape == (1080 * 3 // 2, 1920)


def test_another_place_and_container(av: Any, folder: Path, tmp_path: Path) -> None:
    before = inside(folder)
    out = tmp_path / "out"
    out.mkdir()
    lesson.filmed(folder, bars="5", tempo="60%", click=False, out=out / "five.webm", height=HEIGHT)
    assert inside(folder) == before
    assert inside(out) == {"five.webm", "five.vtt", "five.chapters.txt"}
    assert read_back(av, (out / "five.webm").read_bytes()).codecs[0] == "vp9"


def test_taught_with_the_song_and_footage(av: Any, folder: Path, song: Path, tmp_path: Path) -> None:
    """The recording under the drums, and a film of ours as the footage of a film: found at its own first bar."""
    first = tmp_path / "camera.mp4"
    lesson.filmed(folder, bars="5-8", out=first, height=HEIGHT)
    said = lesson.filmed(
        folder, bars="5-8", song=song, footage=first, out=tmp_path / "both.mp4", height=HEIGHT
    )  # fmt: skip
    assert "\n  the first bar begins at 7.92 s of the footage, by its sound\n" in said, (
        "6 s of title, then a bar counted"
    )
    assert "before you record" in said
    with_song = read_back(av, (tmp_path / "both.mp4").read_bytes())
    without = read_back(av, first.read_bytes())
    assert abs(with_song.sound - without.sound[: len(with_song.sound)]).max() > 0.05


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"bars": "90-91"}, "bars 90-91"),
        ({"out": Path("film.avi")}, r"end in \.mp4 or \.webm"),
        ({"teach": True, "tempo": "80%"}, "leave out --tempo"),
        ({"offset_s": 3.0}, "name it with --footage"),
        ({"footage": Path("nothing.mp4")}, "is no video"),
        ({"song": Path(__file__)}, "is not the recording"),
        ({"tempo": "slowly"}, "is no tempo"),
        ({"tempo": "10"}, "cannot be played"),
    ],
)
def test_what_cannot_be_is_one_line_and_leaves_nothing(
    av: Any, demo_folder: Path, asked: dict[str, Any], words: str
) -> None:
    before = inside(demo_folder)
    with pytest.raises(FourlimbError, match=words) as refused:
        lesson.filmed(demo_folder, **{"bars": "5", "height": HEIGHT, **asked})
    assert "\n" not in str(refused.value)
    assert inside(demo_folder) == before


def test_footage_without_sound_says_what_to_do(av: Any, demo_folder: Path, tmp_path: Path) -> None:
    silent = tmp_path / "silent.mp4"
    with av.open(str(silent), "w") as out:
        stream = out.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for number in range(30):
            frame = av.VideoFrame(64, 48, "yuv420p")
            frame.pts = number
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    with pytest.raises(FourlimbError, match=r"no sound in it .*say with --offset") as refused:
        lesson.filmed(demo_folder, bars="5", footage=silent, height=HEIGHT)
    assert "\n" not in str(refused.value)


def test_without_the_video_part_it_says_how_to_get_it(demo_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(MissingPartError, match=r'pip install "fourlimb\[video\]"'):
        lesson.filmed(demo_folder, bars="5")
    done = CliRunner().invoke(main, ["film", str(demo_folder)])
    assert done.exit_code == 1
    assert done.output.count("\n") == 1
    assert "everything else works" in done.output


def test_stopped_half_way_nothing_is_left(av: Any, folder: Path) -> None:
    before = inside(folder)

    def stop(stage: str, share: float) -> None:
        if share > 0.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        lesson.filmed(folder, bars="5", height=HEIGHT, progress=stop)
    assert inside(folder) == before
    lesson.filmed(folder, bars="5", height=HEIGHT)
    assert inside(folder) - before == {"film", *(f"film/full-bars-5.{end}" for end in ("mp4", "vtt", "chapters.txt"))}
