"""Bars of the recording at another tempo: the right ones, counted in, their attacks as they were recorded."""

import shutil
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from fourlimb import demo, lesson
from fourlimb.cli import main
from fourlimb.model import InputError
from fourlimb.sound.click import count_in_bars
from fourlimb.sound.render import LEAD_S, TAIL_S

BARS = (5, 8)
BPM = 92.0
RATE = 44_100


@pytest.fixture(scope="module")
def song() -> Iterator[Path]:
    with demo.recording_path() as path:
        yield path


def read(path: Path) -> np.ndarray:
    samples, rate = soundfile.read(BytesIO(path.read_bytes()), dtype="float32", always_2d=True)
    assert rate == RATE
    return samples


def test_bars_last_as_long_as_their_tempo_says(song: Path, demo_folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "bars.wav"
    said = lesson.slowed(song, demo_folder, bars="5-8", tempo="92", out=out)
    assert said.startswith(f"bars 5-8 at 92 (the song: 132): {out}")
    assert "may need a licence" in said
    beat_s = 60 / BPM
    counted_s = 4 * beat_s * count_in_bars("4/4", BPM)
    assert len(read(out)) / RATE == pytest.approx(LEAD_S + counted_s + 16 * beat_s + TAIL_S, abs=0.1)


def test_an_attack_is_the_recording_itself(song: Path, demo_folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "bars.wav"
    lesson.slowed(song, demo_folder, bars="5-8", tempo="70 %", out=out)
    original, slower = read(song)[:, 0], read(out)[:, 0]
    found = lesson.read_lesson(demo_folder)
    kick = next(hit for hit in found.hits if hit.bar == BARS[0] + 1 and hit.sound == "kick" and hit.position == 0)
    start_s, speed = found.grid.at(BARS[0]).start_s, 0.7
    counted_s = 4 * 60 / (found.grid.at(BARS[0]).tempo_bpm * speed)
    there = round((LEAD_S + counted_s + (kick.time_s - start_s) / speed) * RATE)
    own = round(kick.time_s * RATE)
    long = round(0.03 * RATE)
    reach = round(0.004 * RATE)
    likeness = [
        np.corrcoef(original[own : own + long], slower[there + lag : there + lag + long])[0, 1]
        for lag in range(-reach, reach + 1)
    ]
    assert max(likeness) > 0.97


def test_drums_and_click_play_over_it_when_asked(song: Path, demo_folder: Path, tmp_path: Path) -> None:
    alone, both = tmp_path / "alone.wav", tmp_path / "both.wav"
    lesson.slowed(song, demo_folder, bars="25-26", out=alone)
    lesson.slowed(song, demo_folder, bars="25-26", click=True, out=both)
    assert np.abs(read(both) - read(alone)).max() > 0.05, "bars without drums: only the click differs"
    lesson.slowed(song, demo_folder, bars="5", level="bones", out=both)
    lesson.slowed(song, demo_folder, bars="5", out=alone)
    assert np.abs(read(both) - read(alone)).max() > 0.1


def test_the_command_names_its_file(
    song: Path, demo_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(main, ["slow", str(song), "--lesson", str(demo_folder), "--bars", "5", "-q"])
    assert done.exit_code == 0, done.output
    assert [path.name for path in tmp_path.iterdir()] == ["Night-Ferry-bar-5-at-92.mp3"]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"bars": "90-91"}, "bars 90-91"),
        ({"bars": "chorus"}, "names no bars"),
        ({"tempo": "slowly"}, "is no tempo"),
        ({"tempo": "0"}, "is no tempo"),
        ({"tempo": "10"}, "cannot be played"),
        ({"out": Path("bars.txt")}, r"\.wav, \.flac, \.mp3, \.ogg"),
    ],
)
def test_what_cannot_be_is_one_line(
    song: Path,
    demo_folder: Path,
    asked: dict[str, Any],
    words: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match=words) as refused:
        lesson.slowed(song, demo_folder, **asked)
    assert "\n" not in str(refused.value)
    assert not list(tmp_path.iterdir())


def test_another_file_is_not_this_lessons_recording(demo_folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.wav"
    soundfile.write(other, np.zeros((4410, 1), np.float32), RATE)
    with pytest.raises(InputError, match="is not the recording"):
        lesson.slowed(other, demo_folder)


def test_a_lesson_made_from_notes_has_no_recording(demo_folder: Path, song: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(demo_folder, tmp_path / "notes.lesson"))
    path = folder / "lesson.json"
    path.write_bytes(path.read_bytes().replace(b'"kind": "audio"', b'"kind": "midi"'))
    with pytest.raises(InputError, match="made from notes"):
        lesson.slowed(song, folder)
