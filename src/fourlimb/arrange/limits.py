"""What hands and feet can do in time: one table, one row per limit, with unit, source and standing.

Four columns: what a beginner, an intermediate and an advanced player keep up, and the *ceiling* nobody passes.
The ceiling decides what is impossible (the checker); the player's column decides what is hard (reduction,
difficulty). Every value is a shortest time in milliseconds: a smaller gap breaks the limit. All limits are
monotone in time: what is playable at one tempo is playable at any slower one.

A run is judged by spans: `hand_repeat` bounds one gap, `hand_burst` the mean of two gaps in a row,
`hand_sustained` the mean of sixteen (two bars of eighths). One double stroke may therefore be quick while a long
run may not.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

Player = Literal["beginner", "intermediate", "advanced", "ceiling"]
PLAYERS: Final[tuple[Player, ...]] = ("beginner", "intermediate", "advanced", "ceiling")
Standing = Literal["published", "common practice", "ours", "fitted"]

SUSTAINED_GAPS: Final = 16
"""How many gaps in a row make a run (ours: two bars of eighths)."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One row. Numbers are milliseconds, by player; `standing` says what the numbers rest on."""

    name: str
    says: str
    beginner: float
    intermediate: float
    advanced: float
    ceiling: float
    source: str
    standing: Standing

    def of(self, player: Player) -> float:
        """The limit of one player, in milliseconds."""
        value: float = getattr(self, player)
        return value


_FUJII = "Fujii et al., Neuroscience Letters 459 (2009) 69-73: 150-200 ms usual, 100 ms the fastest drummer"

_GROOVE = "Groove MIDI Dataset (Gillick et al. 2019, CC BY 4.0), 1,021 performances: "

TABLE: Final[tuple[Limit, ...]] = (
    Limit("hand_repeat", "one hand, two strokes in a row", 166, 100, 72, 60,
          _GROOVE + "1st percentile 71 ms on the snare, smallest 60", "fitted"),
    Limit("hand_burst", "one hand, three strokes in a row (mean gap)", 200, 150, 110, 64,
          _GROOVE + "1st percentile 109 ms, smallest 67 (bounced ghosts)", "fitted"),
    Limit("hand_sustained", "one hand, seventeen strokes in a row (mean gap)", 250, 188, 140, 100,
          _FUJII + "; advanced: " + _GROOVE + "1st percentile 139 ms", "published"),
    Limit("alternating", "two hands in turn on one drum (gap between them)", 166, 100, 75, 50,
          "16ths at 90, 150, 200 (players' reports); 1,208 strokes in 60 s (contest record, 2013)", "published"),
    Limit("foot_repeat", "one foot, two strokes in a row", 300, 150, 96, 60,
          _GROOVE + "1st percentile 96 ms, smallest 61", "fitted"),
    Limit("foot_burst", "one foot, three strokes in a row (mean gap)", 400, 200, 143, 85,
          _GROOVE + "thousandth 143 ms, smallest 85", "fitted"),
    Limit("foot_sustained", "one foot, seventeen strokes in a row (mean gap)", 430, 270, 182, 133,
          "8ths at 70 as a beginner's drill, 110 sustained (tutors); 7-8 a second at most", "ours"),
    Limit("hat_foot_repeat", "hi-hat foot, two chicks in a row", 667, 375, 207, 130,
          _GROOVE + "1st percentile 207 ms, smallest 137", "fitted"),
    Limit("hat_close", "open hat, then closed by the foot", 250, 150, 100, 40,
          _GROOVE + "a tenth of closing chicks within 80 ms of the stroke", "fitted"),
    Limit("pedal_change", "one foot from one pedal to another", 400, 300, 250, 200, "from memory", "ours"),
    Limit("cross_stick", "same hand from cross-stick to open snare or back", 300, 220, 120, 60,
          _GROOVE + "smallest 60 ms (rim and head of one pad)", "fitted"),
    Limit("grace_spread", "grace stroke before its main stroke", 40, 30, 25, 20,
          "heard as one from 15-40 ms", "common practice"),
    Limit("buzz", "a hand bound by a buzz before its next stroke", 400, 300, 200, 120, "ours", "ours"),
    Limit("choke", "a hand back to the cymbal it has just struck", 400, 300, 200, 100, "ours", "ours"),
)  # fmt: skip

ROWS: Final[dict[str, Limit]] = {row.name: row for row in TABLE}


@lru_cache(maxsize=64)
def limit_us(name: str, player: Player) -> int:
    """One limit in whole microseconds. Raises KeyError when the table has no such row."""
    return round(ROWS[name].of(player) * 1000)
