"""The marking of a take: what `take-1.marking.json` holds (schema "fourlimb/marking/1").

A take is compared with a chart in the take's *own* steady time: a take at half tempo is not late, a take that rushes
one fill is early there. Nothing here says how the take was recorded; `mark` fills these in from hits and a chart.
"""

from fractions import Fraction
from typing import Literal

import msgspec

from .chart import Level
from .sounds import Sound

MARKING_SCHEMA = "fourlimb/marking/1"

Verdict = Literal["played", "missed", "extra", "other_piece"]


class TakeFacts(msgspec.Struct, frozen=True, kw_only=True):
    """What was marked: the take, its own tempo (felt beats a minute), and the bars of the chart it played.

    `sha256` is of the take's bytes, lower-case hex ("" when there is no file); `offset_s` is where, in the take,
    the first beat of `from_bar` falls.
    """

    sha256: str
    tempo_bpm: float
    level: Level
    from_bar: int
    to_bar: int
    offset_s: float = 0.0
    extra: dict[str, object] = {}


class MarkedStroke(msgspec.Struct, frozen=True, kw_only=True):
    """One written stroke and what became of it, or one that is not written (`extra`).

    `late_ms` is against the take's own steady time, positive late; `dynamic` how much louder (positive) than written,
    -1 to 1, where 0.1 is 2 dB; both None when not played. `played` names the piece heard instead (`other_piece`).
    An extra stroke stands at the nearest place that can be counted. `confidence` 0 to 1 is how sure the verdict is:
    1 for what was read from MIDI; ears may have missed a ghost that was played.
    """

    bar: int
    position: Fraction
    piece: Sound
    verdict: Verdict
    late_ms: float | None = None
    dynamic: float | None = None
    played: Sound | None = None
    time_s: float | None = None
    confidence: float = 1.0
    extra: dict[str, object] = {}


class MarkedBar(msgspec.Struct, frozen=True, kw_only=True):
    """Score of one bar, 0 to 1, and the one thing to say about it ("" when there is nothing to say)."""

    bar: int
    score: float
    say: str
    extra: dict[str, object] = {}


class PractiseNext(msgspec.Struct, frozen=True, kw_only=True):
    """What to practise next: bars, the rung to do it at (felt beats a minute), and why, in one sentence."""

    from_bar: int
    to_bar: int
    rung_bpm: int
    why: str
    extra: dict[str, object] = {}


class MarkSummary(msgspec.Struct, frozen=True, kw_only=True):
    """The whole take in a number (0 to 1), at most a handful of sentences, and what comes next."""

    score: float
    say: tuple[str, ...]
    practise_next: tuple[PractiseNext, ...]
    extra: dict[str, object] = {}


class Marking(msgspec.Struct, frozen=True, kw_only=True):
    """The report on one take."""

    take: TakeFacts
    strokes: tuple[MarkedStroke, ...]
    bars: tuple[MarkedBar, ...]
    summary: MarkSummary
    schema: str = MARKING_SCHEMA
    extra: dict[str, object] = {}
