"""The picture that is painted on: planes of luma and colour in one array, as encoders take them (I420).

Words and music are grey and painted into the luma alone; only the moving mark and a teacher's own picture have
colour of their own. Converting red, green, blue at every frame would cost more than encoding them.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from .picture import INK, MARK, PAPER, WASH, Zone, Zones, to_yuv
from .tiles import Grey

Plane = npt.NDArray[np.uint8]
Patch = tuple[tuple[int, int, int, int], tuple[Plane, Plane, Plane]]
"""A rectangle of the picture (top, bottom, left, right) and what stood there."""

_PAPER: Final = to_yuv(PAPER)
_MARK: Final = to_yuv(MARK)
_WASH: Final = to_yuv(WASH)
_INK_LUMA: Final = to_yuv(INK)[0]


def _ramp(dark: int, light: int) -> Plane:
    return np.round(np.linspace(dark, light, 256)).astype(np.uint8)


ON_PAPER: Final = _ramp(_INK_LUMA, _PAPER[0])
ON_INK: Final = _ramp(_PAPER[0], _INK_LUMA)
"""Grey 0 to 255 -> luma: dark words on paper, light words on ink."""

WASHED: Final = np.round(np.arange(256) * (_WASH[0] / _PAPER[0])).astype(np.uint8)
"""Luma -> luma under the mark's stripe: notes stay dark in it."""


class Canvas:
    """One picture. `planes`: shape (3/2 height, width), luma over both colours; it is painted on, never replaced."""

    def __init__(self, zones: Zones) -> None:
        self.zones = zones
        wide, high = zones.wide, zones.high
        self.planes: Plane = np.empty((high * 3 // 2, wide), dtype=np.uint8)
        self.luma = self.planes[:high]
        quarter = high // 4
        self.blue = self.planes[high : high + quarter].reshape(high // 2, wide // 2)
        self.red = self.planes[high + quarter :].reshape(high // 2, wide // 2)
        self.blank()

    def blank(self) -> None:
        """Nothing but paper."""
        self.fill(Zone(0, 0, self.zones.wide, self.zones.high), _PAPER)

    def clear(self, zone: Zone) -> None:
        """Paper in a zone."""
        self.fill(zone, _PAPER)

    def fill(self, zone: Zone, colour: tuple[int, int, int]) -> None:
        """One colour (Y, Cb, Cr) in a zone."""
        self.luma[zone.y : zone.y + zone.high, zone.x : zone.x + zone.wide] = colour[0]
        rows, columns = _halves(zone.y, zone.y + zone.high), _halves(zone.x, zone.x + zone.wide)
        self.blue[rows, columns] = colour[1]
        self.red[rows, columns] = colour[2]

    def put(self, grey: Grey, x: int, y: int, ramp: Plane = ON_PAPER) -> None:
        """A grey picture with its top left corner at x, y; what lies outside is left out."""
        high = min(grey.shape[0], self.zones.high - y)
        wide = min(grey.shape[1], self.zones.wide - x)
        if high > 0 and wide > 0:
            self.luma[y : y + high, x : x + wide] = ramp[grey[:high, :wide]]

    def ink(self, zone: Zone) -> None:
        """A solid bar of ink."""
        self.luma[zone.y : zone.y + zone.high, zone.x : zone.x + zone.wide] = _INK_LUMA

    def show(self, planes: Sequence[Plane], zone: Zone) -> None:
        """A picture in colour (luma and both colours of a zone's size) in a zone."""
        self.luma[zone.y : zone.y + zone.high, zone.x : zone.x + zone.wide] = planes[0]
        rows, columns = _halves(zone.y, zone.y + zone.high), _halves(zone.x, zone.x + zone.wide)
        self.blue[rows, columns] = planes[1]
        self.red[rows, columns] = planes[2]

    def mark(self, x: float, top: int, bottom: int) -> Patch:
        """The moving mark: a stripe round x, from even `top` to `bottom`, a pointer over it. Gives what was there."""
        half = self.zones.px(26) // 2
        head = self.zones.px(30)
        middle = round(x)
        left, right = max(middle - half, 0), min(middle + half, self.zones.wide)
        left -= left % 2
        right += right % 2
        patch = self._kept(top - head, bottom, left, right)
        self.luma[top:bottom, left:right] = WASHED[self.luma[top:bottom, left:right]]
        self._tint(top, bottom, left, right, _WASH)
        for row in range(top - head, top):
            reach = round(half * (top - row) / head)
            first, end = max(middle - reach, left), min(middle + reach, right)
            self.luma[row, first:end] = _MARK[0]
            if row % 2 == 0 and end - first > 2:
                self._tint(row, row + 2, first + first % 2, end - end % 2, _MARK)
        return patch

    def undo(self, patch: Patch) -> None:
        """Put back what a mark was painted over."""
        (top, bottom, left, right), (luma, blue, red) = patch
        self.luma[top:bottom, left:right] = luma
        rows, columns = _halves(top, bottom), _halves(left, right)
        self.blue[rows, columns] = blue
        self.red[rows, columns] = red

    def _kept(self, top: int, bottom: int, left: int, right: int) -> Patch:
        rows, columns = _halves(top, bottom), _halves(left, right)
        kept = self.luma[top:bottom, left:right], self.blue[rows, columns], self.red[rows, columns]
        return (top, bottom, left, right), (kept[0].copy(), kept[1].copy(), kept[2].copy())

    def _tint(self, top: int, bottom: int, left: int, right: int, colour: tuple[int, int, int]) -> None:
        rows, columns = _halves(top, bottom), _halves(left, right)
        self.blue[rows, columns] = colour[1]
        self.red[rows, columns] = colour[2]


def _halves(first: int, end: int) -> slice:
    return slice(first // 2, (end + 1) // 2)
