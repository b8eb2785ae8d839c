"""How long a change lasts: in how many bars of the song what it says is so.

One bit a bar for every stroke of the song, so a question costs one AND for each change, whatever the song's length.
"""

from collections.abc import Mapping, Sequence

from fourlimb.model import Change

from .content import Content, Place


class Lives:
    """Which bars hold which strokes."""

    def __init__(self, bars: Mapping[int, Content]) -> None:
        self._bars: dict[Place, int] = {}
        self._all = (1 << len(bars)) - 1
        for index, content in enumerate(bars.values()):
            for position, piece, _ in content.notes:
                place = position, piece
                self._bars[place] = self._bars.get(place, 0) | 1 << index

    def bars_with(self, changes: Sequence[Change]) -> int:
        """Number of bars that have all that the changes bring and nothing that they take away."""
        found = self._all
        for change in changes:
            if change.to is not None:
                found &= self._bars.get((change.to, change.to_piece or change.piece), 0)
            if change.from_ is not None and change.what != "strike":
                found &= ~self._bars.get((change.from_, change.piece), 0)
        return found.bit_count()
