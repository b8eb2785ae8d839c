"""Where everything stands in a film's picture, and its colours.

Sizes are those of a picture 1080 pixels high; `zones` brings them to any other height.
"""

from dataclasses import dataclass
from typing import Final

HEIGHT: Final = 1080
WIDTH: Final = 1920
"""The picture that sizes are given for (16:9, the shape of every screen that films are shown on)."""

LEAST_HEIGHT: Final = 180
"""Smaller than this nothing can be read (ours)."""

Colour = tuple[int, int, int]

PAPER: Final[Colour] = (251, 248, 241)
INK: Final[Colour] = (34, 30, 25)
MARK: Final[Colour] = (29, 72, 90)
WASH: Final[Colour] = (165, 203, 217)
"""Red, green, blue: those of the practice page. What stands where is never told by colour alone: the place mark is a
stripe with a pointer, the current line has a bar before it."""


@dataclass(frozen=True)
class Zone:
    """A rectangle in pixels, all even: left, top, width, height."""

    x: int
    y: int
    wide: int
    high: int


@dataclass(frozen=True)
class Zones:
    """The parts of a picture. `music`: the engraver's scale; `share`: against the full-size picture."""

    wide: int
    high: int
    share: float
    music: float
    section: Zone
    heading: Zone
    bar: Zone
    lines: tuple[Zone, Zone]
    count: Zone
    say: Zone
    footage: Zone | None = None

    def px(self, length: float) -> int:
        """A length of the full-size picture, even, at least 2."""
        return max(2, 2 * round(length * self.share / 2))


def zones(height: int = HEIGHT, *, footage: bool = False) -> Zones:
    """The parts of a picture of a height (a multiple of 4), with or without a teacher's own picture."""
    share = height / HEIGHT

    def at(x: float, y: float, wide: float, high: float) -> Zone:
        return Zone(*(2 * round(v * share / 2) for v in (x, y, wide, high)))

    wide = 4 * round(WIDTH * share / 4)
    if footage:
        return Zones(
            wide, height, share, 1.7,
            section=at(60, 8, 640, 64), heading=at(700, 8, 720, 64), bar=at(1440, 8, 420, 64),
            lines=(at(60, 106, 1800, 250), at(60, 390, 1800, 250)),
            count=at(60, 690, 280, 200), say=at(350, 680, 780, 380), footage=at(1164, 676, 696, 392),
        )  # fmt: skip
    return Zones(
        wide, height, share, 2.0,
        section=at(60, 24, 640, 92), heading=at(700, 24, 720, 92), bar=at(1440, 24, 420, 92),
        lines=(at(60, 150, 1800, 330), at(60, 514, 1800, 330)),
        count=at(60, 860, 280, 190), say=at(370, 860, 1490, 190),
    )  # fmt: skip


def to_yuv(colour: Colour) -> tuple[int, int, int]:
    """A colour as Y, Cb, Cr of ITU-R BT.709, 8 bit, limited range."""
    red, green, blue = (part / 255 for part in colour)
    luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    blueness, redness = (blue - luma) / 1.8556, (red - luma) / 1.5748
    return round(16 + 219 * luma), round(128 + 224 * blueness), round(128 + 224 * redness)
