"""The pages' own script, style sheet and template, read from this folder and folded for the page.

The script is written as small ES modules. A page opened from disk may not load modules from files, so they are joined
into one, in the order in which they need each other: imports and the word `export` fall away, names must be unique.
"""

import re
from functools import lru_cache
from importlib.resources import files
from typing import Final

MAIN: Final = "main.js"
_IMPORT = re.compile(r'^import [^;]*? from "\./([\w.]+)";\n', re.MULTILINE)


@lru_cache(maxsize=1)
def script() -> str:
    """All modules as one script, needed ones first. Holds no `</script>`."""
    return "".join(_IMPORT.sub("", _read(name)).replace("\nexport ", "\n") for name in order(MAIN))


def order(name: str, before: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Module names in the order in which they can run; ends with `name`."""
    for needed in _IMPORT.findall(_read(name)):
        if needed not in before:
            before = order(needed, before)
    return (*before, name)


def style(page: str = "style") -> str:
    """The style sheet: the look that the house's pages share, and what only this one has ("style", "marked")."""
    return _read("look.css") + _read(f"{page}.css")


def template(page: str = "page") -> str:
    """A page with places named {{so}}: the practice page ("page"), a marking ("marked")."""
    return _read(f"{page}.html")


def _read(name: str) -> str:
    return (files(__package__) / name).read_text(encoding="utf-8")
