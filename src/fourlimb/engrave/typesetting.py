"""Templates and data -> PDF, through typst. Nothing is written to disk; song data never becomes markup.

The PDF is tagged and meets PDF/UA-1 (every picture has a text), embeds its fonts, carries title and author, and has
no clock in it, so the same data give the same bytes. Only the typesetter's own faces are used (`typeface`). One case
cannot meet PDF/UA-1: words in a picture with a mark that has no letter of its own (a stressed Cyrillic vowel). They
are shown all the same, and that document does not claim it.
"""

from collections.abc import Mapping
from functools import lru_cache
from importlib import resources
from typing import Any

import msgspec

from fourlimb.model import FourlimbError


def typeset(template: str, data: Mapping[str, object], pictures: Mapping[str, str], *, ua: bool = True) -> bytes:
    """A PDF of `templates/<template>.typ` with `data` as data.json and SVG pictures by file name."""
    return bytes(_compile(template, data, pictures, pdf_standards=["ua-1"] if ua else []))


def png_pages(
    template: str, data: Mapping[str, object], pictures: Mapping[str, str], *, ppi: float
) -> tuple[bytes, ...]:
    """The same document as one PNG a page."""
    made = _compile(template, data, pictures, format="png", ppi=ppi)
    return tuple(made) if isinstance(made, list) else (bytes(made),)


def svg_png(svg: str, ppi: float) -> bytes:
    """One of our SVGs as a PNG on white, with the typesetter's own faces."""
    import typst

    files: Any = {"picture.svg": svg.encode()}
    files["main"] = b'#set page(width: auto, height: auto, margin: 3mm)\n#image("picture.svg")'
    made = typst.compile(files, format="png", ppi=ppi, ignore_system_fonts=True)
    return bytes(made)


def _compile(template: str, data: Mapping[str, object], pictures: Mapping[str, str], **how: Any) -> Any:
    import typst

    files = {"main": _template(template), "common.typ": _template("common"), "data.json": msgspec.json.encode(data)}
    files |= {name: svg.encode() for name, svg in pictures.items()}
    try:
        return typst.compile(files, ignore_system_fonts=True, **how)
    except RuntimeError as error:
        if "missing codepoints" in str(error) and how.get("pdf_standards"):
            return _compile(template, data, pictures, **{**how, "pdf_standards": []})
        raise FourlimbError(f"the page could not be set ({str(error).splitlines()[0]}): please report it") from None


@lru_cache(maxsize=16)
def _template(name: str) -> bytes:
    return resources.files(__package__).joinpath("templates", f"{name}.typ").read_bytes()
