"""Takes and films at the desk: as the command line makes them, and taken from nobody but the desk's own page."""

import http.client
import json
import os
import shutil
import sys
import threading
import time
from pathlib import Path
from urllib.parse import quote

import pytest
from asking import Asker, served
from browser import Browser
from click.testing import CliRunner
from screen import opened, until

from fourlimb import lesson as room
from fourlimb.cli import main
from fourlimb.desk import Desk, guard, making
from fourlimb.lesson import filming
from fourlimb.lesson.lock import locked
from fourlimb.model import MissingPartError, Progress


def files(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def hand(asker: Asker, name: str, data: bytes, **wrong: str | None) -> tuple[int, dict[str, object]]:
    usual: dict[str, str | None] = {"Content_Type": "audio/midi"}
    status, _, body = asker.ask("POST", f"/api/take?name={quote(name, safe='')}", data, **(usual | wrong))
    return status, json.loads(body)


def test_a_take_is_handed_over_and_marked_as_the_command_line_marks_it(
    folder: Path, asker: Asker, tmp_path: Path
) -> None:
    other = Path(shutil.copytree(folder, tmp_path / "typed.lesson"))
    take = (folder / "charts" / "steady.mid").read_bytes()
    assert asker.get("/api/lesson")["making"]["takes"] == []
    assert hand(asker, "first take.mid", take)[0] == 202
    assert asker.until_done()[-1]["said"].startswith("first-take.mid lies in the lesson")
    assert (folder / "takes" / "first-take.mid").read_bytes() == take
    assert [one["name"] for one in asker.get("/api/lesson")["making"]["takes"]] == ["first-take.mid"]
    asked = {"take": "first-take.mid", "level": "steady", "from": 2, "to": 9}
    assert asker.post("/api/mark", **asked)[0] == 202
    answer = asker.until_done()[-1]
    assert answer["done"], answer
    assert "of 100" in answer["said"]
    assert "--" not in answer["said"]
    command = ["mark", str(folder / "takes" / "first-take.mid"), "--lesson", str(other)]
    assert CliRunner().invoke(main, [*command, "--level", "steady", "--bars", "2-9", "-q"]).exit_code == 0
    for ending in ("json", "html"):
        name = f"takes/first-take.marking.{ending}"
        assert (folder / name).read_bytes() == (other / name).read_bytes()
    assert "takes/first-take.marking.html" in {one["file"] for one in asker.get("/api/lesson")["products"]}
    assert asker.ask("GET", "/made/takes/first-take.mid")[0] == 404  # a take is handed out to nobody


def test_a_take_that_cannot_be_marked_is_told(folder: Path, asker: Asker) -> None:
    assert hand(asker, "noise.wav", b"RIFF no sound")[0] == 202
    asker.until_done()
    assert asker.post("/api/mark", take="noise.wav", level="full")[0] == 202
    answer = asker.until_done()[-1]
    assert not answer["done"]
    assert "noise.wav" in answer["said"]
    assert asker.post("/api/mark", take="noise.wav", level="easy")[0] == 422
    assert asker.post("/api/mark", take="noise.wav", **{"from": 5, "to": 99})[0] == 422
    assert asker.post("/api/mark", take="noise.wav", **{"from": 9, "to": 5})[0] == 400
    assert asker.post("/api/mark", take="noise.wav", **{"from": "5", "to": 9})[0] == 400
    for name in ("../lesson.json", "other.wav", "../takes/noise.wav", "", "/etc/passwd"):
        assert asker.post("/api/mark", take=name)[0] == 422


@pytest.mark.parametrize(
    ("status", "wrong"),
    [
        (403, {"Origin": None}),
        (403, {"Origin": "http://example.com"}),
        (403, {"Cookie": None}),
        (403, {"Cookie": "fourlimb-desk-1=abc"}),
        (403, {"Host": "evil.example"}),
        (403, {"Sec_Fetch_Site": "cross-site"}),
        (415, {"Content_Type": "application/json"}),
        (415, {"Content_Type": "text/html"}),
        (415, {"Content_Type": "video/mp4"}),
        (415, {"Content_Type": "audio/"}),
        (415, {"Content_Type": None}),
        (411, {"Content_Length": None}),
        (411, {"Content_Length": "-4"}),
        (411, {"Transfer_Encoding": "chunked"}),
        (413, {"Content_Length": str(making.MOST_TAKE + 1)}),
        (413, {"Content_Length": "9" * 40}),
    ],
)
def test_a_take_from_elsewhere_or_of_another_kind_is_not_even_read(
    folder: Path, asker: Asker, status: int, wrong: dict[str, str | None]
) -> None:
    before = files(folder)
    got, said = hand(asker, "a.wav", b"RIFF", **wrong)
    assert got == status
    assert set(said) == {"error"}
    assert asker.news()["answers"] == []
    assert files(folder) == before


@pytest.mark.parametrize("name", ["", "a.html", "../lesson.json", "a.wav\0.html", "takes", "a.mp4"])
def test_a_take_with_the_name_of_something_else_is_refused(folder: Path, asker: Asker, name: str) -> None:
    before = files(folder)
    assert hand(asker, name, b"RIFF")[0] == 422
    assert files(folder) == before


def test_a_take_lies_in_takes_and_nowhere_else_whatever_it_is_called(folder: Path, asker: Asker) -> None:
    before = set(folder.parent.rglob("*"))
    for name in ("../../out.wav", "/etc/x.wav", "..\\..\\y.wav", "%2e%2e%2fz.wav", "charts/full.pdf.wav"):
        assert hand(asker, name, name.encode())[0] == 202
        asker.until_done()
    fresh = {path.relative_to(folder).as_posix() for path in set(folder.parent.rglob("*")) - before}
    assert fresh == {
        "takes",
        "takes/out.wav",
        "takes/x.wav",
        "takes/y.wav",
        "takes/2e-2e-2fz.wav",
        "takes/full-pdf.wav",
    }


def test_a_long_take_that_is_refused_is_answered_and_one_that_is_taken_comes_whole(
    folder: Path, asker: Asker
) -> None:
    long = bytes(range(256)) * (1 << 14)  # 4 MB: more than what a connection holds by itself
    status, said = hand(asker, "long.txt", long)
    assert (status, "is no take" in str(said["error"])) == (422, True)
    assert hand(asker, "long.wav", long)[0] == 202
    asker.until_done()
    assert (folder / "takes" / "long.wav").read_bytes() == long


def test_takes_need_a_lesson_that_lies_open(tmp_path: Path) -> None:
    with served(Desk(shelf=tmp_path)) as server:
        assert hand(Asker(server), "a.wav", b"RIFF")[0] == 422
    assert list(tmp_path.iterdir()) == []


def test_one_take_is_handed_over_at_a_time_and_one_that_breaks_off_leaves_nothing(folder: Path, asker: Asker) -> None:
    before = files(folder)
    slow = http.client.HTTPConnection(guard.HOST, asker.port, timeout=10)
    slow.putrequest("POST", "/api/take?name=slow.wav", skip_host=True, skip_accept_encoding=True)
    here = f"{guard.HOST}:{asker.port}"
    sent = {"Host": here, "Origin": f"http://{here}", "Cookie": guard.cookie(asker.port, asker.token).split(";")[0]}
    for header, value in (sent | {"Content-Type": "audio/wav", "Content-Length": "1000"}).items():
        slow.putheader(header, value)
    slow.endheaders(b"half of it")
    time.sleep(0.3)
    status, said = hand(asker, "quick.wav", b"RIFF")
    assert (status, "another take" in str(said["error"])) == (409, True)
    assert asker.get("/api/lesson")["title"] == "Night Ferry"  # the desk answers meanwhile
    slow.close()
    for _ in range(100):
        if hand(asker, "quick.wav", b"RIFF")[0] == 202:
            break
        time.sleep(0.05)
    asker.until_done()
    assert set(files(folder)) - set(before) == {"takes/quick.wav"}


def test_takes_of_one_name_and_a_writer_at_the_command_line_lose_nothing(folder: Path, asker: Asker) -> None:
    assert hand(asker, "one.wav", b"first")[0] == 202
    asker.until_done()
    with locked(folder):
        assert hand(asker, "one.wav", b"second")[0] == 202
        answer = asker.until_done()[-1]
    assert (answer["done"], "another fourlimb is working" in answer["said"]) == (False, True)
    assert hand(asker, "one.wav", b"second")[0] == 202
    asker.until_done()
    assert {path.name: path.read_bytes() for path in (folder / "takes").iterdir()} == {
        "one.wav": b"first", "one-2.wav": b"second",
    }  # fmt: skip


def test_a_film_at_the_desk_is_that_of_the_command_line(folder: Path, asker: Asker, tmp_path: Path) -> None:
    pytest.importorskip("av", reason="films need PyAV: pip install fourlimb[video]")
    other = Path(shutil.copytree(folder, tmp_path / "typed.lesson"))
    asked = {"level": "bones", "teach": False, "song": False, "from": 3, "to": 3}
    assert asker.post("/api/film", **asked)[0] == 202
    answer = asker.until_done(120)[-1]
    assert answer["done"], answer
    assert answer["said"].startswith("film/bones-bars-3.mp4: ")
    assert CliRunner().invoke(main, ["film", str(other), "--level", "bones", "--bars", "3", "-q"]).exit_code == 0
    for ending in ("mp4", "vtt", "chapters.txt"):
        name = f"film/bones-bars-3.{ending}"
        assert (folder / name).read_bytes() == (other / name).read_bytes()
    assert "film/bones-bars-3.mp4" in {one["file"] for one in asker.get("/api/lesson")["products"]}


def test_a_film_is_asked_for_as_it_was_chosen_and_can_be_stopped(
    folder: Path, asker: Asker, monkeypatch: pytest.MonkeyPatch
) -> None:
    chosen: list[dict[str, object]] = []
    begun = threading.Event()

    def long(_: Path, *, progress: Progress, **given: object) -> str:
        chosen.append(given)
        begun.set()
        for step in range(1000):
            progress("Drawing", step / 1000)
            time.sleep(0.01)
        return "made"

    monkeypatch.setattr(room, "filmed", long)
    before = files(folder)
    assert asker.post("/api/film", level="full", teach=True, song=True)[0] == 202
    assert begun.wait(10)
    doing = asker.news()["doing"]
    assert doing["stops"] is True
    assert "taught, with the recording" in doing["words"]
    assert asker.post("/api/put-away", n=doing["n"]) == (200, {"away": True})
    assert asker.until_done()[-1]["said"] == "stopped: nothing was made"
    song = chosen[0].pop("song")
    assert isinstance(song, Path)
    assert song.name == "night_ferry.ogg"
    assert chosen == [{"level": "full", "teach": True, "bars": None}]
    assert files(folder) == before
    assert asker.post("/api/film", level="full", teach="yes", song=False)[0] == 400
    assert asker.post("/api/film", level="full", teach=False, song=False, **{"from": 3, "to": 99})[0] == 422


def test_without_the_video_part_films_are_one_line(asker: Asker, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    line = asker.get("/api/lesson")["making"]["no_film"]
    assert line.startswith("films need the video part")
    assert "\n" not in line
    status, said = asker.post("/api/film", level="full", teach=False, song=False)
    assert (status, said["error"]) == (422, line)
    with pytest.raises(MissingPartError):
        filming.filmed(Path("nowhere"))


def test_a_take_is_put_in_and_marked_on_the_screen(window: Browser, folder: Path, tmp_path: Path) -> None:
    shutil.copy(folder / "charts" / "full.mid", tmp_path / "anna.mid")
    (tmp_path / "anna.txt").write_text("no take")
    window.run("document.getElementById('take-fold').open = true")
    assert "minor" in window.run("return document.getElementById('take-care').textContent")
    field = window.driver.find_element("css selector", "#take-file")
    field.send_keys(str(tmp_path / "anna.txt"))
    until(window, "return document.getElementById('status').textContent.includes('is no take that can be marked')")
    field.send_keys(str(tmp_path / "anna.mid"))
    until(window, "return document.querySelector('#takes input:checked')?.value === 'anna.mid'")
    window.run("document.getElementById('mark-from').value = '2'; document.getElementById('mark-to').value = '5'")
    window.click("#mark button")
    until(
        window,
        "return [...document.querySelectorAll('#products a')].some((a) => a.href.endsWith('/anna.marking.html'))",
    )
    assert "bars 2-5 of full" in window.run("return document.getElementById('status').textContent")
    assert window.log("browser") == []
    window.driver.get(window.run("return [...document.querySelectorAll('#products a')].at(-1).href"))
    assert "anna" in window.driver.page_source


def test_a_film_is_asked_for_on_the_screen(window: Browser, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("av", reason="films need PyAV: pip install fourlimb[video]")
    chosen: list[dict[str, object]] = []

    def quick(folder: Path, *, progress: Progress, **given: object) -> str:
        chosen.append(given)
        (folder / "film").mkdir()
        (folder / "film" / "steady-taught.mp4").write_bytes(b"film")
        return f"{folder}{os.sep}film{os.sep}steady-taught.mp4: 3:10, 4 chapters\n  captions"

    monkeypatch.setattr(room, "filmed", quick)
    window.run(
        "document.getElementById('film-fold').open = true; document.getElementById('film-level').value = 'steady';"
        "document.getElementById('film-how').value = 'teach'; document.getElementById('film-from').value = '4'"
    )
    window.click("#film button")
    until(
        window,
        "return [...document.querySelectorAll('#products a')].some((a) => a.href.endsWith('/steady-taught.mp4'))",
    )
    assert chosen == [{"level": "steady", "teach": True, "bars": "4", "song": None}]
    status = str(window.run("return document.getElementById('status').textContent"))
    assert status == f"film{os.sep}steady-taught.mp4: 3:10, 4 chapters; it is under Finished"


@pytest.mark.parametrize("width", [360, 1366])
def test_without_the_video_part_the_screen_says_so(
    desk_browser: Browser, reader: Asker, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    opened(desk_browser, reader, width=width)
    desk_browser.run("document.getElementById('film-fold').open = true")
    assert "Films need the video part" in desk_browser.run("return document.getElementById('no-film').textContent")
    assert desk_browser.run("return document.getElementById('film').checkVisibility()") is False
    assert desk_browser.run("return document.documentElement.scrollWidth") <= width
