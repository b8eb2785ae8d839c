"""The other tempo that players could count a song at, told with what falls where under both.

In: every way to count a song with its log-odds (`bars.ranked`), and its strokes. Out: a sentence for the teacher, or
none where one tempo is clear.

Method: the ways at the chosen tempo are held against those at half and at twice that; where the others have a fair
share of what is likely, both are told, with the counts that the snare falls on and how fast the hand keeps time.

Cannot: say which is right. Players themselves count many songs both ways.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from fourlimb.model import Grid, Hit
from fourlimb.model.count import say_place
from fourlimb.model.places import bar_length, is_compound
from fourlimb.model.tempo import tempo_said

from .bars import SAME_TEMPO, Counted
from .evidence import Evidence
from .layout import lay

SAID: Final = "it could also be counted at"
"""How the sentence begins: a teacher who says the tempo makes it untrue."""
OPEN: Final = 0.2
"""From this share of the likelihood on the other tempo is told (ours; how often each is right: docs/bars.md)."""
FACTORS: Final = {2.0: "x2", 0.5: "/2"}
SNARES: Final = ("snare", "rim", "clap")
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
    factor = max(FACTORS, key=lambda f: _share(found, f))
    if _share(found, factor) < OPEN:
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
    said = [*_snare_said(grid, hits), *_hand_said(grid, hits)]
    return " and ".join(said)


def _snare_said(grid: Grid, hits: Sequence[Hit]) -> list[str]:
    meters = [bar.meter for bar in grid.bars]
    meter = max(sorted(set(meters)), key=meters.count)
    length, eighths = bar_length(meter), int(bar_length(meter) * 8)
    counts = np.zeros(eighths)
    struck: set[int] = set()
    for hit in hits:
        if hit.sound in SNARES and hit.confidence >= SURE:
            bar, at = grid.phase_at(hit.time_s)
            if grid.meter(bar) == meter:
                counts[round(at * 8) % eighths] += 1
                struck.add(bar)
    often = [n for n in range(eighths) if counts[n] >= OFTEN * max(len(struck), 1) and struck]
    if not often:
        return []
    names = [say_place(meter, length * n / eighths) for n in often]
    offbeats = [n for n in range(eighths) if n % 2]
    if often == offbeats and not is_compound(meter):
        return ["the snare on every &"]
    return [f"the snare on {_and(names)}"]


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _hand_said(grid: Grid, hits: Sequence[Hit]) -> list[str]:
    sure = [hit for hit in hits if hit.sound in HANDS and hit.confidence >= SURE]
    played = [HANDS[hit.sound] for hit in sure]
    if len(sure) < 2 * len(grid.bars) or any(is_compound(bar.meter) for bar in grid.bars):
        return []
    hand = max(sorted(set(played)), key=played.count)
    times = [hit.time_s for hit in sure if HANDS[hit.sound] == hand]
    quarter_s = float(np.median([60 / bar.tempo_bpm for bar in grid.bars]))
    pace = float(np.median(np.diff(times))) / quarter_s
    near = min(PACES, key=lambda p: abs(np.log(pace / p)) if pace > 0 else np.inf)
    return [f"{hand} in {PACES[near]}"] if pace > 0 and abs(np.log(pace / near)) < NEAR_PACE else []
