"""The desk's own page, scripts and styles, and those that it shares with the practice page.

Files are looked up by name in a fixed list: a name from outside is never joined to a path.
"""

from functools import lru_cache
from importlib.resources import files
from typing import Final

MIME: Final = {
    "html": "text/html; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "css": "text/css; charset=utf-8",
}
SHARED: Final = ("look.css", "style.css", "dom.js", "rows.js", "chart.js")
"""Files of the practice page: the house's look, and the chart with a button on every bar."""


def front_file(name: str) -> tuple[bytes, str] | None:
    """A file's bytes and type; None when there is none of this name."""
    if name not in front_names():
        return None
    room = "fourlimb.page.front" if name in SHARED else "fourlimb.desk.front"
    return (files(room) / name).read_bytes(), MIME[name.rpartition(".")[2]]


@lru_cache(maxsize=1)
def front_names() -> frozenset[str]:
    """All files that make up the desk's screen."""
    own = {entry.name for entry in files("fourlimb.desk.front").iterdir() if entry.name.rpartition(".")[2] in MIME}
    return frozenset(own | set(SHARED))
