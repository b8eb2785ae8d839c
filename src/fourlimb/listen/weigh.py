"""How well one way to count a song fits it: what speaks for it, and how much each of these counts.

Input: a pulse with bar lines on it and `Evidence`. Output: points, the log-odds of this way against others.

Method: a conditional logit (McFadden 1974): each way to count has a row of features, and the weights are those that
make the true ways of many songs likely among all that were tried. They are learned by `bench.ways` on the learning
half of the Groove set, rendered and heard, at its own and other speeds, and on songs made in every meter. Two sets of
weights: with ears that were trained on beats and bar lines, and for strokes alone.

What it cannot do: tell a fast song from a slow one whose drummer plays twice as much, where players themselves differ
(bossa nova in 2 or in 4).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from .beats import Pulse
from .evidence import Evidence, FloatArray
from .layout import Line, expanded
from .rhythms import ghost_level

USUAL_BPM: Final = {False: 110.0, True: 84.0}
"""Middle of the tempi of simple and of compound meters (learning half of the Groove set; common practice)."""
FEATURES: Final = (
    "drums", "timing", "beats", "tempo", "tempo far", "compound", "crowded", "snares far", "ones", "others",
    "in 3", "in 5", "in 7", "off the beat", "backbeat", "kick on one",
)  # fmt: skip
"""drums: log-likelihood under usual bars; timing: how sharply strokes fall on twelfths; beats, ones, others: log-odds
heard at beats, bar lines and other beats; tempo, tempo far: octaves from the usual one, and their square; crowded,
snares far: squared octaves of onsets and of loud snares a beat; the last three: shares of loud snares and kicks."""

WEIGHTS: Final[dict[bool, tuple[float, ...]]] = {
    True: (
        0.095,
        0.021,
        2.176,
        0.438,
        -0.162,
        -0.813,
        -1.127,
        -0.106,
        0.645,
        0.444,
        -1.503,
        -1.5,
        -1.5,
        -1.825,
        -1.132,
        1.133,
    ),
    False: (0.6, 1.2, 1.2, 0.0, -10.4, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
}
"""By whether ears were trained on beats, in the order of `FEATURES`; learned by `bench.ways`."""
LOUDEST_ODDS: Final = 3.5

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Struck:
    """The strokes of a song as arrays. `weight`: confidence; `snare`, `kick`: which are loud snares, kicks."""

    times_s: FloatArray
    weight: FloatArray
    snare: Flags
    kick: Flags


def struck_in(evidence: Evidence) -> Struck:
    """The strokes of the evidence."""
    ghost = ghost_level(evidence.hits)
    drums = ("snare", "rim", "clap")
    return Struck(
        np.array([hit.time_s for hit in evidence.hits], dtype=np.float64),
        np.array([hit.confidence for hit in evidence.hits], dtype=np.float64),
        np.array([hit.sound in drums and hit.loudness_db >= ghost for hit in evidence.hits], dtype=np.bool_),
        np.array([hit.sound == "kick" for hit in evidence.hits], dtype=np.bool_),
    )


def points(row: FloatArray, *, trained: bool) -> float:
    """The log-odds of a way to count, from its features."""
    return float(row @ np.array(WEIGHTS[trained]))


def features(
    pulse: Pulse,
    lines: Sequence[Line],
    evidence: Evidence,
    struck: Struck,
    places: FloatArray,
    *,
    drums: float,
    timing: float,
    compound: bool,
) -> FloatArray:
    """One row, in the order of `FEATURES`. `places`: beats of the pulse of every stroke."""
    played = _where_played(pulse, struck)
    beats = int(played.sum())
    bars = [bar for bar in expanded(lines, len(played) - 1) if played[min(int(bar[0]), len(played) - 1)]]
    octaves = float(np.log2(60 / pulse.period_s / USUAL_BPM[compound]))
    crowd = float(np.log2((len(np.unique(np.rint(places * 12))) + 0.5) / beats))
    snares = float(np.log2((struck.weight[struck.snare].sum() + 0.5) / beats))
    ones, others = _bar_lines(pulse, played, [float(bar[0]) for bar in bars], evidence)
    meter = commonest(bars)
    inside = _inside(places, [float(bar[0]) for bar in bars])
    snare, kick = inside[struck.snare], inside[struck.kick]
    return np.array([
        drums, timing, float(log_odds(evidence.near(evidence.beat, pulse.times_s[played], 4)).mean()),
        octaves, octaves**2, compound, crowd**2, snares**2, ones, others,
        meter == "3/4", meter == "5/4", meter == "7/8",
        _share(snare % 1 == 0.5), _share(snare % 2 == 1), min(float((kick == 0).sum()) / max(len(bars), 1), 1.0),
    ], dtype=np.float64)  # fmt: skip


def _where_played(pulse: Pulse, struck: Struck) -> Flags:
    """Beats from the first stroke to the last; all when that is too short to speak of."""
    if not len(struck.times_s):
        return np.ones(len(pulse.times_s), dtype=np.bool_)
    low, high = struck.times_s[0] - pulse.period_s, struck.times_s[-1] + pulse.period_s
    inside: Flags = (pulse.times_s >= low) & (pulse.times_s <= high)
    return inside if inside.sum() >= 4 else np.ones(len(pulse.times_s), dtype=np.bool_)


def _bar_lines(pulse: Pulse, played: Flags, starts: Sequence[float], evidence: Evidence) -> tuple[float, float]:
    """Mean log-odds of a heard bar line at the bar lines, and at the other beats."""
    heard = log_odds(evidence.near(evidence.downbeat, pulse.times_s, 4))
    one = np.zeros(len(heard), dtype=np.bool_)
    one[[int(s) for s in starts if s == int(s) and 0 <= s < len(heard)]] = True
    other = played & ~one
    return (
        float(heard[one].mean()) if one.any() else -LOUDEST_ODDS,
        float(heard[other].mean()) if other.any() else -LOUDEST_ODDS,
    )


def commonest(bars: Sequence[tuple[object, str, float, object]]) -> str:
    """The meter that most bars have (see `layout.expanded`)."""
    names = [bar[1] for bar in bars]
    return max(sorted(set(names)), key=names.count, default="")


def _inside(places: FloatArray, starts: Sequence[float]) -> FloatArray:
    """Where strokes fall in their bars, in beats, rounded to quarters of a beat."""
    edges = np.array(starts or [0.0])
    bar = np.maximum(np.searchsorted(edges, places + 0.1) - 1, 0)
    rounded: FloatArray = np.rint((places - edges[bar]) * 4) / 4
    return rounded


def _share(flags: Flags) -> float:
    return float(flags.mean()) if len(flags) else 0.5


def log_odds(heard: FloatArray) -> FloatArray:
    """Log-odds of what a curve says, within bounds."""
    bounded = np.clip(heard, 0.03, 0.97)
    odds: FloatArray = np.log(bounded / (1 - bounded))
    return odds
