"""Nobody but the desk's own page is answered."""

import json
import socket
from email.message import Message
from pathlib import Path

import pytest
from asking import Asker, served

from fourlimb.desk import Desk, guard

WELL = json.dumps({"since": "", "words": "bar 1: kick 1"}).encode()


def test_the_desk_listens_on_this_computer_only_and_has_a_new_secret_each_time(short_folder: Path) -> None:
    with served(Desk(short_folder)) as one, served(Desk(short_folder)) as other:
        assert one.server_address[0] == other.server_address[0] == "127.0.0.1"
        assert one.token != other.token
        assert len(one.token) >= 40
        here = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)} - {"127.0.0.1"}
        for address in here:  # this computer's other addresses are not answered
            with socket.socket() as tried:
                tried.settimeout(2)
                assert tried.connect_ex((address, one.server_port)) != 0


def test_the_address_that_is_printed_opens_the_desk_once_and_a_cookie_keeps_it_open(reader: Asker) -> None:
    status, headers, _ = reader.ask("GET", f"/?token={reader.token}", Cookie=None)
    assert (status, headers["Location"]) == (303, "/")
    kept = headers["Set-Cookie"]
    assert "HttpOnly" in kept
    assert "SameSite=Strict" in kept
    assert reader.ask("GET", "/", Cookie=kept.split(";")[0])[0] == 200


@pytest.mark.parametrize("path", ["/", "/api/lesson", "/front/main.js", "/made/charts/full.pdf", "/api/sound"])
@pytest.mark.parametrize(
    "wrong",
    [
        {"Cookie": None},
        {"Cookie": "fourlimb-desk-1=abc"},
        {"Cookie": "token"},
        {"Host": "localhost.example:80"},
        {"Host": "127.0.0.1"},
        {"Host": None},
        {"Origin": "http://example.com"},
        {"Origin": "null"},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
    ],
)
def test_a_question_from_elsewhere_is_refused(reader: Asker, path: str, wrong: dict[str, str | None]) -> None:
    status, _, body = reader.ask("GET", path, **wrong)
    assert status == 403
    assert set(json.loads(body)) == {"error"}


@pytest.mark.parametrize(
    "wrong",
    [
        {"Origin": None},
        {"Origin": "http://example.com"},
        {"Origin": "null"},
        {"Origin": "https://127.0.0.1:1"},
        {"Cookie": None},
        {"Host": "evil.example"},
        {"Sec_Fetch_Site": "cross-site"},
    ],
)
def test_a_change_from_elsewhere_is_refused_and_changes_nothing(asker: Asker, wrong: dict[str, str | None]) -> None:
    before = asker.state
    body = json.dumps({"since": before, "words": "bar 1: kick 1"}).encode()
    assert asker.ask("POST", "/api/correct", body, **wrong)[0] == 403
    assert asker.news()["answers"] == []
    assert asker.state == before


def test_the_address_that_the_browser_is_started_with_opens_the_desk_once(short_folder: Path) -> None:
    with served(Desk(short_folder)) as server:
        asker, address = Asker(server), server.address_once()
        assert server.token not in address
        path = address.removeprefix(f"http://127.0.0.1:{server.server_port}")
        assert [asker.ask("GET", path, Cookie=None)[0] for _ in range(3)] == [303, 403, 403]
        assert asker.ask("GET", f"/?token={server.token}", Cookie=None)[0] == 303


def test_a_wrong_token_in_the_address_opens_nothing(reader: Asker) -> None:
    status, headers, _ = reader.ask("GET", "/?token=guessed", Cookie=None)
    assert status == 403
    assert "Set-Cookie" not in headers
    assert reader.ask("GET", f"/?token={reader.token}", Cookie=None, Host="rebound.example:80")[0] == 403


@pytest.mark.parametrize(
    ("status", "body", "wrong"),
    [
        (415, WELL, {"Content_Type": "text/plain"}),
        (415, WELL, {"Content_Type": None}),
        (411, WELL, {"Content_Length": None}),
        (411, WELL, {"Content_Length": "-5"}),
        (411, WELL, {"Content_Length": "lots"}),
        (411, WELL, {"Transfer_Encoding": "chunked"}),
        (413, WELL, {"Content_Length": str(guard.MOST_BODY + 1)}),
        (413, WELL, {"Content_Length": "9" * 30}),
        (400, b"{", {}),
        (400, b"[" * 20000, {}),
        (400, b'"words"', {}),
        (400, b"\xff\xfe", {}),
        (400, b'{"since": 1, "words": "x"}', {}),
        (400, b"{}", {}),
    ],
)
def test_a_body_that_cannot_be_read_is_one_clear_line(
    reader: Asker, status: int, body: bytes, wrong: dict[str, str | None]
) -> None:
    got, headers, answer = reader.ask("POST", "/api/correct", body, **wrong)
    assert got == status
    assert headers["Content-Type"] == "application/json"
    assert "\n" not in json.loads(answer)["error"]
    assert reader.get("/api/lesson")["title"] == "Night Ferry"  # and the desk goes on


@pytest.mark.parametrize(
    "path",
    [
        "/front/../desk.py",
        "/front/%2e%2e/desk.py",
        "/front/__init__.py",
        "/front//etc/passwd",
        "/made/lesson.json",
        "/made/heard.json",
        "/made/../lesson.json",
        "/made/charts/../lesson.json",
        "/made/charts/%2e%2e/lesson.json",
        "/made//etc/passwd",
        "/made/takes/../lesson.json",
        "/made/charts/full.pdf%00",
        "/made/.lock",
        "/lesson.json",
        "/api/correct",
        "/api/nothing",
        "//example.com/",
        "/front/",
    ],
)
def test_nothing_but_the_desk_and_the_lessons_products_is_served(reader: Asker, path: str) -> None:
    status, _, body = reader.ask("GET", path)
    assert status == 404
    assert b"fourlimb/lesson" not in body


@pytest.mark.parametrize("path", ["//[", "/?" + "a=1&" * 30, "http://[x/", "/%zz", "/?token=%ff", "/" + "a" * 9000])
def test_a_strange_address_is_refused_without_a_word_to_the_terminal(
    reader: Asker, path: str, capfd: pytest.CaptureFixture[str]
) -> None:
    status, _, body = reader.ask("GET", path)
    assert status in (400, 403, 404, 414)
    assert "error" in json.loads(body)
    assert reader.ask("POST", path, WELL)[0] in (400, 404, 414)
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "HEAD", "TRACE"])
def test_other_methods_are_not_known(reader: Asker, method: str) -> None:
    status, headers, _ = reader.ask(method, "/api/lesson")
    assert status == 501
    assert "Access-Control-Allow-Origin" not in headers


def test_every_answer_forbids_what_the_desk_does_not_need(reader: Asker) -> None:
    for path in ("/", "/front/main.js", "/front/desk.css", "/api/lesson", "/api/nothing"):
        _, headers, _ = reader.ask("GET", path)
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Cache-Control"] == "no-store"


def test_the_practice_page_opens_without_any_right_over_the_desk(reader: Asker) -> None:
    _, headers, body = reader.ask("GET", "/made/page/index.html")
    policy = headers["Content-Security-Policy"]
    assert policy.startswith("sandbox ")
    assert "allow-same-origin" not in policy
    assert body.startswith(b"<!doctype html>")


def test_a_lookalike_of_the_cookie_is_not_the_cookie() -> None:
    headers = Message()
    headers["Cookie"] = "x=1; fourlimb-desk-80=secret2; fourlimb-desk-8080=secret"
    assert not guard.has_token(headers, 80, "secret")
    assert guard.has_token(headers, 8080, "secret")
    assert not guard.has_token(Message(), 80, "secret")


def test_two_hosts_in_one_request_are_refused() -> None:
    headers = Message()
    headers["Host"] = "127.0.0.1:80"
    assert guard.strange(headers, 80, changes=False) is None
    headers["Host"] = "127.0.0.1:80"
    assert guard.strange(headers, 80, changes=False) == guard.STRANGE_HOST
