"""The cautions of the practice page: which sentence of the house's table stands at which place.

The sentences are `teach`'s (with their sources); here is only where they go, and after how long they speak up.
General information, not medical advice: no sentence says that a level or a use is safe.
"""

from typing import Final, Self

import msgspec

PLACES: Final[dict[str, tuple[str, ...]]] = {
    "first_use": ("hearing", "children"),
    "volume": ("dose",),
    "ladder": ("warm up",),
    "new_tempo": ("loose",),
    "enough": ("enough", "pain"),
    "pause": ("quiet time", "rest"),
    "close": ("hearing", "dose", "ringing", "children", "one ear", "rest", "pain", "weeks off", "sharing"),
}
"""Place on the page -> ids of the sentences shown there."""


class Cautions(msgspec.Struct, frozen=True, kw_only=True):
    """Sentences by place. An empty place shows nothing."""

    first_use: tuple[str, ...] = ()
    volume: tuple[str, ...] = ()
    ladder: tuple[str, ...] = ()
    new_tempo: tuple[str, ...] = ()
    enough: tuple[str, ...] = ()
    pause: tuple[str, ...] = ()
    close: tuple[str, ...] = ()
    pause_after_min: float = 30.0
    """Minutes of sound after which `pause` is shown (published advice: a rest every 25 to 30 minutes)."""
    enough_after_min: float = 10.0
    """Minutes of one repeated passage after which `enough` is shown (published advice: no long repetition)."""
    enough_after_failures: int = 3
    """Failed tries in a row after which `enough` is shown."""

    @classmethod
    def usual(cls) -> Self:
        """The sentences of the house's table."""
        from fourlimb.teach.cautions import caution

        said = {place: tuple(caution(name) for name in names) for place, names in PLACES.items()}
        return msgspec.convert(said, cls)
