"""What a correction asks for, once its text is read (`corrections`): one kind of order a class."""

from dataclasses import dataclass
from fractions import Fraction

from fourlimb.model import Level, Sound
from fourlimb.model.count import Way
from fourlimb.model.grid import FeelName

from .rhythm_orders import NotRolled, Rolled, Words


@dataclass(frozen=True)
class Exactly:
    """These places, and no others, for a piece in some bars.

    `ways`, where any is named, has one entry a line. A line with a way adds or marks its places and leaves the
    piece's others alone.
    """

    bars: tuple[int, ...]
    lines: tuple[tuple[Sound, tuple[Fraction, ...]], ...]
    level: Level | None = None
    ways: tuple[Way, ...] = ()

    @property
    def told(self) -> tuple[tuple[Sound, tuple[Fraction, ...], Way], ...]:
        """Each line with its way."""
        ways = self.ways or (Way(),) * len(self.lines)
        return tuple((*line, way) for line, way in zip(self.lines, ways, strict=True))


@dataclass(frozen=True)
class AsBar:
    """The strokes of another bar."""

    bars: tuple[int, ...]
    source: int
    level: Level | None = None


@dataclass(frozen=True)
class AsLevel:
    """Bars lifted from another level's chart."""

    bars: tuple[int, ...]
    source: Level
    level: Level


@dataclass(frozen=True)
class AimedAt:
    """One level's chart brought to a target: "no 16th kicks", "grade 3"."""

    level: Level
    target: str


@dataclass(frozen=True)
class Silent:
    """No drums."""

    bars: tuple[int, ...]
    level: Level | None = None


@dataclass(frozen=True)
class IsSound:
    """One sound was taken for another."""

    bars: tuple[int, ...]
    heard: Sound
    is_: Sound


@dataclass(frozen=True)
class Alike:
    """All strokes that sound like those already put right in the same way."""

    heard: Sound
    is_: Sound


@dataclass(frozen=True)
class Right:
    """Every stroke of these bars is right as it stands."""

    bars: tuple[int, ...]


@dataclass(frozen=True)
class Learn:
    """The other bars are judged again by all that was put right; `bars` are right as they stand."""

    bars: tuple[int, ...] = ()


@dataclass(frozen=True)
class TempoTimes:
    """Twice (2) or half (1/2) as many beats."""

    factor: Fraction


@dataclass(frozen=True)
class BarLineAt:
    """A bar begins at this second."""

    time_s: float


@dataclass(frozen=True)
class TheOne:
    """One beat that is the first of its bar."""

    bar: int
    beat: int


@dataclass(frozen=True)
class MeterIs:
    """Beats in a bar; all bars when `bars` is None."""

    meter: str
    bars: tuple[int, ...] | None = None


@dataclass(frozen=True)
class FeelIs:
    """How bars are felt."""

    bars: tuple[int, ...]
    feel: FeelName | None
    swing: float | None


@dataclass(frozen=True)
class SectionIs:
    """The name of a stretch of bars."""

    bars: tuple[int, ...]
    name: str


@dataclass(frozen=True)
class TitleIs:
    """The song's title."""

    title: str


Order = (
    Rolled
    | NotRolled
    | Words
    | Exactly
    | AsBar
    | AsLevel
    | AimedAt
    | Silent
    | IsSound
    | Alike
    | Right
    | Learn
    | TempoTimes
    | BarLineAt
    | TheOne
    | MeterIs
    | FeelIs
    | SectionIs
    | TitleIs
)
