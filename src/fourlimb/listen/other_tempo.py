"""The other tempo that players could count a song at, told with what falls where under both.

In: every way to count a song with its log-odds (`bars.ranked`), and its strokes. Out: a sentence for the teacher, or
none where one tempo is clear.

Method: the ways at the chosen tempo are held against those at half and at twice that; where the others have a fair
share of what is likely, both are told, with the counts that the snare falls on and how fast the hand keeps time.

Cannot: say which is right. Players themselves count many songs both ways.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

import numpy as np

from fourlimb.model import Grid, Hit
from fourlimb.model.count import listing, say_place
from fourlimb.model.places import is_compound
from fourlimb.model.tempo import tempo_said

from .bars import SAME_TEMPO, Counted
from .evidence import Evidence
from .feel import backbeats
from .layout import lay

SAID: Final = "it could also be counted at"
"""How the sentence begins: a teacher who says the tempo makes it untrue."""
OPEN: Final = 0.2
"""From this share of the likelihood on the other tempo is told (ours; how often each is right: docs/bars.md)."""
FACTORS: Final = {2.0: "x2", 0.5: "/2"}
HANDS: Final = {
    "hat_closed": "the hats", "hat_open": "the hats", "ride": "the ride", "ride_bell": "the ride",
    "shaker": "the shaker", "tambourine": "the tambourine",
}  # fmt: skip
SURE: Final = 0.3
OFTEN: Final = 0.5
"""A count that the snare falls on in this share of the bars belongs to its pattern."""
PACES: Final = {0.25: "sixteenths", 1 / 3: "triplets", 0.5: "eighths", 1.0: "quarters", 2.0: "halves"}
NEAR_PACE: Final = 0.12


def other_tempo(found: Sequence[Counted], evidence: Evidence) -> str | None:
    """The sentence, if there is one to say."""
    other = other_way(found)
    if other is None:
        return None
    best = found[0]
    grids = [lay(way.pulse, way.lines, until_s=evidence.ends_s) for way in (best, other)]
    now, then = (drums_in_words(grid, evidence.hits) for grid in grids)
    bpm, bpm_then = (tempo_said(grid, 1) for grid in grids)
    word = FACTORS[max(FACTORS, key=lambda factor: _is_at(other, best, factor))]
    return (
        f"{SAID} {bpm_then:.0f} beats a minute{_with(then)}; now it is {bpm:.0f}{_with(now)}; "
        f"to change it say: tempo {word}"
    )


def other_way(found: Sequence[Counted]) -> Counted | None:
    """The likeliest way at half or twice the chosen tempo if it has a fair share; None where one tempo is clear."""
    if not found:
        return None
    share, factor = max((_share(found, factor), factor) for factor in FACTORS)
    if share < OPEN:
        return None
    return next(way for way in found if _is_at(way, found[0], factor))


def _with(drums: str) -> str:
    return f", with {drums}" if drums else ""


def _is_at(way: Counted, best: Counted, factor: float) -> bool:
    return bool(abs(np.log(best.pulse.period_s / way.pulse.period_s / factor)) < SAME_TEMPO)


def _share(found: Sequence[Counted], factor: float) -> float:
    """Of all that is likely at the chosen tempo and at this multiple of it, the share of the second."""
    highest = found[0].score
    odds = [sum(np.exp(way.score - highest) for way in found if _is_at(way, found[0], f)) for f in (1.0, factor)]
    return float(odds[1] / sum(odds))


def drums_in_words(grid: Grid, hits: Sequence[Hit]) -> str:
    """Where the snare falls in the commonest meter, and how fast the hand keeps time; "" where nothing is regular."""
    return " and ".join([*_snare_said(grid, hits), *_hand_said(grid, hits)]) if grid.bars else ""


def _snare_said(grid: Grid, hits: Sequence[Hit]) -> list[str]:
    meters = [bar.meter for bar in grid.bars]
    meter = max(sorted(set(meters)), key=meters.count)
    bars = [counts for bar, counts in backbeats(grid, hits).items() if grid.meter(bar) == meter and counts.any()]
    if not bars:
        return []
    alike = [counts for counts in bars if len(counts) == len(bars[-1])]  # a bar that is cut short has fewer
    often = np.flatnonzero(np.mean(alike, axis=0) >= OFTEN).tolist()
    if not often:
        return []
    if often == list(range(1, len(alike[0]), 2)) and not is_compound(meter):
        return ["the snare on every &"]
    return [f"the snare on {listing([say_place(meter, Fraction(n, 8)) for n in often])}"]


def _hand_said(grid: Grid, hits: Sequence[Hit]) -> list[str]:
    sure = [hit for hit in hits if hit.sound in HANDS and hit.confidence >= SURE]
    played = [HANDS[hit.sound] for hit in sure]
    hand = max(sorted(set(played)), key=played.count, default="")
    times = [hit.time_s for hit in sure if HANDS[hit.sound] == hand]
    if len(times) < 2 * len(grid.bars) or any(is_compound(bar.meter) for bar in grid.bars):
        return []
    quarter_s = float(np.median([60 / bar.tempo_bpm for bar in grid.bars]))
    pace = float(np.median(np.diff(times))) / quarter_s
    near = min(PACES, key=lambda p: abs(np.log(pace / p)) if pace > 0 else np.inf)
    return [f"{hand} in {PACES[near]}"] if pace > 0 and abs(np.log(pace / near)) < NEAR_PACE else []
