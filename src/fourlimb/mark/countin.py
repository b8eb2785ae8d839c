"""Strokes that count a take in: sticks or a hat alone, evenly, before the first bar.

They fall on written strokes like any other: laid on a bar of their own they push the take a bar on. Whether they are
the song's first strokes or a count-in is decided by what follows (see `compare`): here they are only found.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from fourlimb.model import Hit, Sound
from fourlimb.model.sounds import INSTRUMENT, PERCUSSION

TOGETHER_S: Final = 0.06
"""Hits closer than this are one stroke, which ears may give two names (ours)."""

FEWEST, MOST = 3, 8
"""Strokes of a count-in: a bar of three, or two bars of four (common practice)."""

UNEVEN: Final = 0.12
"""How far a gap may be from the usual one, as a share of it (ours: people count in less evenly than they play)."""

COUNTED_ON: Final[frozenset[Sound]] = PERCUSSION | {"rim", "snare", "hat_closed", "hat_open", "hat_pedal"}
"""What a count-in is struck on, and what ears hear sticks as."""


def count_in(hits: Sequence[Hit]) -> int:
    """How many of the first hits may be a count-in, 0 where none are. `hits`: in order of time.

    The strokes are as far apart as from the last of them to what follows; the first ones may be twice as far ("1, 2,
    1 2 3 4").
    """
    moments = _moments(hits)
    able = next((n for n, group in enumerate(moments) if not _counts(group)), 0)
    for count in range(min(able, MOST), FEWEST - 1, -1):
        starts = [group[0].time_s for group in moments[: count + 1]]
        if _even([after - before for before, after in pairwise(starts)]):
            return sum(len(group) for group in moments[:count])
    return 0


def _counts(group: Sequence[Hit]) -> bool:
    """Whether a moment may be one count: nothing but one stroke, whatever ears call it."""
    names = {INSTRUMENT[hit.sound] for hit in group}
    return all(hit.sound in COUNTED_ON for hit in group) and not {"snare drum", "hi-hat"} <= names


def _even(gaps: Sequence[float]) -> bool:
    usual = gaps[-1]
    slow = next((n for n, gap in enumerate(gaps) if gap < 1.5 * usual), len(gaps))
    expected = [2 * usual] * slow + [usual] * (len(gaps) - slow)
    return slow <= len(gaps) / 2 and all(
        abs(gap - due) <= UNEVEN * due for gap, due in zip(gaps, expected, strict=True)
    )


def _moments(hits: Sequence[Hit]) -> list[list[Hit]]:
    """Hits that are struck together, of as many moments as a count-in may have and one more."""
    groups: list[list[Hit]] = []
    for hit in hits:
        if groups and hit.time_s - groups[-1][0].time_s <= TOGETHER_S:
            groups[-1].append(hit)
        elif len(groups) > MOST:
            break
        else:
            groups.append([hit])
    return groups
