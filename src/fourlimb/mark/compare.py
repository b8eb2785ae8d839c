"""Hits against what is written: at which tempo, which hit is which stroke, and which are a click's.

In: what is written of some bars, and a take's hits in order of time. Out: `Compared`. A take is followed at the
tempo found first, and at others where it fits badly; sounds that may be a metronome's are left out where nothing is
written.
"""

from collections.abc import Collection
from typing import Final, NamedTuple

from fourlimb.model import Hit, Sound, Stroke

from .clicks import clicks_among, not_written
from .countin import count_in
from .follow import FASTEST, JUMP_COST, SLOWEST, find_ratio, follow, ratios_near, same_part
from .match import Matched, match
from .stranger import is_this, share_known
from .written import Floats, Written

OTHER_TEMPI: Final = (2.0, 0.5, 1.5, 2 / 3)
"""Shares of the tempo found at which a take that fits badly is tried again: plain grooves fit at half of it too."""

FITS: Final = 0.8
"""Share of the drums struck that must be written for such another tempo to be the take's: two songs seldom share
that much at any tempo (ours)."""


class Compared(NamedTuple):
    """The hits that were compared, the take's tempo as a share of the song's, who is what, and clicks left out."""

    hits: list[Hit]
    ratio: float
    matched: Matched
    clicks: int = 0

    def explains_all(self) -> bool:
        """Nothing played that is not written, and no jumps."""
        return not self.matched.extra and not self.matched.restarts

    def explained(self) -> int:
        """How much of what is played is written, however it jumps about: strokes, less those that are extra."""
        return len(self.matched.known) - len(self.matched.extra)

    def fit(self, written: Written, besides: Collection[Hit] = ()) -> float:
        """How well this take fits here: strokes played on their own instrument, less what is extra, and jumps.

        Time kept on another cymbal is time kept (`follow.TIME_KEPT_ON`).

        `besides`: hits that tell nothing of it, as a click does: every place has strokes on its beats.
        """
        told = [j for j, hit in enumerate(self.hits) if hit not in besides]
        own = {
            p.hit
            for p in self.matched.pairs
            if p.hit is not None and same_part(written.strokes[p.stroke].piece, self.hits[p.hit].sound)
        }
        extra = {j for j, _ in self.matched.extra}
        worth = sum((j in own) - (j in extra) for j in told)
        return worth - JUMP_COST * len(self.matched.restarts)


def compared(
    written: Written, hits: list[Hit], known: Floats | None, *, heard: bool, sounds: Collection[Sound] = ()
) -> Compared:
    """Hits against what is written; clicks among those that were heard are left out where nothing is written.

    `sounds`: those of the whole chart, also of bars that `written` does not hold.
    """
    whole = _counted_in(_matched(written, hits, known), written, known)
    if not heard:
        return whole
    one = _without(clicks_among(whole.hits, written=sounds), whole, written, known)
    loose = [j for j, _ in one.matched.extra]
    more = frozenset(loose[n] for n in clicks_among([one.hits[j] for j in loose], alike=False))
    return _less(more, one, written, known) if more else one


def _counted_in(whole: Compared, written: Written, known: Floats | None) -> Compared:
    """The same without its count-in, where what follows that fits better so."""
    first = count_in(whole.hits)
    if not any(pair.hit is not None and pair.hit < first for pair in whole.matched.pairs):
        return whole
    rest = _matched(written, whole.hits[first:], known)
    return rest if rest.fit(written) > whole.fit(written, whole.hits[:first]) else whole


def _without(clicks: frozenset[int], whole: Compared, written: Written, known: Floats | None) -> Compared:
    """The same without clicks.

    A take played by a machine holds nothing but clicks, and one may sound where strokes are written: of the take with
    its clicks and without the one is right that finds more of what is written.
    """
    rest = [hit for j, hit in enumerate(whole.hits) if j not in clicks]
    if not clicks or not rest:
        return whole
    tries = (_gaps(whole, written, clicks), _gaps(_matched(written, rest, known), written))
    found = [_less(not_written(clicks, whole.hits, gaps), whole, written, known) for gaps in tries]
    loose = [whole.hits[j] for j in clicks]
    return max(reversed(found), key=lambda one: (one.fit(written, loose), one.fit(written)))


def _gaps(one: Compared, written: Written, clicks: frozenset[int] = frozenset()) -> list[tuple[Stroke, float]]:
    """Strokes that no hit is, but for a click, and when they were due."""
    return [
        (written.strokes[pair.stroke], pair.due_s)
        for pair in one.matched.pairs
        if pair.due_s is not None and (pair.hit is None or pair.hit in clicks)
    ]


def _less(gone: frozenset[int], one: Compared, written: Written, known: Floats | None) -> Compared:
    kept = [hit for j, hit in enumerate(one.hits) if j not in gone]
    return _matched(written, kept, known)._replace(clicks=one.clicks + len(gone))


def _matched(written: Written, hits: list[Hit], known: Floats | None) -> Compared:
    """The take followed at its tempo, or at twice or half of it where only so it is this song."""
    ratio = find_ratio(written, hits, known)
    one = _at(written, hits, ratio)
    if known is not None or is_this(one.matched, hits):
        return one
    others = [ratio * factor for factor in OTHER_TEMPI if SLOWEST <= ratio * factor <= FASTEST]
    tries = [_at(written, hits, find_ratio(written, hits, ratios_near(other))) for other in others]
    best = max(tries, key=lambda each: share_known(each.matched, hits), default=one)
    return best if share_known(best.matched, hits) >= FITS else one


def _at(written: Written, hits: list[Hit], ratio: float) -> Compared:
    return Compared(hits, ratio, match(written, hits, follow(written, hits, ratio), ratio))
