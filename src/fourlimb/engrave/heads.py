"""Signs: which SMuFL glyph each head and mark uses, and the outlines drawn by ourselves.

Code points: W3C, SMuFL 1.4, glyphnames.json. The engraver ends the process when asked for a glyph that its font
lacks, so every code point that reaches it stands in `ASKED` and a test holds that list against the font's own table.
What the font lacks (triangle head, half-open circle) is drawn here as a path, in font units: 1000 to the em, 250 a
staff space, y up.
"""

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Final

from fourlimb.model.kit import Head

X_HEAD: Final = "E0A9"
THIN: Final = frozenset({X_HEAD, "E0AF"})
"""Heads whose strokes are too thin in print; they are drawn with a line round them."""

SHAPE: Final[dict[Head, str | None]] = {
    "normal": None,
    "x": "x",
    "circle-x": "#xE0B3",
    "diamond": "#xE0DB",
    "triangle": None,
    "plus": "#xE0AF",
    "slash": "#xE0CF",
}
"""What MEI's head.shape says. The triangle is engraved as an ordinary head and exchanged afterwards."""

RIMSHOT_SHAPE: Final = "#xE0CF"
"""noteheadSlashedBlack1: stick on head and rim at once."""

ASKED: Final[tuple[str, ...]] = ("E0A9", "E0B3", "E0DB", "E0AF", "E0CF")
"""Code points asked of the engraver by name."""

TRIANGLE: Final = "M0 -125 L148 125 L296 -125 Z"
"""noteheadTriangleUpBlack (U+E0BE), as wide as an ordinary head."""

HALF_OPEN: Final = (
    "M152 22 C80 22 22 80 22 152 C22 224 80 282 152 282 "
    "C224 282 282 224 282 152 C282 80 224 22 152 22 Z "
    "M152 48 C209 48 256 95 256 152 C256 209 209 256 152 256 "
    "C95 256 48 209 48 152 C48 95 95 48 152 48 Z "
    "M50 20 L232 300 L254 284 L72 4 Z"
)
"""pictHalfOpen2 (U+E7F7, Weinberg): a circle with a slash, on the base line as the open sign is."""

LIKE: Final = {"triangle": "E0A4", "half-open": "E5E7"}
"""Glyphs of the font in whose place our own outlines stand, as large as they."""

SEGNO: Final = "E047"
CODA: Final = "E048"
MET_QUARTER: Final = "ECA5"
MET_EIGHTH: Final = "ECA7"
MET_HALF: Final = "ECA3"
MET_16TH: Final = "ECA9"
MET_DOT: Final = "ECB7"


@lru_cache(maxsize=256)
def outline(code: str) -> str:
    """SVG path data of a glyph of the engraver's own font (OFL 1.1), y up. Raises KeyError when the font lacks it."""
    import re

    file = _font_data() / "Bravura" / f"{code}.xml"
    if not file.exists():
        raise KeyError(code)
    found = re.search(r' d="([^"]*)"', file.read_text())
    return found[1] if found else ""


@lru_cache(maxsize=1)
def boxes() -> dict[str, tuple[float, float, float, float]]:
    """Left, bottom, width, height of each glyph in font units, y up."""
    import xml.etree.ElementTree as ElementTree

    tree = ElementTree.parse(_font_data() / "Bravura.xml")
    return {
        g.get("c", ""): (
            float(g.get("x", 0)),
            float(g.get("y", 0)),
            float(g.get("w", 0)),
            float(g.get("h", 0)),
        )
        for g in tree.getroot().iter("g")
    }


def _font_data() -> Path:
    """The engraver's fonts, found without loading the engraver."""
    spec = find_spec("verovio")
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError("verovio")
    return Path(spec.origin).parent / "data"
