"""Words and music as pictures in grey: set by typst, read back as arrays.

Nothing from a song becomes markup: it goes in as data. Only the typesetter's own faces are used, so a film looks the
same on every machine.
"""

from collections.abc import Mapping, Sequence
from importlib import resources
from typing import Any, Final, Literal

import msgspec
import numpy as np
import numpy.typing as npt

from fourlimb.engrave.typeface import shown
from fourlimb.engrave.words import breakable, printable
from fourlimb.model import FourlimbError

Grey = npt.NDArray[np.uint8]
"""A picture, shape (height, width): 0 black to 255 white."""

Align = Literal["left", "center", "right"]

AT_ONCE: Final = 64
"""Tiles set in one go: bounds memory, not the result."""


class Tile(msgspec.Struct, frozen=True, kw_only=True):
    """One picture of `wide` x `high` pixels: lines of words, as large as fits but never over `size`; or an SVG.

    Where there are several lines the first is a title.
    """

    wide: int
    high: int
    lines: tuple[str, ...] = ()
    size: float = 40.0
    bold: bool = False
    italic: bool = False
    align: Align = "left"
    top: bool = False
    picture: str = ""


def set_tiles(tiles: Sequence[Tile], pictures: Mapping[str, str] | None = None) -> list[Grey]:
    """Every tile as grey, in order. `pictures`: SVG texts by the names that tiles call them.

    Raises FourlimbError when they cannot be set.
    """
    found: list[Grey] = []
    for start in range(0, len(tiles), AT_ONCE):
        found += _set(tiles[start : start + AT_ONCE], pictures or {})
    return found


def _set(tiles: Sequence[Tile], pictures: Mapping[str, str]) -> list[Grey]:
    import typst

    plain = [msgspec.structs.replace(t, lines=tuple(_plain(line) for line in t.lines)) for t in tiles]
    named = {tile.picture for tile in tiles if tile.picture}
    files: Any = {
        "main": resources.files(__package__).joinpath("tiles.typ").read_bytes(),
        "tiles.json": msgspec.json.encode(plain),
        **{name: pictures[name].encode() for name in sorted(named)},
    }
    try:
        made: Any = typst.compile(files, format="png", ppi=72, ignore_system_fonts=True)
    except RuntimeError as error:
        raise FourlimbError(f"the film's pictures could not be set ({str(error).splitlines()[0]})") from None
    pages = made if isinstance(made, list) else [made]
    return [grey_of(bytes(page)) for page in pages]


def _plain(line: str) -> str:
    return breakable(shown(printable(line)))


def grey_of(png: bytes) -> Grey:
    """A PNG as grey (its red, where it is coloured)."""
    import av

    decoder = av.CodecContext.create("png", "r")
    frames = [*decoder.decode(av.Packet(png)), *decoder.decode(None)]
    return np.ascontiguousarray(frames[0].to_ndarray(format="rgb24")[:, :, 0])


def trimmed(tile: Grey, margin: int = 0, over: int = 0) -> Grey:
    """A tile without the white at its left and right, but for a margin; `over`: white added over and under it."""
    inked = np.flatnonzero((tile < 250).any(axis=0))
    if not len(inked):
        return tile[:, :0]
    return np.pad(tile[:, inked[0] : inked[-1] + 1], ((over, over), (margin, margin)), constant_values=255)
