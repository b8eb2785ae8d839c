"""Fits the curves of `fourlimb/listen/beat_trust.py`, and prints them.

    python -m bench.trust_curves [--cache FOLDER]

Learning data: 72 grooves of the learning half of the Groove set, evenly taken, rendered and heard; for bar lines the
recordings and rendered songs too, each twice as heavy, as drums alone say too little about songs with a band. Also
printed: the error of bar lines on these songs, each judged by a curve fitted without it. `bench.bars` measures beats on
them, which learned nothing from them.
"""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.optimize import minimize

from fourlimb.listen.bars import ranked, trust_signs
from fourlimb.listen.beat_trust import probable
from fourlimb.listen.evidence import Evidence, from_heard
from fourlimb.listen.harmony import chroma
from fourlimb.listen.layout import expanded
from fourlimb.listen.song import sounding
from fourlimb.model import silent

from .cases import cases
from .confidence import calibration
from .groove import performances
from .playing import KeptEars, evidence_of, hits_of, played

NEAR_S = 0.07
GROOVES = 72
RIDGE = 0.02
RECORDED = 2
"""How many grooves a song with a band weighs for bar lines."""
Rows = tuple[np.ndarray, np.ndarray]


class Truth(NamedTuple):
    """A song as heard, its true beats and bar lines, and the seconds that are judged."""

    evidence: Evidence
    beats: np.ndarray
    ones: np.ndarray
    span: tuple[float, float]


def grooves(cache: Path | None) -> Iterator[Truth]:
    """What both curves are learned from."""
    long = [song for groove in performances(judging=False) if (song := played(groove)) is not None]
    for index in np.unique(np.linspace(0, len(long) - 1, GROOVES).astype(int)):
        song = long[int(index)]
        beats = [b.time_s for b in song.grid.beats]
        ones = [b.time_s for b in song.grid.beats if b.beat == 1]
        span = song.hits[0].time_s - 0.1, min(song.ends_s, song.hits[-1].time_s + 0.1)
        yield Truth(evidence_of(song, cache), np.array(beats), np.array(ones), span)


def recorded(cache: Path | None) -> Iterator[Truth]:
    """Songs with a band: for bar lines."""
    ears = KeptEars(folder=cache)
    for case in (*cases("recordings"), *cases("rendered")):
        heard = ears.hear(case.audio, silent)
        evidence = from_heard(
            heard, hits_of(heard), case.audio.duration_s, sounding=sounding(case.audio), chroma=chroma(case.audio)
        )
        yield Truth(evidence, case.beats, case.downbeats, (case.beats[0] - NEAR_S, case.beats[-1] + NEAR_S))


def judged(song: Truth) -> tuple[Rows, Rows]:
    """Signs of every beat, and of every bar line on a right beat, and which are right."""
    found = ranked(song.evidence)
    signs, line = trust_signs(found, song.evidence)
    times = found[0].pulse.times_s
    inside = (times > song.span[0]) & (times < song.span[1])
    right = np.array([np.abs(song.beats - t).min() < NEAR_S for t in times])
    starts = [int(bar[0]) for bar in expanded(found[0].lines, len(times) - 1) if bar[0] == int(bar[0])]
    ones = np.array([n for n in starts if n < len(times) and right[n] and inside[n]], dtype=int)
    good = np.array([np.abs(song.ones - times[n]).min() < NEAR_S for n in ones], dtype=bool)
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


def left_out(lines: Sequence[Rows], more: Sequence[Rows]) -> float:
    """Calibration error of bar lines of recorded songs, each with a curve that did not know it."""
    told, right = [], []
    for number, (signs, good) in enumerate(more):
        others = [song for n, song in enumerate(more) if n != number]
        told += probable(signs, fit([*lines, *(RECORDED * others)]).tolist()).tolist()
        right += good.tolist()
    return calibration(told, right)


def main(arguments: Sequence[str]) -> None:
    """Prints the curves."""
    cache = Path(arguments[arguments.index("--cache") + 1]) if "--cache" in arguments else None
    rows, more = [judged(song) for song in grooves(cache)], [judged(song)[1] for song in recorded(cache)]
    lines = [lines for _, lines in rows]
    print("beats:", np.round(fit([beats for beats, _ in rows]), 2).tolist())
    print(
        "bar lines:",
        np.round(fit([*lines, *(RECORDED * more)]), 2).tolist(),
        f"error left out {left_out(lines, more):.3f}",
    )


if __name__ == "__main__":
    main(sys.argv[1:])
