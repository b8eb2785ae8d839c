"""Learns how much each sign of a way to count weighs (`fourlimb/listen/weigh.py`), and prints the weights.

    python -m bench.ways [--cache FOLDER]

Learning data: every groove of the learning half of the Groove set that is long enough, rendered with fourlimb's own
kit and heard by the ears that ship, as it is and as if played at 0.6 to 1.6 times its speed (curves and strokes
stretched), and songs made in every meter of the same half (`made_songs.metered_song`), at half weight. A conditional
logit with a Gaussian prior on the weights. The recordings and rendered songs are not used: they check. Odd meters are
as common as 4/4 among the made songs and nowhere else, so their weights are set by hand, as are those for strokes alone.
"""

import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import msgspec
import numpy as np
from scipy.optimize import minimize

from fourlimb.listen.bars import ranked
from fourlimb.listen.evidence import Evidence
from fourlimb.listen.layout import expanded
from fourlimb.listen.weigh import FEATURES
from fourlimb.model.places import is_compound

from .groove import performances
from .made_songs import METERS, metered_song
from .playing import evidence_of, felt_bpm, played

SPEEDS = {1.0: 1.0, 0.6: 0.6, 0.75: 0.6, 1.3: 0.6, 1.6: 0.6}
MADE = 0.5
"""Speed -> how much a song at it counts: real songs are at their own speed."""
SONGS_A_METER = 10
SAME_TEMPO = 0.04
PRIOR = 3.0
"""Weight of the Gaussian prior, on features scaled to unit spread."""


class Choice(NamedTuple):
    """One song: features of every way to count it, which of them are true, and how much the song counts."""

    rows: np.ndarray
    true: np.ndarray
    weight: float


def choice(evidence: Evidence, felt_bpm: float, meter: str, weight: float) -> Choice:
    """All ways to count a song, with the true ones marked: right tempo of the felt beat and a meter of the same beat."""
    ways = ranked(evidence)
    true = []
    for way in ways:
        bars = expanded(way.lines, len(way.pulse.times_s) - 1)
        names = [bar[1] for bar in bars]
        same = is_compound(max(sorted(set(names)), key=names.count)) == is_compound(meter)
        true.append(abs(60 / way.pulse.period_s / felt_bpm - 1) < SAME_TEMPO and same)
    return Choice(np.array([way.row for way in ways]), np.array(true, bool), weight)


def at_speed(evidence: Evidence, speed: float) -> Evidence:
    """The evidence as if the song had been played faster or slower."""
    at = np.arange(int(len(evidence.beat) / speed)) * speed
    curves = {k: np.interp(at, np.arange(len(c)), c) for k in ("beat", "downbeat", "change") if (c := getattr(evidence, k)) is not None}  # fmt: skip
    hits = tuple(msgspec.structs.replace(hit, time_s=hit.time_s / speed) for hit in evidence.hits)
    seconds = {k: getattr(evidence, k) / speed for k in ("duration_s", "starts_s", "ends_s")}
    return replace(evidence, hits=hits, **curves, **seconds)


def learning(cache: Path | None) -> Iterator[Choice]:
    """Every learning song at every speed, as the ears hear it."""
    grooves = list(performances(judging=False))
    songs = [song for groove in grooves if (song := played(groove)) is not None]
    songs += [metered_song(meter, grooves, seed) for meter in METERS for seed in range(SONGS_A_METER)]
    for song in songs:
        evidence = evidence_of(song, cache)
        for speed, weight in SPEEDS.items():
            weight *= MADE if song.style == "made" else 1.0
            found = choice(at_speed(evidence, speed), felt_bpm(song) * speed, song.meter, weight)
            if found.true.any():
                yield found


def fit(songs: Sequence[Choice]) -> np.ndarray:
    """Weights of the features, in their own units."""
    rows = np.concatenate([song.rows for song in songs])
    spread = rows.std(axis=0) + 1e-6

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        total, slope = PRIOR * float(weights @ weights) / 2, PRIOR * weights
        for song in songs:
            x = song.rows / spread
            odds = np.exp(x @ weights - (x @ weights).max())
            right = odds * song.true + 1e-12
            total -= song.weight * float(np.log(right.sum() / odds.sum()))
            slope = slope - song.weight * (x.T @ (right / right.sum()) - x.T @ (odds / odds.sum()))
        return total, slope

    found = minimize(loss, np.zeros(rows.shape[1]), jac=True, method="L-BFGS-B")
    return np.asarray(found.x / spread)


def main(arguments: Sequence[str]) -> None:
    """Prints the weights for ears that are trained."""
    cache = Path(arguments[arguments.index("--cache") + 1]) if "--cache" in arguments else None
    songs = list(learning(cache))
    weights = fit(songs)
    right = [bool(song.true[int((song.rows @ weights).argmax())]) for song in songs]
    print(f"{len(songs)} songs, right on those learned from: {np.mean(right):.3f}")
    print("(" + ", ".join(f"{w:.3f}" for w in weights) + ")  # " + ", ".join(FEATURES))


if __name__ == "__main__":
    main(sys.argv[1:])
