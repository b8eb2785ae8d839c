"""A take that plays more of the song than the bars asked: which of its hits are these bars.

When bars are asked, a take is taken to be of these. Where the whole song explains it better, it plays more, and what
lies before and after is left aside: else it would be told as stops and restarts. Music that the song has twice cannot
be told from bars played again; then the bars asked are believed.
"""

from collections.abc import Sequence
from typing import Final

from fourlimb.model import Hit

from .compare import Compared
from .match import Matched
from .written import Written

LONGER_LEAST, STRAIGHT_LEAST = 8, 2
"""Strokes that the whole song must explain better before a take is of more than the bars asked; and where it explains
them with fewer jumps (ours: a bar of 8ths; a crash and what goes with it)."""

EDGE_BEATS: Final = 0.5
"""Felt beats before the first and after the last stroke of the bars that are still theirs (ours)."""


def is_longer(whole: Compared, asked: Compared) -> bool:
    """Whether a take is rather of the whole song than of the bars asked."""
    more = whole.explained() - asked.explained()
    straighter = len(whole.matched.restarts) < len(asked.matched.restarts)
    return more >= (STRAIGHT_LEAST if straighter else LONGER_LEAST)


def hits_of(hits: Sequence[Hit], written: Written, matched: Matched, first: int, last: int) -> list[Hit]:
    """The hits in bars `first` to `last`; `written` and `matched` are of the whole song.

    None of them where the take does not reach these bars.
    """
    due = [
        pair.due_s
        for pair in matched.pairs
        if pair.due_s is not None and first <= written.strokes[pair.stroke].bar <= last
    ]
    if not due:
        return []
    edge = EDGE_BEATS * written.beat_s / (matched.steady[0].ratio() if matched.steady else 1.0)
    return [hit for hit in hits if min(due) - edge <= hit.time_s <= max(due) + edge]
