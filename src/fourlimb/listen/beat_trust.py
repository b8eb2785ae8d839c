"""How far beats and bar lines can be trusted, as the share that is right.

Input: every way to count a song with its log-odds (`weigh`), how clearly each beat stands out (`beats.confidence`),
and what was heard at bar lines. Output: probabilities that a beat, and a bar line on it, are where they were played.

Method: a song's beats are wrong together when it is counted at the wrong speed, so the share of the other ways to
count enters beside what is heard at each beat. Logistic curves (Platt 2000), fitted by `bench.ways --trust` on
grooves of the learning half of the Groove set, alone, with a band and cut to every meter, rendered and heard, each
counted by weights that do not know its session. `bench.bars` prints the error.

What it cannot do: say more than the ways agree on. Where no bar lines are heard `beats.confidence` stays as it is.
"""

from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Final

import numpy as np

from .evidence import FloatArray
from .weigh import TABLE

SURELY: Final = 0.995
"""Shares are kept between this and its opposite when their log-odds are taken."""
BEAT_SIGNS: Final = ("always", "stands out", "ways of its speed")
"""What speaks for a beat: log-odds of how it stands out, and of the ways that count at its speed."""
LINE_SIGNS: Final = (
    "always", "ways of its speed and meter", "under another place", "heard", "chords over others", "harmony",
)  # fmt: skip
"""What speaks for a bar line on a right beat: log-odds of the ways that count so; how much less of a bar line is
heard there than at the best place of the bar; how much is heard there; how much more the harmony changes there than
at the next best place; whether there is harmony.

What is heard less than elsewhere counts by the share of the sound that is no harmony: where chords change, they and
the drums have placed the bar line against the ears. Changes of harmony count by the share that is music."""
HEARD_AT_ALL: Final = 0.4
"""Beats that stand out less are hardly met in songs with drums: their probability falls to 0 with it (ours)."""


def agreeing(scores: Sequence[float], same: Sequence[bool]) -> float:
    """The share of ways to count that agree in something, each as heavy as it is likely."""
    odds = np.exp(np.array(scores) - max(scores))
    return float(odds[np.array(same)].sum() / odds.sum())


@cache
def learned_curve(what: str) -> FloatArray:
    """The curve that ships, for "beats" or "lines": a number for each sign."""
    with files("fourlimb.listen").joinpath(TABLE).open("rb") as file:
        curve: FloatArray = np.load(file)[f"trust_{what}"].astype(np.float64)
        return curve


def beat_signs(stands_out: FloatArray, share: float) -> FloatArray:
    """A row for each beat, in the order of `BEAT_SIGNS`; `share`: of the ways that count at this speed."""
    count = len(stands_out)
    return np.stack([np.ones(count), _odds(stands_out), np.full(count, float(_odds(share)))], axis=1)


def line_signs(
    share: float, heard: FloatArray, ones: Sequence[int], chords: FloatArray | None = None, music: float = 0.0
) -> FloatArray:
    """One row, in the order of `LINE_SIGNS`.

    `heard`: log-odds of a bar line at each half beat, `ones`: on which bars start; `chords`: how much the harmony
    changes at each half beat, in standard deviations, `music`: the share of it that is music (0 for drums alone).
    """
    own, over = _over_others(heard, ones)
    changes = music * _over_others(chords, ones)[1] if chords is not None else 0.0
    return np.array([1.0, float(_odds(share)), min(over, 0.0) * (1 - music), own, changes, music])


def _over_others(curve: FloatArray, ones: Sequence[int]) -> tuple[float, float]:
    """The mean of a curve on bar lines, and by how much it is over that of the next best place of the bar."""
    inside = [n for n in ones if 0 <= n < len(curve)] or [0]
    own = float(curve[inside].mean())
    size = int(np.median(np.diff(inside))) if len(inside) > 1 else len(curve) - inside[0]
    others = [curve[[n + k for n in inside if n + k < len(curve)]] for k in range(1, size)]
    return own, own - max((float(other.mean()) for other in others if len(other)), default=own)


def at_all(stands_out: FloatArray) -> FloatArray:
    """1 for beats that stand out as beats of songs do, towards 0 where there is hardly any beat."""
    share: FloatArray = np.minimum(stands_out / HEARD_AT_ALL, 1.0)
    return share


def probable(signs: FloatArray, curve: FloatArray) -> FloatArray:
    """What a logistic curve makes of rows of signs."""
    share: FloatArray = np.asarray(1 / (1 + np.exp(-(signs @ curve))))
    return share


def _odds(share: float | FloatArray) -> FloatArray:
    bounded = np.clip(np.asarray(share, dtype=np.float64), 1 - SURELY, SURELY)
    odds: FloatArray = np.log(bounded / (1 - bounded))
    return odds
