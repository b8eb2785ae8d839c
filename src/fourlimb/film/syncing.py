"""Where in a teacher's own video the chart is played, found by its sound.

The chart is rendered as drums alone, and where energy rises in it, band by band, is laid over where it rises in the
footage, at every shift there is (cross-correlation of onset envelopes). Bands tell a kick from a hat, so a bar's own
pattern finds itself. A groove that goes round and round fits almost as well a bar earlier or later: how much worse
the next best shift fits is how sure the answer is, and it is said.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from fourlimb.listen.flux import FRAMES_PER_S, RATE_HZ, band_flux
from fourlimb.model import InputError, Recording, Sheet, silent
from fourlimb.model.audio import mono
from fourlimb.sound.render import LEAD_S, Mix, render

Curve = npt.NDArray[np.float64]

OTHER_S: Final = 0.15
"""A shift this far from the best is another one (ours: less than a 16th note at any tempo that is played)."""

SURE_SHARE: Final = 0.90
"""The next best shift fits at most this share as well where the best is sure (`docs/film.md`: where the chart is not,
.92 and more, but for one of .85 that `FITS` tells)."""

FITS: Final = 7.0
"""The best shift stands this many spreads over all others where the footage holds the chart (the same: right ones
6.4 to 20, sure ones 8 and more; footage of something else 3.7 to 6.8)."""


@dataclass(frozen=True)
class Sync:
    """`start_s`: second of the footage at which the first bar begins (may be negative: it began before the camera).

    `speed`: how fast the chart is played there, a share of the song's tempo. `next_s`: where it would fit next best,
    and `share`, how well beside the best, 0 to 1. `fits`: how far the best stands over chance, in spreads.
    """

    start_s: float
    speed: float
    next_s: float = 0.0
    share: float = 0.0
    fits: float = float("inf")

    @property
    def sure(self) -> bool:
        """True where no other place fits nearly as well."""
        return self.share <= SURE_SHARE and self.fits >= FITS


def find(sheet: Sheet, footage: Recording, speeds: Sequence[float]) -> Sync:
    """Where the bars of a sheet are played in the footage's sound, at one of some speeds.

    Raises InputError where nothing is struck in one of them.
    """
    heard = envelope(footage)
    if not heard.any():
        raise InputError("nothing is struck in the footage's sound")
    return max((_found(sheet, heard, speed) for speed in dict.fromkeys(speeds)), key=lambda sync: sync.fits)


def _found(sheet: Sheet, heard: Curve, speed: float) -> Sync:
    track = render(sheet, Mix(speed=speed, click_db=None, count_in=False))
    written = envelope(track.audio)
    if not written.any():
        raise InputError("nothing is struck in these bars, so their place in the footage cannot be heard")
    fit = _correlation(heard, written)
    best = int(fit.argmax())
    away = np.abs(np.arange(len(fit)) - best) > OTHER_S * FRAMES_PER_S
    others = np.where(away, fit, -np.inf)
    other = int(others.argmax())
    spread = float(fit[away].std()) or 1.0
    first = len(written) - 1
    return Sync(
        start_s=round((best + _between(fit, best) - first) / FRAMES_PER_S + LEAD_S, 4),
        speed=speed,
        next_s=round((other - first) / FRAMES_PER_S + LEAD_S, 2),
        share=round(max(0.0, float(fit[other] / fit[best])), 3),
        fits=round(float((fit[best] - fit[away].mean()) / spread), 2),
    )


def envelope(sound: Recording) -> Curve:
    """Where energy rises, shape (frames of 10 ms, bands), each band with spread 1."""
    import soxr

    whole = np.concatenate([np.zeros(0, np.float32), *(mono(block) for block in sound.blocks(1 << 20))])
    if sound.rate != RATE_HZ:
        whole = soxr.resample(whole, sound.rate, RATE_HZ)
    if len(whole) < RATE_HZ // 2:
        return np.zeros((1, 1))
    rise = band_flux(whole, silent).astype(np.float64)
    spread = rise.std(axis=0)
    return np.asarray((rise - rise.mean(axis=0)) / np.where(spread > 0, spread, np.inf))


def _correlation(heard: Curve, written: Curve) -> Curve:
    """How well the written envelope fits at every shift; index len(written) - 1 is no shift."""
    count = len(heard) + len(written) - 1
    size = 1 << (count - 1).bit_length()
    total = np.zeros(size)
    for band in range(heard.shape[1]):
        product = np.fft.rfft(heard[:, band], size) * np.fft.rfft(written[::-1, band], size)
        total += np.fft.irfft(product, size)
    return np.asarray(total[:count])


def _between(fit: Curve, at: int) -> float:
    """How far the true top lies from a frame (parabola through three), -0.5 to 0.5."""
    if not 0 < at < len(fit) - 1:
        return 0.0
    left, middle, right = fit[at - 1 : at + 2]
    bend = 2 * middle - left - right
    return float(np.clip((right - left) / (2 * bend), -0.5, 0.5)) if bend > 0 else 0.0
