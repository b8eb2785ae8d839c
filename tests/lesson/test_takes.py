"""A student's take in, its marking in the lesson's folder; bad input is one line and changes nothing."""

import json
import shutil
import subprocess
import sys
from fractions import Fraction as F
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from bench.spoiled import Planted, Take, heard_from, take_of
from click.testing import CliRunner

from fourlimb import lesson, sound
from fourlimb.cli import main
from fourlimb.lesson.lock import locked
from fourlimb.lesson.schema import load
from fourlimb.model import Audio, Chart, InputError, LessonError, Marking, Sound
from fourlimb.model.codec import decode, pretty

RATE = 44100


@pytest.fixture
def folder(short_folder: Path, tmp_path: Path) -> Path:
    """A copy of a short lesson that a test may change."""
    return Path(shutil.copytree(short_folder, tmp_path / "night-ferry.lesson"))


@pytest.fixture(scope="session")
def spoiled(short_folder: Path) -> Take:
    """Bars 1 to 12 of the full chart at 80 % of the tempo with four mistakes."""
    made = lesson.read_lesson(short_folder)
    chart = made.charts["full"]
    planted = [
        Planted("missed kick", 3, at(chart, 3, "kick"), "kick"),
        Planted("silent bar", 6, F(0), "kick"),
        Planted("rushed snare", 8, at(chart, 8, "snare"), "snare"),
        Planted("doubled stroke", 10, F(1, 16), "kick"),
    ]
    return take_of(chart, made.grid, 4, bars=12, speed=0.8, first=1, planted=planted)


@pytest.fixture(scope="session")
def take_file(spoiled: Take, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same played on the kit that ships, across a lively room with a fan, as FLAC."""
    path = tmp_path_factory.mktemp("takes") / "take 1.flac"
    path.write_bytes(sound.encode(heard_from(spoiled.drums(), "room", 4), "flac"))
    return path


def at(chart: Chart, bar: int, piece: Sound) -> F:
    return [s.position for s in chart.by_bar[bar] if s.piece == piece and not s.ghost][-1]


def files(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def noise(seconds: float, level: float = 0.01) -> Audio:
    rng = np.random.default_rng(3)
    return Audio((level * rng.standard_normal((int(seconds * RATE), 1))).astype(np.float32), RATE)


def test_planted_mistakes_are_told_at_their_bars_and_nearly_nothing_else(folder: Path, take_file: Path) -> None:
    before = files(folder)
    result = CliRunner().invoke(main, ["mark", str(take_file), "--lesson", str(folder), "-q"])
    assert result.exit_code == 0, result.output
    after = files(folder)
    assert {n: d for n, d in after.items() if not n.startswith("takes/")} == before
    assert set(after) - set(before) == {"takes/take-1.marking.json", "takes/take-1.marking.html"}
    marking = decode(after["takes/take-1.marking.json"], Marking)
    say = {bar.bar: bar.say for bar in marking.bars if bar.say}
    assert "kick" in say[3]
    assert "missing" in say[3]
    assert say[6] == "nothing of this bar was played"
    assert "early" in say[8]
    assert "a kick is added on 1e" in say[10]
    assert len(set(say) - {3, 6, 8, 10}) <= 1
    assert marking.take.tempo_bpm == pytest.approx(0.8 * 132, rel=0.02)
    assert "bar 3: the kick" in result.output


def test_the_marking_fits_its_schema_and_survives_the_round_trip(folder: Path, take_file: Path) -> None:
    marked = lesson.mark_take(take_file, folder)
    raw = marked.data.read_bytes()
    jsonschema.Draft202012Validator(load("marking")).validate(json.loads(raw))
    assert pretty(decode(raw, Marking)) == raw
    newer = json.loads(raw) | {"stage_light": 1}
    newer["strokes"][0]["hand"] = "left"
    again = json.loads(pretty(decode(json.dumps(newer), Marking)))
    assert again == newer


def test_the_same_take_gives_the_same_bytes_and_another_of_its_name_a_number(
    folder: Path, take_file: Path, tmp_path: Path
) -> None:
    first = files(lesson.mark_take(take_file, folder).page.parent)
    assert files(lesson.mark_take(take_file, folder).page.parent) == first
    other = tmp_path / take_file.name
    other.write_bytes(take_file.read_bytes() + b"\0")
    assert lesson.mark_take(other, folder).page.name == "take-1-2.marking.html"
    assert {name: files(folder / "takes")[name] for name in first} == first
    (folder / "takes" / "take-1.marking.json").write_bytes(b"{")  # damaged: not ours to write over
    assert lesson.mark_take(take_file, folder).page.name == "take-1-3.marking.html"


def test_a_midi_take_is_read_and_has_no_doubts(folder: Path) -> None:
    marked = lesson.mark_take(folder / "charts" / "bones.mid", folder, level="bones")
    assert marked.marking.summary.score > 0.99
    assert {s.verdict for s in marked.marking.strokes} == {"played"}
    assert marked.take.heights is None
    assert "heard by a machine" not in marked.page.read_text("utf-8")


def test_hand_percussion_that_nobody_wrote_is_not_the_students(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import msgspec

    from fourlimb.lesson import takes

    read = lesson.hear_take(folder / "charts" / "full.mid")
    shaker = [
        msgspec.structs.replace(h, id=1000 + h.id, time_s=h.time_s + 0.09, sound="shaker") for h in read.hits[:20]
    ]
    cymbals = [msgspec.structs.replace(h, sound="crash") for h in shaker]
    for more, told in ((shaker, set()), (cymbals, {"crash"})):
        both = takes.Take(read.name, read.sha256, read.duration_s, (*read.hits, *more))
        monkeypatch.setattr(takes, "hear_take", lambda *_, played=both: played)
        marking = lesson.mark_take(folder / "charts" / "full.mid", folder).marking
        assert {s.piece for s in marking.strokes if s.verdict == "extra"} == told


def test_bars_that_are_named_are_marked_and_no_others(folder: Path) -> None:
    marked = lesson.mark_take(folder / "charts" / "full.mid", folder, bars="5-8")
    assert [bar.bar for bar in marked.marking.bars] == [5, 6, 7, 8]
    assert [b.bar for b in lesson.mark_take(folder / "charts" / "full.mid", folder, bars="6").marking.bars] == [6]


def test_a_take_of_another_level_is_told_to_fit_that_one_better(folder: Path) -> None:
    made = lesson.read_lesson(folder)
    if len(made.charts["bones"].strokes) > 0.8 * len(made.charts["full"].strokes):
        pytest.fail("bones is hardly simpler than full: this test needs another song")
    marked = lesson.mark_take(folder / "charts" / "bones.mid", folder, level="full", bars="5-8")
    assert (marked.better, marked.marking.take.level) == ("bones", "full")
    assert "--level bones" in lesson.told(marked)


def test_the_page_is_one_file_that_asks_for_nothing(folder: Path, take_file: Path) -> None:
    page = lesson.mark_take(take_file, folder).page.read_text("utf-8")
    assert "default-src 'none'" in page
    assert "<script" not in page
    assert "{{" not in page
    for word in ("Night Ferry", "take 1.flac", "First, from memory", "Bar 6", "parent or guardian", "means stop"):
        assert word in page
    assert page.count('class="card"') == page.count("<h3>")


BAD = {
    "no such level": (["--level", "medium"], "use full, steady, bones"),
    "no such bars": (["--bars", "30-40"], "not in this song"),
    "bars the wrong way round": (["--bars", "8-5"], "not in this song"),
    "no bars": (["--bars", "chorus"], "names no bars"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_wrong_question_is_one_line_and_changes_nothing(name: str, folder: Path, take_file: Path) -> None:
    words, part = BAD[name]
    before = files(folder)
    result = CliRunner().invoke(main, ["mark", str(take_file), "--lesson", str(folder), "-q", *words])
    assert_one_line(result, part)
    assert files(folder) == before


def assert_one_line(result: object, part: str) -> None:
    assert result.exit_code == 1, result.output
    assert part in result.stderr
    assert result.stderr.count("\n") == 1
    assert "Traceback" not in result.stderr


def test_takes_that_cannot_be_marked_are_told_in_one_line(folder: Path, tmp_path: Path) -> None:
    takes = {
        "quiet.wav": (sound.encode(noise(8.0, 0.0), "wav"), "heard in it"),
        "noise.wav": (sound.encode(noise(8.0), "wav"), "heard in it"),
        "short.wav": (sound.encode(noise(0.6), "wav"), "shorter than a bar"),
        "empty.wav": (b"", "is empty"),
        "text.wav": (b"dear band, see you on Monday" * 9, "text.wav"),
        "text.mid": (b"MThd and nothing more", "not a MIDI file"),
    }
    before = files(folder)
    for name, (data, part) in takes.items():
        (tmp_path / name).write_bytes(data)
        result = CliRunner().invoke(main, ["mark", str(tmp_path / name), "--lesson", str(folder), "-q"])
        assert_one_line(result, part)
    result = CliRunner().invoke(main, ["mark", str(tmp_path / "no.wav"), "--lesson", str(folder), "-q"])
    assert_one_line(result, "no such file")
    assert files(folder) == before


def test_a_folder_that_cannot_be_used_is_told_before_anything_is_heard(
    folder: Path, take_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fourlimb.lesson import takes

    monkeypatch.setattr(takes, "hear_take", lambda *_: pytest.fail("the take was heard"))
    with pytest.raises(LessonError, match="not a lesson folder"):
        lesson.mark_take(take_file, tmp_path)
    with pytest.raises(LessonError, match="no such folder"):
        lesson.mark_take(take_file, tmp_path / "nowhere.lesson")
    before = files(folder)
    with locked(folder), pytest.raises(LessonError, match="another fourlimb"):
        lesson.mark_take(take_file, folder)
    assert files(folder) == before
    with pytest.raises(InputError, match="names no bars"):
        lesson.mark_take(take_file, folder, bars="1,2")


def test_a_full_disk_leaves_the_lesson_as_it_was(folder: Path) -> None:
    import errno

    class Full(lesson.Disk):
        def write(self, path: Path, data: bytes) -> None:
            path.write_bytes(data[:10])
            raise OSError(errno.ENOSPC, "No space left on device")

    before = files(folder)
    with pytest.raises(LessonError, match="disk is full"):
        lesson.mark_take(folder / "charts" / "full.mid", folder, disk=Full())
    assert files(folder) == before


def test_killed_while_it_writes_the_marking_is_whole_or_absent(folder: Path) -> None:
    code = (
        "import os, sys; from pathlib import Path; from fourlimb import lesson\n"
        "from fourlimb.lesson import folder as room\n"
        "real, left = os.{call}, {last}\n"
        "def dying(*a, **k):\n"
        "    global left; left -= 1\n"
        "    if left == 0: os._exit(9)\n"
        "    return real(*a, **k)\n"
        "os.{call} = dying\n"
        "lesson.mark_take(Path(sys.argv[1]) / 'charts' / 'full.mid', Path(sys.argv[1]))\n"
    )
    lesson.mark_take(folder / "charts" / "full.mid", folder)
    whole = files(folder / "takes")
    seen = set()
    for call, last in (("replace", 1), ("replace", 2), ("rename", 2), ("fsync", 6)):
        shutil.rmtree(folder / "takes")
        script = code.format(call=call, last=last)
        done = subprocess.run([sys.executable, "-c", script, str(folder)], capture_output=True, text=True)
        assert done.returncode == 9, done.stderr
        lesson.read_lesson(folder)  # finishes what was committed
        now = files(folder / "takes") if (folder / "takes").exists() else {}
        assert now in ({}, whole), f"{call} number {last} leaves a mixture"
        seen.add(bool(now))
        lesson.mark_take(folder / "charts" / "full.mid", folder)
        assert files(folder / "takes") == whole
    assert seen == {True, False}


def test_the_recording_is_neither_changed_nor_copied(folder: Path, take_file: Path) -> None:
    before = take_file.read_bytes()
    lesson.mark_take(take_file, folder)
    assert take_file.read_bytes() == before
    assert not [p for p in (folder / "takes").iterdir() if p.suffix not in (".json", ".html")]


def test_json_on_standard_output_is_the_file(folder: Path) -> None:
    words = ["mark", str(folder / "charts" / "full.mid"), "--lesson", str(folder), "-q", "--json"]
    result = CliRunner().invoke(main, words)
    assert result.stdout_bytes == (folder / "takes" / "full.marking.json").read_bytes()
