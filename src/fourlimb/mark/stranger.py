"""A take of something else: what of it disagrees with the chart.

The running hand fits most songs; what tells songs apart is where kick, drums and crashes stand. A student who leaves
much out, rushes or stops still plays what is written: of the drums struck, nearly all are strokes of the chart. In a
take of something else they are not, wherever it is laid on the chart. That share is what is asked for; the rest (the
tempo, the fills, the pieces it falls into) says what disagrees, and refuses nothing by itself.
"""

from collections.abc import Sequence
from typing import Final

from fourlimb.model import Hit, MarkedStroke
from fourlimb.model.sounds import TIMEKEEPERS

from .evidence import by_bar, fill_start
from .match import SURE, Matched

LEAST: Final = 0.6
"""Share of the drums struck that must be strokes of the chart: takes full of mistakes have more, few others do
(`python -m bench.strangers --learning`, on which this was chosen)."""

LEAST_IN_PIECES: Final = 0.75
LEAST_A_PIECE: Final = 0.05
"""The same of a take that falls into several pieces (`PIECES_LEAST`), each of which was laid where it fits best, and
how much more is asked for with every piece more: in short pieces any groove fits somewhere."""

LEAST_AT_MOST: Final = 0.87
"""The most that is asked for, and what is asked for where most fills are not there: tries at a part one after the
other, full of mistakes, have .9 and more, a student's heard take without its fills .93."""

FEWEST: Final = 12
"""Fewer drums struck than this tell of no song (ours)."""

FILLS_LEAST: Final = 2
"""Fewest fills whose absence is spoken of (ours)."""

PIECES_LEAST: Final = 3
"""A take that falls into so many pieces has another form (ours)."""

USUAL_TEMPO: Final = (0.45, 1.25)
"""Shares of the song's tempo at which students play (ours)."""


def disagreement(strokes: Sequence[MarkedStroke], matched: Matched, hits: Sequence[Hit], tempo_share: float) -> str:
    """A sentence that this may be another song, with what disagrees; "" where it is this one.

    `strokes`: the marking's; `hits`: the take's, which `matched` numbers; `tempo_share`: 1 at the song's tempo.
    """
    fills, missed = _fills(strokes)
    no_fills = fills >= FILLS_LEAST and missed > fills / 2
    if is_this(matched, hits, no_fills=no_fills):
        return ""
    drums, known = _drums(matched, hits)
    said = [f"of {drums} strokes on kick, drums and crashes only {known} stand where they are written"]
    if no_fills:
        said.append(f"{missed} of {fills} fills are not there")
    if len(matched.steady) >= PIECES_LEAST:
        said.append(f"it fits the form in {len(matched.steady)} pieces only")
    if not USUAL_TEMPO[0] <= tempo_share <= USUAL_TEMPO[1]:
        said.append(f"it would be at {100 * tempo_share:.0f} % of the song's tempo")
    return f"This may not be this song: {'; '.join(said)}. Is it this song, this level and these bars?"


def is_this(matched: Matched, hits: Sequence[Hit], *, no_fills: bool = False) -> bool:
    """True when enough of the drums struck stand where they are written: more is asked for where the form disagrees.

    `no_fills`: whether most fills that are written are not there.
    """
    more = len(matched.steady) - PIECES_LEAST
    least = LEAST if more < 0 else min(LEAST_IN_PIECES + LEAST_A_PIECE * more, LEAST_AT_MOST)
    return share_known(matched, hits) >= (LEAST_AT_MOST if no_fills else least)


def share_known(matched: Matched, hits: Sequence[Hit]) -> float:
    """Share of the drums struck that are strokes of the chart, 0 to 1; 1 where too few were struck to tell."""
    drums, known = _drums(matched, hits)
    return known / drums if drums >= FEWEST else 1.0


def _drums(matched: Matched, hits: Sequence[Hit]) -> tuple[int, int]:
    """Drums struck, and those of them that are strokes of the chart."""
    drums = [j for j, hit in enumerate(hits) if _tells(hit)]
    return len(drums), sum(j in matched.known for j in drums)


def _tells(hit: Hit) -> bool:
    """True for a sure stroke on a drum or a crash; ears call clicks cross-sticks, so those tell nothing."""
    return hit.sound not in TIMEKEEPERS | {"hat_pedal", "rim"} and hit.confidence >= SURE


def _fills(strokes: Sequence[MarkedStroke]) -> tuple[int, int]:
    """Fills that are written, and those of which less than half is played."""
    fills = missed = 0
    for inside in by_bar(strokes).values():
        start = fill_start(inside)
        if start is not None:
            own = [s for s in inside if s.verdict != "extra" and s.position >= start and s.piece not in TIMEKEEPERS]
            fills += 1
            missed += sum(s.verdict == "played" for s in own) < len(own) / 2
    return fills, missed
