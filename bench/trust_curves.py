"""Fits the curves of `fourlimb/listen/beat_trust.py`, and prints them.

    python -m bench.trust_curves [--cache FOLDER]

Learning data: grooves of the learning half of the Groove set, evenly taken, rendered and heard, and made songs in every
meter of the same half. Every song weighs the same. Recordings, rendered songs and the judging half are not used:
`bench.bars` measures on them.
"""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from fourlimb.listen.bars import ranked, trust_signs
from fourlimb.listen.layout import expanded

from .groove import performances
from .made_songs import METERS, metered_song
from .playing import Played, evidence_of, played

NEAR_S = 0.07
GROOVES = 72
SONGS_A_METER = 6
RIDGE = 0.02
Rows = tuple[np.ndarray, np.ndarray]


def songs() -> Iterator[Played]:
    """What the curves are learned from."""
    grooves = list(performances(judging=False))
    long = [song for groove in grooves if (song := played(groove)) is not None]
    yield from (long[int(i)] for i in np.unique(np.linspace(0, len(long) - 1, GROOVES).astype(int)))
    yield from (metered_song(meter, grooves, seed) for meter in METERS for seed in range(SONGS_A_METER))


def judged(song: Played, cache: Path | None) -> tuple[Rows, Rows] | None:
    """Signs of every beat, and of every bar line on a right beat, and which are right."""
    evidence = evidence_of(song, cache)
    found = ranked(evidence)
    if not found:
        return None
    signs, line = trust_signs(found, evidence)
    times = found[0].pulse.times_s
    true = np.array([beat.time_s for beat in song.grid.beats])
    true_ones = np.array([beat.time_s for beat in song.grid.beats if beat.beat == 1])
    inside = (times > song.hits[0].time_s - 0.1) & (times < min(song.ends_s, song.hits[-1].time_s + 0.1))
    right = np.array([np.abs(true - t).min() < NEAR_S for t in times])
    starts = [int(bar[0]) for bar in expanded(found[0].lines, len(times) - 1) if bar[0] == int(bar[0])]
    ones = np.array([n for n in starts if n < len(times) and right[n] and inside[n]], dtype=int)
    good = np.array([np.abs(true_ones - times[n]).min() < NEAR_S for n in ones], dtype=bool)
    return (signs[inside], right[inside]), (np.tile(line, (len(ones), 1)), good)


def fit(songs: Sequence[Rows]) -> np.ndarray:
    """A logistic curve; every song weighs the same."""
    kept = [(signs, right) for signs, right in songs if len(right)]
    x, y = np.concatenate([s for s, _ in kept]), np.concatenate([r for _, r in kept]).astype(float)
    weight = np.concatenate([np.full(len(r), 1 / len(r)) for _, r in kept])

    def loss(curve: np.ndarray) -> float:
        odds = x @ curve
        return float((weight * (np.logaddexp(0, odds) - y * odds)).sum() + RIDGE * (curve[1:] ** 2).sum())

    return np.asarray(minimize(loss, np.zeros(x.shape[1])).x)


def main(arguments: Sequence[str]) -> None:
    """Prints the curves."""
    cache = Path(arguments[arguments.index("--cache") + 1]) if "--cache" in arguments else None
    rows = [pair for song in songs() if (pair := judged(song, cache)) is not None]
    print(f"{len(rows)} songs; beats:", np.round(fit([beats for beats, _ in rows]), 2).tolist(),
          "bar lines:", np.round(fit([lines for _, lines in rows]), 2).tolist())  # fmt: skip


if __name__ == "__main__":
    main(sys.argv[1:])
