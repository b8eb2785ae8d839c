"""How likely everything is that may be a stroke, and how what is known of some of it changes the rest.

In: the strokes heard and what was not sure enough to be one (`Possible`). Out: a row for each of them with its
log-odds, and log-odds given that some rows are known to be strokes or not.

Method: a song differs from what is usual. Its soft snares are heard too low, its crash sounds like a kick on one.
The shift of the log-odds is taken for a Gaussian process over the strokes of one group of sounds: a part that all
share, a part for the place in the beat, a part for the place in the bar; two bars share them the more, the more they
are alike. Known rows are its observations, with a logistic likelihood (Laplace's approximation: Rasmussen and
Williams 2006, "Gaussian Processes for Machine Learning", algorithms 3.1 and 3.2; log-odds that are unsure are drawn
to even odds as MacKay 1992 does). So one odd bar overturns little, and three that agree overturn much.

Cannot: know of a stroke that left no trace. How a stroke sounded is not used: with it, nothing was gained.
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

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

GROUP: Final[dict[Sound, int]] = {
    "kick": 0, "snare": 1, "rim": 1, "ride": 4, "ride_bell": 4,
    **dict.fromkeys(sorted(HATS), 2), **dict.fromkeys(sorted(TOMS), 3),
    **dict.fromkeys(sorted(CYMBALS - {"ride", "ride_bell"}), 5),
}  # fmt: skip
"""Sounds that are judged together; what is not of the kit is left alone."""

EVERYWHERE, BEAT, PLACE, OWN = 2.0, 4.0, 4.0, 0.1
"""Variances of the parts of the shift (squared log-odds)."""
UNLIKE: Final = 0.3
"""What bars share that are not alike at all, of what like bars share."""
WIDTH_S: Final = 0.04
"""Standard deviation of "the same place"."""
VARIANCE: Final = EVERYWHERE + BEAT + PLACE + OWN
"""Set on 60 songs rendered from kits that the ears never heard, and made songs of the learning half (docs/bars.md):
twice or half of each changes the strokes left wrong by a hundredth or two."""
EARLY_S: Final = 0.03
"""A stroke this much before a bar line belongs to the bar that begins there."""
SAME_MOMENT_S: Final = 0.03
SURE: Final = (0.02, 0.995)
UNWRITTEN: Final = -0.5
"""Log-odds that what was not written is less likely than it says. Recordings want -1 (of what is told .1 to .6 a
third as much was played), made songs on the kit that ships 0."""
STEPS: Final = 60
LONGEST_STEP: Final = 2.0


class Chances(NamedTuple):
    """One row for everything that may be a stroke, increasing in time; n rows, b bars.

    group, bar (row of the grid) : shape (n,). time_s, place_s (from the bar's start, in a bar of usual length),
    odds (log-odds of being a stroke) : shape (n,). struck : whether it is written now. hit : its index in the hits,
    -1 if it is only possible. alike, same_meter : shape (b, b). beat_s : usual length of a beat.
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
    return Chances(
        np.array([GROUP[row[1]] for row in rows], np.int64), bar, time_s,
        (time_s - starts[bar]) / np.maximum(lengths[bar], 1e-6) * usual,
        np.log(sure / (1 - sure)) + np.where(struck, 0.0, UNWRITTEN), struck,
        np.array([row[4] for row in rows], np.int64), tuple(row[1] for row in rows),
        np.array([row[3] for row in rows], np.float64),
        np.clip(likeness(bar_vectors(grid, hits)), 0, 1), (meters[:, None] == meters[None]).astype(np.float64),
        usual / beats,
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


def shared(rows: Chances, i: Ints, j: Ints) -> FloatArray:
    """Covariance of the shifts of rows of one group, shape (len(i), len(j)), without each row's own part."""
    apart = rows.place_s[i][:, None] - rows.place_s[j][None]
    in_beat = (apart / rows.beat_s + 0.5) % 1 - 0.5
    bars = np.ix_(rows.bar[i], rows.bar[j])
    same = BEAT * np.exp(-0.5 * (in_beat * rows.beat_s / WIDTH_S) ** 2)
    place = PLACE * np.exp(-0.5 * (apart / WIDTH_S) ** 2) * rows.same_meter[bars]
    found: FloatArray = (EVERYWHERE + same + place) * (UNLIKE + (1 - UNLIKE) * rows.alike[bars])
    return found


def latent(odds: FloatArray) -> FloatArray:
    """The mean of the process under which the odds are what they are, its variance counted in."""
    return np.asarray(odds * np.sqrt(1 + np.pi * VARIANCE / 8))


def moderated(mean: FloatArray, variance: FloatArray) -> FloatArray:
    """Log-odds when the log-odds themselves are unsure (MacKay 1992)."""
    return np.asarray(mean / np.sqrt(1 + np.pi * np.maximum(variance, 0) / 8))


def given(rows: Chances, known: Ints, true: Flags, asked: Ints) -> FloatArray:
    """Log-odds of the asked rows given that the known ones are true or not; all of one group."""
    prior, own = latent(rows.odds), shared(rows, known, known) + OWN * np.eye(len(known))
    weight, pull = _observed(own, prior[known], true)
    across = shared(rows, asked, known)
    root = np.sqrt(weight)
    spread = np.linalg.solve(np.eye(len(known)) + root[:, None] * own * root, root[:, None] * across.T)
    less = ((root[:, None] * across.T) * spread).sum(axis=0)
    return moderated(prior[asked] + across @ pull, VARIANCE - less)


def _observed(covariance: FloatArray, prior: FloatArray, true: Flags) -> tuple[FloatArray, FloatArray]:
    """Laplace's approximation round the likeliest shift: weights of the known rows, and their pull on others."""
    shift = np.zeros(len(prior))
    for _ in range(STEPS):
        p = probability(prior + shift)
        weight = np.maximum(p * (1 - p), 1e-5)
        root = np.sqrt(weight)
        wanted = weight * shift + (true - p)
        inner = np.eye(len(prior)) + root[:, None] * covariance * root
        pull = wanted - root * np.linalg.solve(inner, root * (covariance @ wanted))
        step = covariance @ pull - shift
        if np.abs(step).max() < 1e-3:
            break
        shift = shift + np.clip(step, -LONGEST_STEP, LONGEST_STEP)
    return weight, pull
