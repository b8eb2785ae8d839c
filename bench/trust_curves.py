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
from fourlimb.listen.layout import expanded
from fourlimb.listen.weigh import Weights

from .playing import Played

NEAR_S = 0.07
RIDGE = 0.02


class Rows(NamedTuple):
    """Signs of beats or bar lines, which are right, and how far each is a beat at all."""

    signs: np.ndarray
    right: np.ndarray
    at_all: np.ndarray


def judged(song: Played, evidence: Evidence, weights: Weights) -> tuple[Rows, Rows]:
    """Signs of every beat, and of every bar line on a right beat, and which are right."""
    beats = np.array([beat.time_s for beat in song.grid.beats])
    true_ones = np.array([beat.time_s for beat in song.grid.beats if beat.beat == 1])
    if not song.hits:
        return _none(len(BEAT_SIGNS)), _none(len(LINE_SIGNS))
    low, high = song.hits[0].time_s - 0.1, min(song.ends_s, song.hits[-1].time_s + 0.1)
    found = ranked(evidence, weights)
    if not found:
        return _none(len(BEAT_SIGNS)), _none(len(LINE_SIGNS))
    signs, line = trust_signs(found, evidence)
    times = found[0].pulse.times_s
    inside = (times > low) & (times < high)
    right = np.array([np.abs(beats - t).min() < NEAR_S for t in times])
    starts = [int(bar[0]) for bar in expanded(found[0].lines, len(times) - 1) if bar[0] == int(bar[0])]
    ones = np.array([n for n in starts if n < len(times) and right[n] and inside[n]], dtype=int)
    good = np.array([np.abs(true_ones - times[n]).min() < NEAR_S for n in ones], dtype=bool)
    there = at_all(confidence(times, evidence))
    return Rows(signs[inside], right[inside], there[inside]), Rows(
        np.tile(line, (len(ones), 1)), good, np.ones(len(ones))
    )


def _none(signs: int) -> Rows:
    return Rows(np.zeros((0, signs)), np.zeros(0, bool), np.zeros(0))


def fit(songs: Sequence[Rows]) -> np.ndarray:
    """A logistic curve; every song weighs the same."""
    kept = [song for song in songs if len(song.right)]
    x, y = np.concatenate([song.signs for song in kept]), np.concatenate([song.right for song in kept]).astype(float)
    weight = np.concatenate([np.full(len(song.right), 1 / len(song.right)) for song in kept])

    def loss(curve: np.ndarray) -> float:
        odds = x @ curve
        return float((weight * (np.logaddexp(0, odds) - y * odds)).sum() + RIDGE * (curve[1:] ** 2).sum())

    return np.asarray(minimize(loss, np.zeros(x.shape[1])).x)
