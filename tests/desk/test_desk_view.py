"""What the screen is given: the lesson's own words and places."""

import os
import shutil
from fractions import Fraction as F
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import soundfile
from asking import Asker, served

from fourlimb import demo
from fourlimb import lesson as room
from fourlimb.desk import Desk, desk_at, hearing
from fourlimb.desk.counts import counts, place
from fourlimb.desk.front import front_file, front_names
from fourlimb.desk.products import LABELS, MIME, product, products
from fourlimb.desk.view import minutes_of
from fourlimb.lesson import corrections
from fourlimb.lesson.orders import Exactly
from fourlimb.lesson.products import names
from fourlimb.model import LEVELS, Audio, InputError, LessonError, Level
from fourlimb.model.grid import from_tempi, regular


@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "12/8", "5/4", "7/8", "2+2+3/8", "3+2/8", "2/2"])
def test_every_place_that_is_offered_is_understood_as_it_is_typed(meter: str) -> None:
    grid = regular([meter] * 3, 100.0)
    for offered in counts(grid)[f"{meter} 0"].values():
        assert offered
        words = " ".join(typed for typed, _, _ in offered)
        order = corrections.read(f"bar 2: snare {words}", grid)
        assert isinstance(order, Exactly)
        assert len(order.lines[0][1]) == len(offered)


def test_a_pickup_s_places_are_counted_as_the_end_of_a_bar() -> None:
    grid = from_tempi([("2/4", 100.0), *[("4/4", 100.0)] * 4], first_bar=0)
    offered = counts(grid)["2/4 2"]["eighths"]
    assert [typed for typed, _, _ in offered] == ["3", "3&", "4", "4&"]
    corrections.read("pickup: snare 3 4&", grid)


def test_a_place_between_counts_is_told_by_its_note_and_typed_as_it_is_read() -> None:
    assert place("4/4", F(3, 32), 0) == ("1+3/8", "the 32nd after 1e", False)
    assert place("4/4", F(1, 4), 0) == ("2", "2", True)
    assert place("4/4", F(7, 16), 0) == ("2a", "a", False)


def test_seconds_of_the_recording_are_told_as_minutes() -> None:
    assert [minutes_of(s) for s in (0.0, 59.96, 61.04, 754.3)] == ["0:00.0", "1:00.0", "1:01.0", "12:34.3"]


def test_the_lesson_is_told_in_the_words_of_the_command_line(reader: Asker, short_folder: Path) -> None:
    shown = reader.get("/api/lesson")
    lesson = room.read_lesson(short_folder)
    assert room.show(lesson).startswith(f"{shown['title']}\n{shown['facts'][0]}")
    assert [bar["n"] for bar in shown["bars"]] == list(lesson.grid.numbers)
    assert [check["bar"] for check in shown["checks"]] == [doubt.bar for doubt in lesson.doubts]
    assert {level["name"] for level in shown["levels"]} == set(lesson.charts)
    assert [name for name, played in shown["pieces"] if played]
    assert shown["recording"] == {"there": True, "say": "night_ferry.ogg"}


def test_a_note_that_names_a_correction_gives_its_words(folder: Path) -> None:
    import msgspec

    from fourlimb.desk.view import lesson_view

    lesson = room.read_lesson(folder)
    note = "it could also be counted at 66 beats a minute; now it is 132; to change it say: tempo /2"
    shown = lesson_view(folder, msgspec.structs.replace(lesson, notes=(note, "the file ends early")), "")
    assert shown["notes"] == [
        {"say": "it could also be counted at 66 beats a minute; now it is 132", "words": "tempo /2"},
        {"say": "the file ends early", "words": ""},
    ]


@pytest.mark.parametrize("level", LEVELS)
def test_the_chart_is_drawn_with_a_place_for_every_bar_and_stroke(
    reader: Asker, short_folder: Path, level: Level
) -> None:
    shown = reader.get(f"/api/chart?level={level}")
    chart = room.read_lesson(short_folder).charts[level]
    assert len(shown["boxes"]) == len(shown["words"]) == len(chart.bars)
    assert "<script" not in shown["svg"]
    struck = {(stroke.bar, stroke.piece, stroke.position) for stroke in chart.strokes}
    assert sum(len(places) for bar in shown["places"].values() for places in bar.values()) == len(struck)


def test_a_bar_tells_what_was_heard_what_is_written_and_why(reader: Asker, short_folder: Path) -> None:
    lesson = room.read_lesson(short_folder)
    for bar in lesson.grid.numbers:
        shown = reader.get(f"/api/bar?bar={bar}&level=full")
        told = room.why(lesson, shown["name"])
        for row in shown["rows"]:
            assert row["heard"] in told
            assert f"full: {row['written']}" in told
            assert all(why in told for why in row["why"])
    assert reader.ask("GET", "/api/bar?bar=99&level=full")[0] == 422
    assert reader.ask("GET", "/api/bar?bar=x&level=full")[0] == 400
    assert reader.ask("GET", "/api/bar?bar=1&level=easy")[0] == 422


def test_every_product_that_a_lesson_has_can_be_opened_and_nothing_else(folder: Path) -> None:
    made = set(names())
    assert {name for name, _, _ in LABELS} == made
    assert {Path(name).suffix for name in made} == set(MIME) - {".mp4", ".webm"}
    assert [entry["file"] for entry in products(folder)] == [name for name, _, _ in LABELS]
    assert product(folder, "lesson.json") is None
    (folder / "takes").mkdir()
    (folder / "takes" / "first.marking.html").write_text("<!doctype html>")
    (folder / "takes" / "first.wav").write_bytes(b"private")
    assert product(folder, "takes/first.wav") is None
    assert product(folder, "takes/first.marking.html") == folder / "takes" / "first.marking.html"
    assert products(folder)[-1]["say"] == "Marking of first"


def test_products_are_handed_out_as_what_they_are(reader: Asker, short_folder: Path) -> None:
    for entry in reader.get("/api/lesson")["products"]:
        status, headers, body = reader.ask("GET", f"/made/{entry['file']}")
        assert status == 200
        assert body == (short_folder / entry["file"]).read_bytes()
        assert headers["Content-Type"] == MIME[Path(entry["file"]).suffix]


def test_a_film_is_handed_out_in_the_parts_that_a_player_asks_for(folder: Path, asker: Asker) -> None:
    (folder / "film").mkdir(exist_ok=True)
    film = bytes(range(256)) * 40
    (folder / "film" / "full.mp4").write_bytes(film)
    (folder / "film" / "full.vtt").write_text("WEBVTT")
    assert [one["file"] for one in products(folder) if one["file"].startswith("film/")] == ["film/full.mp4"]

    def part(span: str) -> tuple[int, str, bytes]:
        status, headers, body = asker.ask("GET", "/made/film/full.mp4", Range=span)
        return status, headers.get("Content-Range", ""), body

    size = len(film)
    assert part("bytes=0-") == (206, f"bytes 0-{size - 1}/{size}", film)
    assert part("bytes=100-199") == (206, f"bytes 100-199/{size}", film[100:200])
    assert part("bytes=10000-999999") == (206, f"bytes 10000-{size - 1}/{size}", film[10000:])
    assert part(f"bytes={size}-") == (416, f"bytes */{size}", b"")
    assert part("bytes=9-3")[0] == 416
    for odd in ("bytes=-5", "lines=1-2", "bytes=1-2,5-6", "bytes=x-"):
        assert part(odd) == (200, "", film)


def test_a_marking_is_handed_out_under_any_name_that_a_take_may_have(folder: Path, asker: Asker) -> None:
    from urllib.parse import quote

    (folder / "takes").mkdir()
    names = ["Zoë 50 % & more", "a#b?c", "日本", *(["a\r\nSet-Cookie: b=c"] if os.name != "nt" else [])]
    for name in names:
        (folder / "takes" / f"{name}.marking.html").write_text("<!doctype html>", encoding="utf-8")
        status, headers, _ = asker.ask("GET", f"/made/takes/{quote(name)}.marking.html")
        assert (status, headers["Content-Type"]) == (200, "text/html; charset=utf-8")
        assert "Set-Cookie" not in headers


def test_the_front_end_is_plain_files_that_ask_for_nothing_from_elsewhere() -> None:
    assert {"desk.html", "shelf.html", "main.js", "shelf.js", "desk.css", "look.css", "chart.js"} <= front_names()
    for name in front_names():
        data, kind = front_file(name) or (b"", "")
        assert data, name
        text = data.decode("utf-8").replace("http://www.w3.org/", "")
        assert "http:" not in text, name
        assert "https:" not in text, name
        if name.endswith(".html"):
            assert "<script>" not in text
            assert " style=" not in text
            assert " onclick" not in text
        assert kind.endswith("charset=utf-8")
    assert front_file("../desk.py") is None


def test_a_recording_beside_the_lesson_is_found_by_what_it_holds(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fourlimb.desk.hearing import must_be_recording, recording_near

    lesson = room.read_lesson(folder)
    (folder.parent / "a.mp3").write_bytes(b"another song")
    assert recording_near(folder, lesson) is None
    import msgspec

    with demo.recording_path() as path:
        shutil.copy(path, folder.parent / "take me.ogg")
    from fourlimb.lesson.source import kind_of

    song = msgspec.structs.replace(lesson.song, sha256=kind_of(folder.parent / "take me.ogg")[1], kind="audio")
    named = msgspec.structs.replace(lesson, song=song)
    assert recording_near(folder, named) == folder.parent / "take me.ogg"
    monkeypatch.setattr(hearing, "MOST_BYTES", 20)  # as if there were too many files to look into all
    assert recording_near(folder, named) is None
    (folder.parent / "take me.ogg").rename(folder.parent / "Night_Ferry.ogg")  # but its name says what it is
    assert recording_near(folder, named) == folder.parent / "Night_Ferry.ogg"
    (folder.parent / "Night_Ferry.ogg").rename(folder.parent / "take me.ogg")
    must_be_recording(folder.parent / "take me.ogg", named)
    with pytest.raises(InputError, match="is not the recording"):
        must_be_recording(folder.parent / "a.mp3", named)


def test_recording_chart_and_click_begin_and_end_their_bars_at_the_same_times(short_folder: Path) -> None:
    lesson, heard = room.read_lesson(short_folder), room.read_heard(short_folder)
    sheet = room.sheets(lesson)["full"]
    with demo.recording_path() as path:
        recorded = hearing.Recorded(path)
        for speed in (1.0, 0.7):
            song = hearing.of_recording(recorded, heard, lesson.grid, 3, 5, speed)
            chart, click = (play(sheet, 3, 5, speed) for play in (hearing.of_chart, hearing.of_click))
            assert [bar for bar, _ in song.bars] == [3, 4, 5]
            assert chart.bars == click.bars
            assert np.allclose([at for _, at in song.bars], [at for _, at in chart.bars], atol=1e-3)
            assert song.end_s == pytest.approx(chart.end_s, abs=1e-3)
            for made in (song, chart, click):
                samples, rate = soundfile.read(BytesIO(made.wav))
                assert len(samples) / rate >= made.end_s
                assert 0.02 < np.abs(samples).max() <= 1


def test_the_strokes_of_the_recording_are_heard_where_the_chart_has_them(short_folder: Path) -> None:
    """The first kick of bar 3, in both: the recording is cut at the right place, also when it is slowed."""
    lesson, heard = room.read_lesson(short_folder), room.read_heard(short_folder)
    kick = min(hit.time_s for hit in lesson.hits if (hit.bar, hit.sound) == (3, "kick"))
    with demo.recording_path() as path:
        for speed in (1.0, 0.5):
            made = hearing.of_recording(hearing.Recorded(path), heard, lesson.grid, 3, 3, speed)
            samples, rate = soundfile.read(BytesIO(made.wav))
            at = hearing.LEAD_S + (kick - lesson.grid.at(3).start_s) / speed
            power = np.convolve((samples.mean(axis=1)) ** 2, np.ones(rate // 200), "same")
            before, after = (power[round((at + d) * rate)] for d in (-0.02, 0.01))
            assert after > 4 * before


def test_a_long_recording_is_read_piece_by_piece_and_sounds_the_same() -> None:
    held = Audio(np.random.default_rng(1).normal(0, 0.1, (95 * 1000, 2)).astype(np.float32), 1000)
    for from_s, to_s in ((-0.5, 2.0), (29.5, 30.5), (1.0, 61.0), (94.0, 96.0), (59.9, 60.0)):
        cut = hearing._cut(held, from_s, to_s).samples
        assert len(cut) == round((to_s - from_s) * 1000)
        inside = held.samples[max(round(from_s * 1000), 0) : round(to_s * 1000)]
        lead = max(round(-from_s * 1000), 0)
        assert (cut[lead : lead + len(inside)] == inside).all()
        assert not cut[:lead].any()
        assert not cut[lead + len(inside) :].any()


@pytest.mark.parametrize(
    ("bars", "speed", "part"),
    [((5, 3), 1.0, "not in the song"), ((1, 99), 1.0, "not in the song"), ((1, 12), 0.1, "choose fewer bars")],
)
def test_what_cannot_be_heard_is_told(short_folder: Path, bars: tuple[int, int], speed: float, part: str) -> None:
    sheet = room.sheets(room.read_lesson(short_folder))["full"]
    with pytest.raises(InputError, match=part):
        hearing.of_chart(sheet, *bars, speed)


def test_a_desk_without_a_lesson_shows_the_shelf_and_opens_what_lies_there(
    short_folder: Path, tmp_path: Path
) -> None:
    shutil.copytree(short_folder, tmp_path / "night-ferry.lesson")
    (tmp_path / "not a lesson").mkdir()
    (tmp_path / "broken.lesson").mkdir()
    (tmp_path / "broken.lesson" / "lesson.json").write_text("{")
    (tmp_path / "new song.mp3").write_bytes(b"x")
    (tmp_path / "night ferry.ogg").write_bytes(b"x")  # its lesson is there
    with served(Desk(shelf=tmp_path)) as server:
        asker = Asker(server)
        assert b"The shelf" in asker.ask("GET", "/")[2]
        assert asker.ask("GET", "/api/lesson")[0] == 422
        shown = asker.get("/api/shelf")
        assert [(one["name"], one["opens"]) for one in shown["lessons"]] == [
            ("broken.lesson", False), ("night-ferry.lesson", True),
        ]  # fmt: skip
        assert [song["name"] for song in shown["songs"]] == ["new song.mp3"]
        assert asker.post("/api/open", name="../night-ferry.lesson")[0] == 422
        assert asker.post("/api/open", name="broken.lesson")[0] == 422
        assert asker.post("/api/open", name="night-ferry.lesson")[0] == 200
        assert asker.get("/api/lesson")["shelf"] is True
        assert asker.post("/api/shut")[0] == 200
        assert asker.post("/api/make", name="../x.mp3")[0] == 422
        assert asker.post("/api/make", name="new song.mp3")[0] == 202
        answer = asker.until_done()[-1]
        assert not answer["done"]
        assert "new song.mp3" in answer["words"]


def test_a_folder_that_holds_lessons_is_a_shelf_and_one_that_is_nothing_is_told(
    short_folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "songs").mkdir()
    (tmp_path / "songs" / "one.wav").write_bytes(b"x")
    (tmp_path / "empty").mkdir()
    assert desk_at(tmp_path / "songs").shelf == tmp_path / "songs"
    assert desk_at(short_folder).opened is not None
    with pytest.raises(LessonError, match="is not a lesson folder"):
        desk_at(tmp_path / "empty")
    with pytest.raises(LessonError, match="no such folder"):
        desk_at(tmp_path / "nowhere")
    with pytest.raises(InputError, match="is not the recording"):
        desk_at(short_folder, tmp_path / "songs" / "one.wav")


def test_every_script_of_the_desk_is_used_by_a_page_of_it() -> None:
    import re

    def needed(name: str, known: frozenset[str] = frozenset()) -> frozenset[str]:
        text = (front_file(name) or (b"", ""))[0].decode()
        for other in re.findall(r'(?:from "\./|/front/)([\w.]+)"', text):
            if other not in known:
                known = needed(other, known | {other})
        return known

    assert needed("desk.html") | needed("shelf.html") == front_names() - {"desk.html", "shelf.html"}


def test_a_desk_with_one_lesson_has_no_shelf(reader: Asker) -> None:
    assert reader.ask("GET", "/api/shelf")[0] == 422
    assert reader.post("/api/shut")[0] == 422
    assert reader.post("/api/open", name="night-ferry.lesson")[0] == 422
