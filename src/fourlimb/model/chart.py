"""What is written: strokes, bars, charts at a level, and the reasons for what is not as it was heard."""

from fractions import Fraction
from functools import cached_property
from typing import Final, Literal

import msgspec

from .heard import Author
from .heard import Grace as Grace
from .heard import Struck as Struck
from .kit import Letter, Limb
from .sounds import ORDER, Sound

Level = Literal["full", "steady", "bones"]
LEVELS: Final[tuple[Level, ...]] = ("full", "steady", "bones")
"""Built-in levels, hardest first."""

LEVEL_SAYS: Final[dict[Level, str]] = {
    "full": "everything one drummer can play",
    "steady": "even time-keeping; kick, snare and most fills kept",
    "bones": "kick and snare skeleton with the simplest time-keeping",
}


class Stroke(msgspec.Struct, frozen=True, kw_only=True):
    """One thing written. `position` in whole notes from the bar line; `hits` are ids of what it was heard as.

    `letter` is the hand ("R", "L") or None for feet; `velocity` 1 to 127 is how hard it is played (80 ordinary).
    `second`: on the second of its kind (the other crash, the other kick drum). `roll`: a measured roll in notes of
    1/`roll` (16 or 32; 0: none). `lasts`: how long a measured or a buzz roll is kept up, in whole notes, at most to
    the bar line and to the next stroke on the same piece; 0: for as long as one note at its place is written. `tied`:
    the roll goes on from the bar before and is not struck anew. `word`: the syllable said to it.
    """

    bar: int
    position: Fraction
    piece: Sound
    limb: Limb
    letter: Letter | None = None
    accent: bool = False
    ghost: bool = False
    grace: Grace | None = None
    struck: Struck | None = None
    second: bool = False
    roll: int = 0
    lasts: Fraction = msgspec.field(default_factory=Fraction)
    tied: bool = False
    word: str = ""
    velocity: int = 80
    hits: tuple[int, ...] = ()
    by: Author = "arranger"
    extra: dict[str, object] = {}

    @property
    def way(self) -> tuple[bool, bool, Grace | None, Struck | None, bool, int, Fraction, bool]:
        """How it is struck: accent, ghost, grace, struck, second, roll, lasts, tied."""
        return self.accent, self.ghost, self.grace, self.struck, self.second, self.roll, self.lasts, self.tied

    @property
    def sort_key(self) -> tuple[int, Fraction, int]:
        """Song order, then the fixed order of sounds."""
        return self.bar, self.position, 2 * ORDER[self.piece] + self.second

    @property
    def rolls(self) -> bool:
        """True for a measured or a buzz roll: what can be kept up."""
        return self.roll > 0 or self.struck == "buzz"


class ChartBar(msgspec.Struct, frozen=True, kw_only=True):
    """What is said of one bar of a chart: its figure's name, difficulty (0 and up), and the count line."""

    bar: int
    figure: str
    difficulty: float
    count: str
    extra: dict[str, object] = {}


class Chart(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """The written part of the whole song at one level. `steps` name each simplification made on the way down."""

    strokes: tuple[Stroke, ...]
    bars: tuple[ChartBar, ...]
    grade: float
    steps: tuple[str, ...] = ()
    extra: dict[str, object] = {}

    @cached_property
    def by_bar(self) -> dict[int, tuple[Stroke, ...]]:
        """Strokes of each bar in song order; bars without strokes are absent."""
        found: dict[int, list[Stroke]] = {}
        for stroke in self.strokes:
            found.setdefault(stroke.bar, []).append(stroke)
        return {bar: tuple(sorted(strokes, key=lambda s: s.sort_key)) for bar, strokes in found.items()}

    @cached_property
    def figure_of(self) -> dict[int, str]:
        """Figure name of each bar."""
        return {bar.bar: bar.figure for bar in self.bars}


class Reason(msgspec.Struct, frozen=True, kw_only=True):
    """Why something is not as it was heard, in one plain sentence. `to` is the piece it went to, if any."""

    what: Literal["moved", "merged", "dropped", "added"]
    bar: int
    position: Fraction
    sound: Sound
    why: str
    to: Sound | None = None
    levels: tuple[Level, ...] = ()
    hits: tuple[int, ...] = ()
    rule: str = ""
    extra: dict[str, object] = {}


class Breach(msgspec.Struct, frozen=True, kw_only=True):
    """Something the checker says nobody can play. `limit` names the limit broken."""

    bar: int
    position: Fraction
    limit: str
    why: str
    pieces: tuple[Sound, ...] = ()
