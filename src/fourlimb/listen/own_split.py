"""Where one song's peaks of one sound part into strokes and rest.

In: log-odds of a sound's peaks. Out: the log-odds where a peak is as likely a stroke as not, by this song alone.

Method: two bells, of the rest and of the strokes, fitted by expectation maximisation (Dempster, Laird and Rubin
1977) with priors on where they lie and how wide they are (maximum a posteriori), so that a sound with a handful of
peaks keeps the usual split.

Cannot: tell a sound that is faint all through the song from noise that is as regular; the gate of `song_sounds` and
its limit on the split are for that.
"""

import numpy as np
import numpy.typing as npt

Doubles = npt.NDArray[np.float64]

LOWEST = -6.0
"""Peaks below are nothing."""
USUAL = np.array([-3.0, 2.2])
"""Where rest and strokes lie usually, log-odds, and how wide they are (seen on the open recordings)."""
WIDE = np.array([1.1, 1.2])
PLACE_WEIGHT, WIDTH_WEIGHT = np.array([8.0, 6.0]), 10.0
"""The priors count like so many peaks (ours)."""
SHARES = (0.02, 0.95)
FIRST_SHARE, SHARE_WEIGHT = 0.3, 4.0
ROUNDS, STEPS = 40, 200


def own_split(odds: Doubles) -> float:
    """Log-odds of an even chance in this song; `odds`: shape (n,), of all peaks of one sound."""
    odds = odds[odds > LOWEST].astype(np.float64)
    place, width, share = USUAL.copy(), WIDE.copy(), FIRST_SHARE
    for _ in range(ROUNDS if len(odds) else 0):
        strokes = _chance(odds, place, width, share)
        strokes = np.where(odds < place[0], 0.0, np.where(odds > place[1], np.maximum(strokes, 0.99), strokes))
        parts = np.stack([1 - strokes, strokes])
        count = parts.sum(1)
        place = (PLACE_WEIGHT * USUAL + parts @ odds) / (PLACE_WEIGHT + count)
        spread = (parts * (odds - place[:, None]) ** 2).sum(1)
        width = np.sqrt((WIDTH_WEIGHT * WIDE**2 + spread) / (WIDTH_WEIGHT + count))
        share = float(np.clip((1 + count[1]) / (len(odds) + SHARE_WEIGHT), *SHARES))
    between = np.linspace(place[0], place[1], STEPS)
    return float(between[np.argmax(_chance(between, place, width, share) > 0.5)])


def _chance(odds: Doubles, place: Doubles, width: Doubles, share: float) -> Doubles:
    """Of the second bell against the first."""
    bells = -np.log(width)[:, None] - 0.5 * ((odds - place[:, None]) / width[:, None]) ** 2
    z = bells[0] + np.log(1 - share) - bells[1] - np.log(share)
    return np.asarray(1 / (1 + np.exp(np.clip(z, -50, 50))))
