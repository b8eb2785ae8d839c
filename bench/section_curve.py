"""Fits the curve of `fourlimb/listen/section_trust.py`, and measures the confidence of sections.

    python -m bench.section_curve

Songs of known form (`made_songs.song_of`, sections of 4 to 12 bars, strokes misheard) of the learning half of the Groove
set teach; `bench.bars` measures on the judging half.
"""

import argparse
from collections.abc import Iterator, Sequence

import numpy as np
from scipy.optimize import minimize

from fourlimb.listen import place_hits
from fourlimb.listen.alike import bar_vectors
from fourlimb.listen.form import form
from fourlimb.listen.section_trust import SIGNS, signs
from fourlimb.model import Section

from .groove import Performance, performances
from .made_songs import MadeSong, misheard, song_of

SECTION_BARS = (8, 4, 12, 8, 6)
SONGS = 120


def formed(grooves: Sequence[Performance], count: int) -> Iterator[tuple[MadeSong, tuple[Section, ...], np.ndarray]]:
    """Made songs, their sections as found, and their bar vectors."""
    long = [g for g in grooves if g.meter == "4/4" and len(g.grid.bars) >= 16]
    for seed in range(count):
        song = song_of(long, seed, bars=SECTION_BARS[seed % len(SECTION_BARS)])
        hits = place_hits(song.grid, misheard(song.hits, seed))
        yield song, form(song.grid, hits)[0], bar_vectors(song.grid, hits)


def is_right(song: MadeSong, section: Section) -> bool:
    """Both ends within one bar of true ones."""
    edges = np.array([*song.starts, len(song.grid.bars) + 1])
    return bool(np.abs(edges - section.from_bar).min() <= 1 and np.abs(edges - section.to_bar - 1).min() <= 1)


def told_and_right(grooves: Sequence[Performance], count: int) -> tuple[list[float], list[bool]]:
    """Confidence of every section of made songs, and whether it is right."""
    pairs = [
        (float(str(section.extra["confidence"])), is_right(song, section))
        for song, found, _ in formed(grooves, count)
        for section in found
    ]
    return [told for told, _ in pairs], [right for _, right in pairs]


def main() -> None:
    """Prints the weights."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    rows, right = [], []
    for song, found, vectors in formed(list(performances(judging=False)), SONGS):
        edges = [song.grid.numbers.index(s.from_bar) for s in found] + [len(vectors)]
        rows.append(signs(vectors, edges))
        right += [is_right(song, section) for section in found]
    x, y = np.concatenate(rows), np.array(right, float)

    def loss(weights: np.ndarray) -> float:
        odds = x @ weights
        return float((np.logaddexp(0, odds) - y * odds).sum() + 0.5 * (weights[:-1] ** 2).sum() / 9)

    found_weights = minimize(loss, np.zeros(len(SIGNS))).x
    print(f"{len(y)} sections, right {y.mean():.3f}")
    print("(" + ", ".join(f"{w:.2f}" for w in found_weights) + ")  # " + ", ".join(SIGNS))


if __name__ == "__main__":
    main()
