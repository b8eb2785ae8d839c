"""A song in, a whole lesson folder out."""

import json
import shutil
from pathlib import Path
from typing import Literal

import jsonschema
import pytest
from click.testing import CliRunner

from fourlimb import demo, lesson, sound
from fourlimb.cli import main
from fourlimb.lesson import products as made
from fourlimb.lesson.schema import KINDS, load, text
from fourlimb.model import LEVELS, Audio, CorrectionError, InputError, Lesson, LessonError, Listening
from fourlimb.model.codec import decode, pretty
from fourlimb.page import samples
from fourlimb.sound import encode, pressing


def files(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in folder.rglob("*")
        if p.is_file() and not p.name.startswith(".")
    }


def run(*words: object) -> str:
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture
def folder(short_folder: Path, tmp_path: Path) -> Path:
    """A copy of a short lesson that a test may change."""
    return Path(shutil.copytree(short_folder, tmp_path / "night-ferry.lesson"))


def test_the_folder_holds_everything(demo_folder: Path) -> None:
    names = set(files(demo_folder))
    assert names == {"lesson.json", "heard.json", *made.names()}
    assert all(data for data in files(demo_folder).values())


@pytest.mark.parametrize("name", KINDS)
def test_published_schemas_are_what_the_model_says(name: str) -> None:
    published = Path(lesson.__file__).parent / "schemas" / f"{name}.schema.json"
    assert published.read_text("utf-8") == text(name), "run python -m fourlimb.lesson.schema"
    jsonschema.Draft202012Validator.check_schema(load(name))


def test_files_fit_their_published_schemas(demo_folder: Path) -> None:
    for name, kind in (("lesson.json", "lesson"), ("heard.json", "listen")):
        data = json.loads((demo_folder / name).read_bytes())
        jsonschema.Draft202012Validator(load(kind)).validate(data)
        assert data["schema"] == f"fourlimb/{kind}/1"


def test_lesson_json_survives_the_round_trip_byte_for_byte(demo_folder: Path) -> None:
    raw = (demo_folder / "lesson.json").read_bytes()
    assert pretty(decode(raw, Lesson)) == raw
    heard = (demo_folder / "heard.json").read_bytes()
    assert pretty(decode(heard, Listening)) == heard


def test_the_same_song_gives_the_same_bytes(demo_folder: Path, tmp_path: Path) -> None:
    with demo.recording_path() as song:
        other = lesson.make(song, tmp_path / "other.lesson", title="Night Ferry")
    assert files(other) == files(demo_folder)


def test_every_level_can_be_played_by_one_drummer(demo_folder: Path) -> None:
    verdict = lesson.verdict(lesson.read_lesson(demo_folder))
    assert verdict.breaches == dict.fromkeys(LEVELS, ())
    assert json.loads(run("check", demo_folder, "--json"))["levels"]["full"]["playable"] is True


def test_every_hit_is_in_a_stroke_or_in_a_reason(demo_folder: Path) -> None:
    found = lesson.read_lesson(demo_folder)
    for level in LEVELS:
        written = {hit for stroke in found.charts[level].strokes for hit in stroke.hits}
        told = {hit for r in found.reasons if not r.levels or level in r.levels for hit in r.hits}
        assert {hit.id for hit in found.hits} <= written | told


def test_bars_of_every_chart_are_the_bars_of_the_song(demo_folder: Path) -> None:
    found = lesson.read_lesson(demo_folder)
    for level in LEVELS:
        assert tuple(b.bar for b in found.charts[level].bars) == found.grid.numbers
        assert all(b.figure for b in found.charts[level].bars)


def test_a_correction_is_written_kept_and_taken_back(folder: Path) -> None:
    before = files(folder)
    said = run("correct", folder, "bar 6: kick 1 2& 3; snare 2 4", "-q")
    assert "correction 1" in said
    found = lesson.read_lesson(folder)
    kicks = [str(s.position) for s in found.charts["full"].by_bar[6] if s.piece == "kick"]
    assert kicks == ["0", "3/8", "1/2"]
    assert all(s.by == "teacher" for s in found.charts["full"].by_bar[6] if s.piece in ("kick", "snare"))
    assert files(folder)["charts/full.musicxml"] != before["charts/full.musicxml"]
    assert files(folder)["lesson.previous.json"] == before["lesson.json"]
    assert "bar 6: kick 1 2& 3" in run("correct", folder, "--list")
    run("correct", folder, "--undo", "-q")
    after = files(folder)
    for name in set(before) - {"lesson.json"}:
        assert after[name] == before[name], name
    assert lesson.read_lesson(folder).corrections[0].state == "undone"


@pytest.mark.parametrize(
    "words", ["bar 6: kick 1 2& 3; snare 2 4", "bars 2-3: crash 1", "bar 4: cowbell every beat", "bar 12: silent"]
)
def test_a_corrected_folder_is_the_folder_made_from_nothing(folder: Path, words: str) -> None:
    lesson.correct(folder, "bar 5: ghosted snare 2a")
    lesson.correct(folder, words)
    after = files(folder)
    lesson.rebuild(folder)
    anew = files(folder)
    assert [name for name in after if after[name] != anew[name] and "previous" not in name] == []


def test_a_correction_makes_a_few_seconds_of_sound_and_no_kit(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seconds: list[float] = []

    def counting(audio: Audio, form: Literal["mp3"]) -> bytes:
        seconds.append(len(audio.samples) / audio.rate)
        return encode(audio, form)

    monkeypatch.setattr(pressing, "encode", counting)
    monkeypatch.setattr(samples, "kit", lambda *_, **__: pytest.fail("the kit of the page was made anew"))
    lesson.correct(folder, "bar 6: kick 1 2& 3; snare 2 4")
    assert sum(seconds) < 3 * 9.0, "of three levels of 23 seconds each"


def test_a_correction_made_meanwhile_is_not_lost(folder: Path) -> None:
    calls: list[str] = []

    def meanwhile(stage: str, _share: float) -> None:
        calls.append(stage)
        if len(calls) == 1:
            lesson.correct(folder, "bar 6: silent")

    with pytest.raises(LessonError, match="run this again"):
        lesson.correct(folder, "bar 7: silent", progress=meanwhile)
    assert [item.what for item in lesson.read_lesson(folder).corrections] == ["bar 6: silent"]
    lesson.correct(folder, "bar 7: silent")
    assert [item.n for item in lesson.read_lesson(folder).corrections] == [1, 2]


def test_another_version_takes_nothing_from_the_files_before(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = folder / "lesson.json"
    path.write_bytes(path.read_bytes().replace(b'"made_by": "fourlimb ', b'"made_by": "fourlimb 0.0.'))
    given: list[bytes] = []
    monkeypatch.setattr(sound, "pressed", lambda sheet, before: given.append(before) or b"made")
    lesson.correct(folder, "bar 6: kick 1 2& 3")
    assert given == [b"", b"", b""]


def test_a_lesson_made_again_keeps_its_corrections(folder: Path, tmp_path: Path) -> None:
    lesson.correct(folder, "bar 6: silent")
    heard = lesson.read_heard(folder)
    lesson.make(tmp_path, folder, title="Night Ferry", again=True, hear=lambda *_, **__: heard)
    found = lesson.read_lesson(folder)
    assert [c.what for c in found.corrections] == ["bar 6: silent"]
    assert 6 not in found.charts["full"].by_bar


def test_a_level_can_be_corrected_alone(folder: Path) -> None:
    full = lesson.read_lesson(folder).charts["full"]
    lesson.correct(folder, "bones bar 6: kick 1; snare 3")
    found = lesson.read_lesson(folder)
    bones = [(s.piece, str(s.position)) for s in found.charts["bones"].by_bar[6] if s.piece in ("kick", "snare")]
    assert bones == [("kick", "0"), ("snare", "1/2")]
    assert found.charts["full"] == full
    lesson.correct(folder, "bones bars 9-12: as full")
    found = lesson.read_lesson(folder)
    for bar in range(9, 13):
        assert found.charts["bones"].by_bar[bar] == found.charts["full"].by_bar[bar]


def test_a_correction_that_is_not_understood_changes_nothing(folder: Path) -> None:
    before = files(folder)
    with pytest.raises(CorrectionError):
        lesson.correct(folder, "bar 999: kick 1")
    with pytest.raises(CorrectionError):
        lesson.correct(folder, undo=3)
    assert files(folder) == before


def test_unknown_fields_of_a_newer_version_survive_a_correction(folder: Path) -> None:
    path = folder / "lesson.json"
    data = json.loads(path.read_bytes())
    data["stage_light"] = {"colour": "none"}
    path.write_bytes(json.dumps(data).encode())
    lesson.correct(folder, "bar 6: silent")
    assert json.loads(path.read_bytes())["stage_light"] == {"colour": "none"}


def test_one_level_can_be_made_anew(folder: Path) -> None:
    (folder / "charts" / "steady.pdf").unlink()
    (folder / "charts" / "full.pdf").write_bytes(b"drawn on by hand")
    run("chart", folder, "--level", "steady", "-q")
    assert (folder / "charts" / "steady.pdf").read_bytes().startswith(b"%PDF")
    assert (folder / "charts" / "full.pdf").read_bytes() == b"drawn on by hand"


def test_only_what_is_played_otherwise_is_played_anew(folder: Path) -> None:
    full, bones = folder / "sound" / "full.mp3", folder / "sound" / "bones.mp3"
    full.write_bytes(b"not made anew")
    before = bones.read_bytes(), (folder / "charts" / "full.pdf").read_bytes()
    run("chart", folder, "--paper", "letter", "-q")
    assert full.read_bytes() == b"not made anew"
    assert (folder / "charts" / "full.pdf").read_bytes() != before[1]
    run("correct", folder, "bones bar 3: kick 1 2", "-q")
    assert full.read_bytes() == b"not made anew"
    assert bones.read_bytes() != before[0]
    bones.unlink()
    run("correct", folder, "title Night Boat", "-q")
    assert bones.is_file()
    run("chart", folder, "-q")
    assert len(full.read_bytes()) > 10_000, "asked for nothing else, all is made anew"


def test_show_and_why_speak_to_a_teacher(demo_folder: Path) -> None:
    shown = run("show", demo_folder)
    for word in ("Night Ferry", "Form", "Charts", "Figures", "full:", "bones:"):
        assert word in shown
    assert json.loads(run("show", demo_folder, "--json"))["schema"] == "fourlimb/lesson/1"
    told = run("why", demo_folder, "bar 6 beat 1")
    assert "kick" in told


def test_a_folder_that_is_there_is_not_overwritten(folder: Path, tmp_path: Path) -> None:
    song = tmp_path / "song.ogg"
    song.write_bytes(demo.recording())
    with pytest.raises(LessonError, match="--again"):
        lesson.make(song, folder)
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear band")
    with pytest.raises(LessonError, match="not a lesson"):
        lesson.make(song, tmp_path / "mine")


TITLES = {
    "script": '<script>alert("x")</script>',
    "newline": "Night\nFerry\x00\x1b[31m",
    "emoji": "Night 🚢 Ferry",
    "long": "a very long night " * 18,
    "right to left": "מעבורת לילה · عبّارة الليل",
    "separators": "../../etc/passwd: Night/Ferry\\C:",
    "markup": "# *Night* $x$ <b>Ferry</b> & #let x = 1",
    "empty": "",
}


@pytest.mark.parametrize("name", TITLES)
def test_no_title_breaks_a_lesson(name: str, short_folder: Path, tmp_path: Path) -> None:
    heard = lesson.read_heard(short_folder)
    folder = lesson.make(tmp_path, tmp_path / "t.lesson", title=TITLES[name], hear=lambda *a, **k: _named(heard, k))
    page = (folder / "page/index.html").read_text("utf-8")
    assert "<script>alert" not in page
    assert set(files(folder)) >= set(made.names())
    assert "\x1b" not in lesson.show(lesson.read_lesson(folder))


def _named(heard: Listening, how: dict[str, object]) -> Listening:
    import msgspec

    song = msgspec.structs.replace(heard.song, title=str(how["title"]))
    return msgspec.structs.replace(heard, song=song)


def test_a_chart_given_back_as_musicxml_or_midi_gives_the_same_strokes(folder: Path, tmp_path: Path) -> None:
    found = lesson.read_lesson(folder)
    for ending in ("musicxml", "mid"):
        heard = lesson.hear_song(folder / "charts" / f"full.{ending}")
        ours = {(s.bar, s.position, s.piece) for s in found.charts["full"].strokes}
        theirs = {(h.bar, h.position, h.sound) for h in heard.hits}
        assert theirs == ours, ending
        again = lesson.make(folder / "charts" / f"full.{ending}", tmp_path / f"{ending}.lesson")
        assert set(files(again)) >= set(made.names())


def test_a_score_says_itself_what_is_ghosted_and_accented(demo_folder: Path) -> None:
    """How hard a note sounds decides where nobody wrote it; where it is written, soft notes stay plain."""
    found = lesson.read_lesson(demo_folder)
    kit = found.kit
    again = lesson.build(lesson.hear_song(demo_folder / "charts" / "full.musicxml"), kit=kit)

    def written(made: Lesson) -> set[tuple[object, ...]]:
        strokes = made.charts["full"].strokes
        return {(s.bar, s.position, s.piece, s.ghost, s.accent, s.grace) for s in strokes}

    assert written(again) == written(found)
    soft = [s for s in found.charts["full"].strokes if s.piece == "snare" and not s.ghost]
    assert min(s.velocity for s in soft) < 60, "the song has plain snares that sound like ghosts"


def test_a_full_disk_leaves_the_lesson_as_it_was(folder: Path) -> None:
    import errno

    class Full(lesson.Disk):
        def write(self, path: Path, data: bytes) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

    before = files(folder)
    with pytest.raises(LessonError, match="disk is full"):
        lesson.correct(folder, "bar 6: silent", disk=Full())
    assert files(folder) == before


def test_a_newer_lesson_is_not_spoiled(folder: Path) -> None:
    path = folder / "lesson.json"
    data = json.loads(path.read_bytes())
    data["version"] = 99
    path.write_bytes(json.dumps(data).encode())
    with pytest.raises(LessonError, match="newer fourlimb"):
        lesson.correct(folder, "bar 6: silent")


def test_a_level_that_does_not_exist_is_named() -> None:
    with pytest.raises(InputError, match="full, steady, bones"):
        lesson.level_named("medium")
