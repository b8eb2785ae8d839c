"""How likely everything is that may be a stroke, and how what is known of some of it changes the rest.

In: the strokes heard and what was not sure enough to be one (`Possible`). Out: a row for each of them with its
log-odds, and log-odds given that some rows are known to be strokes or not.

Method: a song differs from what is usual. Its soft snares are heard too low, its crash sounds like a kick on one.
The shift of the log-odds is taken for a Gaussian process over the strokes of one group of sounds: a part that all
share, and parts for the place in the beat, the place in the bar, what else sounds at that moment, what the same
group does just before and after, how loud and how likely the row was heard, whether it was written
(`surroundings`); two bars share them the more, the more they are alike. Known rows are its observations, with a
logistic likelihood (expectation propagation: Minka 2001; Rasmussen and Williams 2006, "Gaussian Processes for
Machine Learning", section 3.6, and Kuss and Rasmussen 2005 on why not Laplace's approximation, which learns too
little); log-odds that are unsure are drawn to even odds as MacKay 1992 does.
So one odd bar overturns little, and three that agree overturn much.

Cannot: know of a stroke that left no trace (see `silences`). How a stroke sounded is not used: with it, nothing was
gained.
"""

from bisect import bisect_left, insort
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from fourlimb.model import Grid, Hit, Possible, Sound
from fourlimb.model.places import beat_lengths
from fourlimb.model.sounds import CYMBALS, HATS, ORDER, TOMS

from .alike import bar_vectors, likeness
from .evidence import FloatArray
from .odds import probability
from .surroundings import beside, louder, neighbours

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

GROUP: Final[dict[Sound, int]] = {
    "kick": 0, "snare": 1, "rim": 1, "ride": 4, "ride_bell": 4,
    **dict.fromkeys(sorted(HATS), 2), **dict.fromkeys(sorted(TOMS), 3),
    **dict.fromkeys(sorted(CYMBALS - {"ride", "ride_bell"}), 5),
}  # fmt: skip
"""Sounds that are judged together; what is not of the kit is left alone."""
GROUPS: Final = 1 + max(GROUP.values())

EARLY_S: Final = 0.03
"""A stroke this much before a bar line belongs to the bar that begins there."""
SAME_MOMENT_S: Final = 0.03
SURE: Final = (0.02, 0.995)
MOST_KNOWN: Final = 600
"""At most this many known strokes of one group are learnt from, the least sure first (an hour takes seconds)."""
UNWRITTEN: Final = -0.75
"""Log-odds that what was not written is less likely than it says. Recordings want -1 (of what is told .1 to .6 a
third as much was played), made songs on the kit that ships 0."""
ROUNDS, DAMPED, TOLERANCE, TINY = 40, 0.7, 1e-3, 1e-6
"""Of expectation propagation: most rounds, share of each change that is made, change that ends it, least value."""
AVERAGED: Final = np.polynomial.hermite_e.hermegauss(24)
"""Points and weights for averages over one row's log-odds (Gauss and Hermite)."""


class Shift(NamedTuple):
    """How rows share the shift of their log-odds; set by `bench.shifts` on songs of the learning half.

    Variances of its parts (squared log-odds): all rows of a group share `everywhere`, those at one place of the
    `beat`, of the bar (`place`), each row has its `own`; then rows with the same `beside` them, the same `close` by,
    as `loud`, as `likely`, and `written` ones, or unwritten, among themselves. Standard deviations of "the same" for
    these: `width_s` seconds, shares, shares, decibels, log-odds. unlike : what bars share that are not alike at all,
    of what like bars share.
    """

    everywhere: float = 0.75
    beat: float = 4.0
    place: float = 1.5
    own: float = 1.0
    beside: float = 3.0
    close: float = 2.0
    loud: float = 1.5
    likely: float = 2.5
    written: float = 1.5
    width_s: float = 0.04
    beside_width: float = 0.6
    close_width: float = 0.6
    loud_width_db: float = 4.0
    likely_width: float = 1.0
    unlike: float = 0.6

    @property
    def variance(self) -> float:
        """Of every row."""
        shared = self.everywhere + self.beat + self.place + self.beside + self.close + self.loud + self.likely
        return shared + self.written + self.own


USUAL: Final = Shift()


class Chances(NamedTuple):
    """One row for everything that may be a stroke, increasing in time; n rows, b bars.

    group, bar (row of the grid) : shape (n,). time_s, place_s (from the bar's start, in a bar of usual length),
    odds (log-odds of being a stroke) : shape (n,). struck : whether it is written now. hit : its index in the hits,
    -1 if it is only possible. alike, same_meter : shape (b, b). beat_s : usual length of a beat. beside, close,
    louder_db : see `surroundings`, shapes (n, 6), (n, 4), (n,).
    """

    group: Ints
    bar: Ints
    time_s: FloatArray
    place_s: FloatArray
    odds: FloatArray
    struck: Flags
    hit: Ints
    sound: tuple[Sound, ...]
    loudness_db: FloatArray
    alike: FloatArray
    same_meter: FloatArray
    beat_s: float
    beside: FloatArray
    close: FloatArray
    louder_db: FloatArray


def chances(grid: Grid, hits: Sequence[Hit], possible: Sequence[Possible]) -> Chances:
    """Rows of strokes and of what may be one; of what is possible at one moment in one group, the likeliest."""
    rows = [(h.time_s, h.sound, h.confidence, h.loudness_db, i) for i, h in enumerate(hits) if h.sound in GROUP]
    rows += [(p.time_s, p.sound, p.confidence, p.loudness_db, -1) for p in _apart(hits, possible)]
    rows.sort(key=lambda row: (row[0], ORDER[row[1]], row[4]))
    time_s = np.array([row[0] for row in rows], np.float64)
    starts = np.array([bar.start_s for bar in grid.bars])
    lengths = np.diff([*starts, grid.end_s])
    bar = np.maximum(np.searchsorted(starts, time_s + EARLY_S, side="right") - 1, 0)
    usual = float(np.median(lengths))
    sure = np.clip([row[2] for row in rows], *SURE)
    struck = np.array([row[4] >= 0 for row in rows], np.bool_)
    meters = np.unique([b.meter for b in grid.bars], return_inverse=True)[1]
    beats = float(np.median([len(beat_lengths(b.meter)) for b in grid.bars]))
    group = np.array([GROUP[row[1]] for row in rows], np.int64)
    odds = np.log(sure / (1 - sure)) + np.where(struck, 0.0, UNWRITTEN)
    loudness_db = np.array([row[3] for row in rows], np.float64)
    share = probability(odds)
    return Chances(
        group, bar, time_s, (time_s - starts[bar]) / np.maximum(lengths[bar], 1e-6) * usual, odds, struck,
        np.array([row[4] for row in rows], np.int64), tuple(row[1] for row in rows), loudness_db,
        np.clip(likeness(bar_vectors(grid, hits)), 0, 1), (meters[:, None] == meters[None]).astype(np.float64),
        usual / beats, beside(GROUPS, group, time_s, share), neighbours(GROUPS, group, time_s, share),
        louder(GROUPS, group, loudness_db, struck),
    )  # fmt: skip


def _apart(hits: Sequence[Hit], possible: Sequence[Possible]) -> list[Possible]:
    """What is possible where no stroke of its group is, one at a moment."""
    taken, kept = Moments(hits), []
    for one in sorted(possible, key=lambda p: (-p.confidence, p.time_s, ORDER[p.sound])):
        if one.sound in GROUP and taken.free(one.time_s, one.sound, SAME_MOMENT_S):
            taken.take(one.time_s, one.sound)
            kept.append(one)
    return kept


class Moments:
    """When something of each group is struck."""

    def __init__(self, hits: Sequence[Hit]) -> None:
        self._times: dict[int, list[float]] = {group: [] for group in GROUP.values()}
        for hit in sorted(hits, key=lambda h: h.time_s):
            if hit.sound in GROUP:
                self._times[GROUP[hit.sound]].append(hit.time_s)

    def free(self, time_s: float, sound: Sound, within_s: float) -> bool:
        """Whether nothing of the sound's group is nearer than that."""
        times = self._times[GROUP[sound]]
        at = bisect_left(times, time_s)
        return all(abs(t - time_s) >= within_s for t in times[max(at - 1, 0) : at + 1])

    def take(self, time_s: float, sound: Sound) -> None:
        """One more."""
        insort(self._times[GROUP[sound]], time_s)


def shared(rows: Chances, i: Ints, j: Ints, by: Shift = USUAL) -> FloatArray:
    """Covariance of the shifts of rows of one group, shape (len(i), len(j)), without each row's own part."""
    apart = rows.place_s[i][:, None] - rows.place_s[j][None]
    in_beat = ((apart / rows.beat_s + 0.5) % 1 - 0.5) * rows.beat_s
    bars = np.ix_(rows.bar[i], rows.bar[j])
    found = by.everywhere + by.written * (rows.struck[i][:, None] == rows.struck[j][None])
    found = found + by.beat * _near(in_beat**2, by.width_s)
    found += by.place * _near(apart**2, by.width_s) * rows.same_meter[bars]
    for part, what, width in (
        (by.beside, rows.beside, by.beside_width), (by.close, rows.close, by.close_width),
        (by.loud, rows.louder_db[:, None], by.loud_width_db), (by.likely, rows.odds[:, None], by.likely_width),
    ):  # fmt: skip
        found += part * _near(_far(what[i], what[j]), width)
    return np.asarray(found * (by.unlike + (1 - by.unlike) * rows.alike[bars]))


def _near(squared: FloatArray, width: float) -> FloatArray:
    return np.asarray(np.exp(-0.5 * squared / width**2))


def _far(one: FloatArray, other: FloatArray) -> FloatArray:
    """Squared distance of every row of one to every row of the other."""
    squared = (one**2).sum(1)[:, None] + (other**2).sum(1)[None] - 2 * one @ other.T
    return np.asarray(np.maximum(squared, 0.0))


def latent(odds: FloatArray, variance: float) -> FloatArray:
    """The mean of the process under which the odds are what they are, its variance counted in."""
    return np.asarray(odds * np.sqrt(1 + np.pi * variance / 8))


def moderated(mean: FloatArray, variance: FloatArray) -> FloatArray:
    """Log-odds when the log-odds themselves are unsure (MacKay 1992)."""
    return np.asarray(mean / np.sqrt(1 + np.pi * np.maximum(variance, 0) / 8))


def judged(rows: Chances, known: Flags, true: Flags, by: Shift = USUAL) -> FloatArray:
    """Log-odds of all rows, shape (n,), when those that are known are true or not; the known keep their own."""
    odds = rows.odds.copy()
    for group in np.unique(rows.group):
        mine = rows.group == group
        told, asked = _least_sure(rows, mine & known), np.flatnonzero(mine & ~known)
        if len(told) and len(asked):
            odds[asked] = given(rows, told, true[told], asked, by)
    return odds


def _least_sure(rows: Chances, which: Flags) -> Ints:
    found = np.flatnonzero(which)
    return np.sort(found[np.argsort(np.abs(rows.odds[found]), kind="stable")][:MOST_KNOWN])


def given(rows: Chances, known: Ints, true: Flags, asked: Ints, by: Shift = USUAL) -> FloatArray:
    """Log-odds of the asked rows given that the known ones are true or not; all of one group."""
    prior, own = latent(rows.odds, by.variance), shared(rows, known, known, by) + by.own * np.eye(len(known))
    return learnt(prior[known], own, true, prior[asked], shared(rows, asked, known, by), by.variance)


def learnt(
    known: FloatArray, own: FloatArray, true: Flags, asked: FloatArray, across: FloatArray, variance: float
) -> FloatArray:
    """Log-odds of k asked rows by the truth about n known ones.

    known, asked : means of the process (see `latent`), shapes (n,), (k,). own, across : covariance of the known, and
    of the asked with the known, shapes (n, n), (k, n). true : shape (n,). variance : of every row.
    """
    weight, pull = _observed(own, known, true)
    root = np.sqrt(weight)
    spread = np.linalg.solve(np.eye(len(known)) + root[:, None] * own * root, root[:, None] * across.T)
    less = ((root[:, None] * across.T) * spread).sum(axis=0)
    return moderated(asked + across @ pull, variance - less)


def _observed(covariance: FloatArray, prior: FloatArray, true: Flags) -> tuple[FloatArray, FloatArray]:
    """What the known rows say, as if their shifts had been measured: weights of the rows, and their pull on others.

    Expectation propagation, all rows at once: each row's logistic likelihood is replaced by the Gaussian that leaves
    the mean and variance of its shift the same among what all the others say.
    """
    count = len(prior)
    weight, lean = np.zeros(count), np.zeros(count)
    for _ in range(ROUNDS):
        root = np.sqrt(weight)
        inner = np.eye(count) + root[:, None] * covariance * root
        after = covariance - (covariance * root) @ np.linalg.solve(inner, root[:, None] * covariance)
        variance = np.maximum(np.diag(after), TINY)
        rest = np.maximum(1 / variance - weight, TINY)
        rest_lean = (after @ lean) / variance - lean
        mean, spread = _moments(prior + rest_lean / rest, 1 / rest, true)
        new = np.maximum(1 / spread - rest, TINY)
        step = new - weight
        weight = weight + DAMPED * step
        lean = lean + DAMPED * ((mean - prior) / spread - rest_lean - lean)
        if np.abs(step).max(initial=0.0) < TOLERANCE:
            break
    root = np.sqrt(weight)
    inner = np.eye(count) + root[:, None] * covariance * root
    return weight, lean - root * np.linalg.solve(inner, root * (covariance @ lean))


def _moments(mean: FloatArray, variance: FloatArray, true: Flags) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of log-odds, Gaussian before, once each is known to be of a stroke or not."""
    points, weights = AVERAGED
    at = mean[:, None] + np.sqrt(variance)[:, None] * points
    seen = weights * np.where(true[:, None], probability(at), probability(-at))
    seen /= np.maximum(seen.sum(1, keepdims=True), 1e-300)
    new = (seen * at).sum(1)
    return new, np.maximum((seen * (at - new[:, None]) ** 2).sum(1), TINY)
