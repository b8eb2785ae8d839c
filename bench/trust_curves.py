"""Curves of `fourlimb/listen/beat_trust.py`: what speaks for beats and bar lines of known songs, and the best fit to it.

`bench.ways` learns them with the weights: every song is counted by weights that did not know its session.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.optimize import minimize

from fourlimb.listen.bars import ranked, trust_signs
from fourlimb.listen.beat_trust import BEAT_SIGNS, LINE_SIGNS, at_all
from fourlimb.listen.beats import confidence
from fourlimb.listen.evidence import Evidence
from fourlimb.listen.layout import lay
from fourlimb.listen.weigh import Weights

from .playing import Played

NEAR_S = 0.07
RIDGE = 0.02
RARE = "under another place"
AT_ITS_WORD, FIRM = 1.0, 1.0
"""Bars hardly ever start where the ears hear less of a bar line than elsewhere without harmony to say so (6 of 546
songs), so that sign's number is pulled to 1, which takes the ears' log-odds at their word, this firmly."""


class Rows(NamedTuple):
    """Signs of beats or bar lines, which are right, and how far each is a beat at all."""

    signs: np.ndarray
    right: np.ndarray
    at_all: np.ndarray


def judged(song: Played, evidence: Evidence, weights: Weights) -> tuple[Rows, Rows]:
    """Signs of every beat of the bars that are laid, and of every bar line on a right beat, and which are right."""
    found = ranked(evidence, weights) if song.hits else []
    if not found:
        return _none(len(BEAT_SIGNS)), _none(len(LINE_SIGNS))
    pulse = found[0].pulse
    laid = lay(pulse, found[0].lines, until_s=evidence.ends_s).beats
    times, ones = np.array([beat.time_s for beat in laid]), np.array([beat.beat == 1 for beat in laid])
    inside = (times > song.hits[0].time_s - 0.1) & (times < min(song.ends_s, song.hits[-1].time_s + 0.1))
    inside &= times <= pulse.times_s[-1]
    right = _near(times, [beat.time_s for beat in song.grid.beats])
    signs, line = trust_signs(found, evidence)
    own = np.stack([np.interp(times, pulse.times_s, column) for column in signs.T], axis=1)
    there = np.interp(times, pulse.times_s, at_all(confidence(pulse.times_s, evidence)))
    good = _near(times, [beat.time_s for beat in song.grid.beats if beat.beat == 1])[inside & right & ones]
    return Rows(own[inside], right[inside], there[inside]), Rows(
        np.tile(line, (len(good), 1)), good, np.ones(len(good))
    )


def _near(times: np.ndarray, true: Sequence[float]) -> np.ndarray:
    return np.abs(times[:, None] - np.array(true)).min(axis=1) < NEAR_S


def _none(signs: int) -> Rows:
    return Rows(np.zeros((0, signs)), np.zeros(0, bool), np.zeros(0))


def fit(songs: Sequence[Rows], counts: Sequence[float], *, lines: bool) -> np.ndarray:
    """A logistic curve for bar lines or beats; every song counts as much as is said, whatever its length."""
    x, y = (
        np.concatenate([song.signs for song in songs]),
        np.concatenate([song.right for song in songs]).astype(float),
    )
    shares = [
        np.full(len(song.right), count / max(len(song.right), 1)) for song, count in zip(songs, counts, strict=True)
    ]
    weight = np.concatenate(shares)

    rare = np.array([lines and name == RARE for name in (LINE_SIGNS if lines else BEAT_SIGNS)])
    firm, usual = np.where(rare, FIRM, RIDGE), np.where(rare, AT_ITS_WORD, 0.0)

    def loss(curve: np.ndarray) -> float:
        odds = x @ curve
        far = firm * (curve - usual) ** 2
        return float((weight * (np.logaddexp(0, odds) - y * odds)).sum() + far[1:].sum())

    return np.asarray(minimize(loss, np.zeros(x.shape[1])).x)
