"""Chart -> sound, and sound -> slower sound.

In: a `Sheet` and a `Mix`; decoded `Audio`. Out: a `Track` (drums, click and count-in, and where each bar starts), the
bytes of a sound file, the small kit for the practice page. Knows only `model`.
"""

from .encode import MIME, Format, encode
from .loudness import level_to, loudness, true_peak_db
from .playing import played
from .pressing import pressed
from .recording import RIGHTS, UNDER_LU
from .render import Mix, Track, render
from .slow import slow
from .small_kit import KitSample, kit_samples

__all__ = [
    "MIME",
    "RIGHTS",
    "UNDER_LU",
    "Format",
    "KitSample",
    "Mix",
    "Track",
    "encode",
    "kit_samples",
    "level_to",
    "loudness",
    "played",
    "pressed",
    "render",
    "slow",
    "true_peak_db",
]
