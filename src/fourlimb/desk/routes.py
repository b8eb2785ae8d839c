"""What can be asked of the desk, and what is answered. Who may ask is settled before (`guard`).

Every answer is a `Reply`. What cannot be done is one line with its status: 400 not understood, 404 not there, 409 the
lesson is not the one that was seen, 422 cannot be.
"""

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, Final, get_args
from urllib.parse import unquote

from fourlimb import lesson as room
from fourlimb.lesson.why import why
from fourlimb.model import CorrectionError, FourlimbError, InputError, Level
from fourlimb.model.printing import PaperName, PassageName, VoiceName

from . import hearing, making, view
from .desk import Desk
from .front import front_file
from .guard import PRACTICE_PAGE
from .opened import ChangedError, Opened, patiently
from .products import MIME, SHOWN, product
from .shelf import shelf_view

MOST_PART: Final = 1 << 23
"""Longest part of a file that is handed out at once, bytes (ours: a film is not held in memory)."""
_SPAN: Final = re.compile(r"bytes=(\d{1,15})-(\d{0,15})")
TAKE: Final = "/api/take"
"""Where a take is handed over: the one request whose body is no JSON."""
NEWS_S: Final = 10.0
"""How long a question for news is held open (ours: well under what browsers wait)."""

Query = Mapping[str, str]


@dataclass(frozen=True)
class Reply:
    """Status, type, bytes, and headers beside those that every answer has."""

    body: bytes
    kind: str = "application/json"
    status: int = 200
    more: Mapping[str, str] = field(default_factory=dict)


def told(value: Any, status: int = 200) -> Reply:
    """Data as JSON."""
    return Reply(json.dumps(value, ensure_ascii=False).encode(), status=status)


def sorry(status: int, say: str) -> Reply:
    """One line that says what, where and what to do."""
    return told({"error": " ".join(say.split())}, status)


def answer(desk: Desk, method: str, path: str, query: Query, body: Any, span: str = "") -> Reply:
    """The answer to one request. `span`: the part of a file that is asked for, as the header Range says it."""
    table = GET if method == "GET" else POST
    act: Callable[[], Reply] | None = None
    if path in table:
        act = partial(table[path], desk, query if method == "GET" else body)
    elif method == "GET" and path.startswith("/front/"):
        act = partial(_front, path.removeprefix("/front/"))
    elif method == "GET" and path.startswith("/made/"):
        act = partial(_made, desk, unquote(path.removeprefix("/made/")), span)
    return _or_sorry(act) if act else sorry(404, "the desk has nothing of this name")


def handed(desk: Desk, name: str, read: Callable[[], bytes]) -> Reply:
    """A take is handed over to the lesson that lies open; `read` gives its bytes, if it may be one."""
    return _or_sorry(lambda: _asked(making.hand_over(_opened(desk), desk.work, name, read)))


def _or_sorry(act: Callable[[], Reply]) -> Reply:
    try:
        return act()
    except ChangedError as error:
        return sorry(409, str(error))
    except CorrectionError as error:
        return sorry(400, str(error))
    except FourlimbError as error:
        return sorry(422, str(error))


def _page(desk: Desk, _: Query) -> Reply:
    return _front("desk.html" if desk.opened else "shelf.html")


def _front(name: str) -> Reply:
    found = front_file(name)
    return sorry(404, "the desk has nothing of this name") if found is None else Reply(*found)


def _made(desk: Desk, name: str, span: str) -> Reply:
    path = product(_opened(desk).folder, name)
    if path is None:
        return sorry(404, "the lesson has no product of this name")
    how = "inline" if path.suffix in SHOWN else "attachment"
    plain = re.sub(r"[^\w .-]", "-", path.name, flags=re.ASCII)
    own = PRACTICE_PAGE if path.suffix == ".html" else ""
    more = {"Content-Disposition": f'{how}; filename="{plain}"', "Content-Security-Policy": own}
    try:
        return _part(path, span, more | {"Accept-Ranges": "bytes"})
    except OSError as error:
        return sorry(422, f"{name} cannot be read ({error.strerror})")


def _part(path: Path, span: str, more: dict[str, str]) -> Reply:
    """A file, or the part of it that a player asks for ("bytes=100-"): so sound and films can be gone through."""
    found = _SPAN.fullmatch(span)
    if found is None:
        return Reply(path.read_bytes(), MIME[path.suffix], more=more)
    size, first = path.stat().st_size, int(found[1])
    last = min(int(found[2]) if found[2] else size - 1, first + MOST_PART - 1, size - 1)
    if first >= size or last < first:
        return Reply(b"", MIME[path.suffix], 416, more | {"Content-Range": f"bytes */{size}"})
    with open(path, "rb") as file:
        file.seek(first)
        data = file.read(last - first + 1)
    return Reply(data, MIME[path.suffix], 206, more | {"Content-Range": f"bytes {first}-{last}/{size}"})


def _opened(desk: Desk) -> Opened:
    if desk.opened is None:
        raise InputError("no lesson lies open: choose one on the shelf")
    return desk.opened


def _lesson(desk: Desk, _: Query) -> Reply:
    opened = _opened(desk)
    state, lesson = opened.now()
    shown = view.lesson_view(opened.folder, lesson, state)
    return told(
        shown
        | {
            "recording": desk.recording_says(),
            "shelf": desk.shelf is not None,
            "cautions": _cautions(),
            "making": making.making_view(opened.folder),
        }
    )


def _cautions() -> dict[str, str]:
    """The sentences that stand where sound is played and where files are handed out."""
    from fourlimb.teach.cautions import caution, cautions

    return {
        "start": " ".join(cautions("start")),
        "volume": caution("dose"),
        "export": " ".join(cautions("export")),
        "lesson": " ".join(cautions("lesson")),
        "take": " ".join(cautions("take")),
    }


def _chart(desk: Desk, query: Query) -> Reply:
    state, lesson = _opened(desk).now()
    if not lesson.grid.bars:
        raise InputError("no bars were found in this song: nothing can be written")
    return told(view.chart_view(lesson, room.sheets(lesson)[_level(query)], state))


def _bar(desk: Desk, query: Query) -> Reply:
    _, lesson = _opened(desk).now()
    bar = _whole(query, "bar")
    if not lesson.grid.has(bar):
        raise InputError(f"there is no bar {bar}")
    return told(view.bar_view(lesson, _level(query), bar))


def _why(desk: Desk, query: Query) -> Reply:
    return told({"say": why(_opened(desk).now()[1], query.get("place", ""))})


def _read(desk: Desk, query: Query) -> Reply:
    """Whether words would be understood; nothing is changed."""
    try:
        _opened(desk).read_words(query.get("words", ""))
    except CorrectionError as error:
        return told({"understood": False, "say": str(error)})
    return told({"understood": True, "say": ""})


def _sound(desk: Desk, query: Query) -> Reply:
    opened = _opened(desk)
    _, lesson = opened.now()
    first, last = _whole(query, "from"), _whole(query, "to")
    speed = _whole(query, "speed") / 100
    if query.get("what") == "recording":
        if desk.recorded is None:
            raise InputError(desk.recording_says()["say"])
        heard = patiently(room.read_heard, opened.folder)
        found = hearing.of_recording(desk.recorded, heard, lesson.grid, first, last, speed)
    else:
        play = hearing.of_click if query.get("what") == "click" else hearing.of_chart
        found = play(room.sheets(lesson)[_level(query)], first, last, speed)
    places = json.dumps({"bars": found.bars, "end": found.end_s, "lead": hearing.LEAD_S})
    return Reply(found.wav, "audio/wav", more={"Fourlimb-Places": places})


def _news(desk: Desk, query: Query) -> Reply:
    opened = desk.opened
    state, about = (opened.state, str(opened.folder)) if opened else (lambda: "", "")
    return told(desk.work.news(_whole(query, "seen"), NEWS_S, state, query.get("state", ""), about=about))


def _shelf(desk: Desk, _: Query) -> Reply:
    if desk.shelf is None:
        raise InputError("the desk was opened with one lesson: start it without a lesson to see the shelf")
    return told(shelf_view(desk.shelf) | {"care": _cautions()["lesson"]})


def _correct(desk: Desk, body: Any) -> Reply:
    return _asked(_opened(desk).correct(_text(body, "since"), _text(body, "words")))


def _undo(desk: Desk, body: Any) -> Reply:
    return _asked(_opened(desk).switch(_text(body, "since"), _number(body, "n"), undo=True))


def _redo(desk: Desk, body: Any) -> Reply:
    return _asked(_opened(desk).switch(_text(body, "since"), _number(body, "n"), undo=False))


def _put_away(desk: Desk, body: Any) -> Reply:
    return told({"away": desk.work.put_away(_number(body, "n"))})


def _open(desk: Desk, body: Any) -> Reply:
    desk.open_from_shelf(_text(body, "name"))
    return told({"open": True})


def _shut(desk: Desk, _: Any) -> Reply:
    desk.back_to_shelf()
    return told({"open": False})


def _make(desk: Desk, body: Any) -> Reply:
    return _asked(desk.make_from_shelf(_text(body, "name")))


def _mark(desk: Desk, body: Any) -> Reply:
    return _asked(making.mark(_opened(desk), desk.work, _text(body, "take"), _level(body), _bars(body)))


def _film(desk: Desk, body: Any) -> Reply:
    song = desk.recorded.path if _yes(body, "song") and desk.recorded else None
    if _yes(body, "song") and song is None:
        raise InputError(desk.recording_says()["say"])
    opened, teach = _opened(desk), _yes(body, "teach")
    return _asked(making.film(opened, desk.work, _level(body), _bars(body), teach=teach, song=song))


def _bars(body: Any) -> making.Bars:
    """The bars that are asked for; None when none are named."""
    if body.get("from") is None and body.get("to") is None:
        return None
    first, last = _number(body, "from"), _number(body, "to")
    if not 0 <= first <= last < 10**6:
        raise CorrectionError("these are no bars: the first comes first, like 5 to 8")
    return first, last


def _yes(body: Any, name: str) -> bool:
    value = body.get(name)
    if not isinstance(value, bool):
        raise CorrectionError(f'the request does not say "{name}" as yes or no')
    return value


def _asked(job: int) -> Reply:
    return told({"job": job}, 202)


CHOICES: Final[dict[str, Callable[[Any], bool]]] = {
    "paper": lambda v: v in get_args(PaperName),
    "landscape": lambda v: isinstance(v, bool),
    "size": lambda v: v in (100, 150, 200) and not isinstance(v, bool),
    "bars": lambda v: isinstance(v, int) and not isinstance(v, bool) and 0 <= v <= 8,
    "voices": lambda v: v in get_args(VoiceName),
    "count": lambda v: isinstance(v, bool),
    "hands": lambda v: isinstance(v, bool),
    "cues": lambda v: isinstance(v, bool),
    "legend": lambda v: isinstance(v, bool),
    "doubts": lambda v: isinstance(v, bool),
    "difficulty": lambda v: isinstance(v, bool),
    "repeat_signs": lambda v: isinstance(v, bool),
    "passages": lambda v: v in get_args(PassageName),
    "counting": lambda v: isinstance(v, str) and len(v) <= 20,
    "week": lambda v: isinstance(v, int) and not isinstance(v, bool) and 1 <= v <= 500,
    "rights": lambda v: isinstance(v, list) and len(v) <= 10 and all(isinstance(x, str) and len(x) <= 300 for x in v),
    "key": lambda v: isinstance(v, str) and len(v) <= 40 and not v.lower().endswith(".toml"),
    "kit_words": lambda v: isinstance(v, str) and len(v) <= 400,
}
"""Choices of print, key and kit, and which values each may have. A key from a file is the command line's: the desk
reads no file that a request names."""


def _print(desk: Desk, body: Any) -> Reply:
    given = body.get("choices")
    if not isinstance(given, dict) or not given:
        raise CorrectionError("nothing is chosen: choose how the lesson is to be printed")
    for name, value in given.items():
        if name not in CHOICES or not CHOICES[name](value):
            raise CorrectionError(f'"{str(name)[:40]}" cannot be chosen so: choose one of those shown')
    choices = {name: tuple(value) if name == "rights" else value for name, value in given.items()}
    return _asked(_opened(desk).print_as(_text(body, "since"), choices))


def _text(body: Any, name: str) -> str:
    value = body.get(name)
    if not isinstance(value, str):
        raise CorrectionError(f'the request does not say "{name}"')
    return value


def _number(body: Any, name: str) -> int:
    value = body.get(name)
    if not isinstance(value, int) or isinstance(value, bool):
        raise CorrectionError(f'the request does not say "{name}" as a number')
    return value


def _whole(query: Query, name: str) -> int:
    value = query.get(name, "")
    if not (value.isascii() and value.isdigit() and len(value) < 10):
        raise CorrectionError(f'the request does not say "{name}" as a whole number')
    return int(value)


def _level(query: Mapping[str, Any]) -> Level:
    return room.level_named(str(query.get("level") or "full")) or "full"


GET: Final[dict[str, Callable[[Desk, Any], Reply]]] = {
    "/": _page,
    "/api/lesson": _lesson,
    "/api/chart": _chart,
    "/api/bar": _bar,
    "/api/why": _why,
    "/api/read": _read,
    "/api/sound": _sound,
    "/api/news": _news,
    "/api/shelf": _shelf,
}
POST: Final[dict[str, Callable[[Desk, Any], Reply]]] = {
    "/api/correct": _correct,
    "/api/undo": _undo,
    "/api/redo": _redo,
    "/api/print": _print,
    "/api/put-away": _put_away,
    "/api/open": _open,
    "/api/shut": _shut,
    "/api/make": _make,
    "/api/mark": _mark,
    "/api/film": _film,
}
