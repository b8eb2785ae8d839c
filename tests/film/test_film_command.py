"""The command: files in their place or none at all, one line for what cannot be."""

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
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


def test_the_song_under_it_and_footage_beside_it(av: Any, folder: Path, song: Path, tmp_path: Path) -> None:
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


def test_taught_round_and_round_over_the_song(av: Any, folder: Path, song: Path) -> None:
    said = lesson.filmed(folder, teach=True, bars="2-3", song=song, height=HEIGHT)
    name = folder / "film" / "full-taught-bars-2-3"
    assert said.startswith(f"{name}.mp4: ")
    chapters = Path(f"{name}.chapters.txt").read_text().splitlines()
    assert [line.partition(" ")[2] for line in chapters] == [
        "The whole song", "New in bars 2-3", "Bars 2-3 joined up", "Play along slowly", "Play along at tempo",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"bars": "90-91"}, "bars 90-91"),
        ({"out": Path("nowhere/film.mp4")}, "cannot be written into"),
        ({"out": Path("film.avi")}, r"end in \.mp4 or \.webm"),
        ({"teach": True, "tempo": "80%"}, "leave out --tempo"),
        ({"offset_s": 3.0}, "name it with --footage"),
        ({"own_sound": True}, "name it with --footage"),
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


def test_the_cameras_own_sound_takes_the_place_of_the_drums(av: Any, demo_folder: Path, tmp_path: Path) -> None:
    """The camera hears a tone that grows; it is found in the bars, from the second of the camera that is said."""
    camera = tmp_path / "camera.mp4"
    rate = 44_100
    seconds = np.arange(12 * rate) / rate
    tone = (0.02 + 0.02 * seconds) * np.sin(2 * np.pi * 3000 * seconds)
    with av.open(str(camera), "w") as out:
        picture = out.add_stream("libx264", rate=25)
        picture.width, picture.height, picture.pix_fmt = 64, 48, "yuv420p"
        sound = out.add_stream("aac", rate=rate, layout="stereo")
        for number in range(300):
            frame = av.VideoFrame(64, 48, "yuv420p")
            frame.pts = number
            out.mux(picture.encode(frame))
        heard = av.AudioFrame.from_ndarray(np.stack([tone, tone]).astype(np.float32), format="fltp", layout="stereo")
        heard.sample_rate = rate
        out.mux(sound.encode(heard))
        out.mux(picture.encode(None))
        out.mux(sound.encode(None))
    film = tmp_path / "film.mp4"
    lesson.filmed(
        demo_folder, bars="5-6", footage=camera, offset_s=4.0, own_sound=True, click=False, out=film, height=HEIGHT
    )  # fmt: skip
    bars = read_back(av, film.read_bytes()).sound[:, 0]
    start = round(7.92 * rate)
    early, late = (float(np.abs(bars[start + at * rate :][: rate // 4]).mean()) for at in (0, 3))
    assert late / early == pytest.approx((0.02 + 0.02 * 7.125) / (0.02 + 0.02 * 4.125), rel=0.03)
    spectrum = np.abs(np.fft.rfft(bars[start : start + 3 * rate]))
    near = spectrum[3 * 2950 : 3 * 3050]
    assert (near**2).sum() > 0.95 * (spectrum**2).sum(), "no drums beside it"


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


def test_a_folder_is_no_film(av: Any, demo_folder: Path, tmp_path: Path) -> None:
    (tmp_path / "film.mp4").mkdir()
    with pytest.raises(FourlimbError, match="no file that can be replaced"):
        lesson.filmed(demo_folder, bars="5", out=tmp_path / "film.mp4")


def test_an_old_video_part_is_told(av: Any, demo_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Old:
        __version__ = "14.0.0"

    monkeypatch.setitem(sys.modules, "av", Old)
    with pytest.raises(MissingPartError, match=r"newer PyAV than 14\.0\.0: pip install --upgrade"):
        lesson.filmed(demo_folder, bars="5")


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
