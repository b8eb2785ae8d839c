"""What a song teaches itself: the first pass alone at its own best thresholds against everything that comes after it.

    python -m bench.second_pass [--cache FOLDER]

Steps: the network's curves with a threshold of each sound; where the song's own peaks of a sound part, and whether the
kit has it (`song_sounds`); what the song does at the same place of other bars (`habits`); bars that are the same music
(`repeats`). For each step the thresholds are those that are best for these very songs, which flatters every step alike;
below them the ears as they ship.
"""

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fourlimb.listen.ears import Heard
from fourlimb.listen.features import FRAMES_PER_S
from fourlimb.listen.network import Answer
from fourlimb.listen.places import place_hits
from fourlimb.listen.repeats import hear_again
from fourlimb.listen.song_sounds import Candidates, Judge
from fourlimb.listen.trained import NO_BEATS, NetworkEars
from fourlimb.model import SOUNDS, Grid, Hit, silent

from .cases import Case, cases, f_of, heard
from .groove import DATA
from .playing import KeptEars, hits_of

GRID = np.arange(-3.0, 3.01, 0.5)
ROUNDS = 2


@dataclass
class Song:
    """A recording as the network hears it, and its grid."""

    case: Case
    answer: Answer
    found: Candidates
    grid: Grid


def said(folder: str, ears: NetworkEars) -> Sequence[str]:
    """Lines for a folder of recordings: F of five families at every step, and each track's change over all of them."""
    every = list(cases(folder))
    answers = [ears.curves(case.audio, silent) for case in every]
    grids = [heard(case, ears).grid for case in every]
    judge, none = ears.judge, np.zeros(len(SOUNDS))
    lines: list[str] = []
    first = np.zeros((len(every), 3))
    for name, kind, beats in (
        ("curves with thresholds", replace(judge, habit=none, gate=none, own=none), False),
        ("and its own peaks", replace(judge, habit=none), False),
        ("and habits", judge, True),
    ):
        songs = [
            Song(case, answer, kind.candidates(answer.hits, answer.levels, ears.pulse(answer, case.audio) if beats else NO_BEATS), grid)
            for case, answer, grid in zip(every, answers, grids, strict=True)
        ]  # fmt: skip
        best = tuned(ears, kind, songs)
        counts = np.array([f_of(song.case.hits, hits_of(strokes(ears, best, song))) for song in songs])
        first = counts if name.startswith("curves") else first
        lines.append(f"{folder}, thresholds best for these songs: {name} F {_f(counts.sum(axis=0)):.3f}")
    again = np.array([f_of(song.case.hits, _again(strokes(ears, best, song), song)) for song in songs])
    shipped = np.array([f_of(case.hits, heard(case, ears).hits) for case in every])
    for name, counts in (("and repeats", again), ("all as it ships", shipped)):
        change = [_f(b) - _f(a) for a, b in zip(first, counts, strict=True)]
        lines.append(
            f"{folder}: {name} F {_f(counts.sum(axis=0)):.3f}, over curves alone "
            f"{_f(counts.sum(axis=0)) - _f(first.sum(axis=0)):+.3f}; by track "
            + " ".join(f"{c:+.3f}" for c in change)
        )
    return lines


def tuned(ears: NetworkEars, judge: Judge, songs: Sequence[Song]) -> Judge:
    """One threshold after another moved to where F is best, twice round; sounds that neither play nor are heard stay."""
    best = _whole(ears, judge, songs)
    for _ in range(ROUNDS):
        for sound in range(len(SOUNDS)):
            for value in GRID:
                keep = judge.keep.copy()
                keep[sound] = value
                other = replace(judge, keep=keep)
                f = _whole(ears, other, songs)
                if f > best + 1e-9:
                    best, judge = f, other
    return judge


def strokes(ears: NetworkEars, judge: Judge, song: Song) -> Heard:
    """What the ears hear under this judge."""
    kept = NetworkEars(ears.network, judge).among(song.found)[0]
    beat, downbeat, change, present = song.answer.pulse.T
    return Heard(kept, float(FRAMES_PER_S), beat, downbeat, change, present, song.answer.hits)


def _again(told: Heard, song: Song) -> tuple[Hit, ...]:
    """After bars alike taught each other."""
    return hear_again(song.grid, place_hits(song.grid, hits_of(told)), told)


def _whole(ears: NetworkEars, judge: Judge, songs: Sequence[Song]) -> float:
    return _f(np.sum([f_of(song.case.hits, hits_of(strokes(ears, judge, song))) for song in songs], axis=0))


def _f(counts: np.ndarray) -> float:
    return float(2 * counts[0] / max(counts[1] + counts[2], 1))


def main(arguments: Sequence[str]) -> None:
    """Prints the table."""
    if not Path(DATA).exists():
        print(f"no data at {DATA}: nothing to measure")
        return
    cache = Path(arguments[arguments.index("--cache") + 1]) if "--cache" in arguments else None
    for folder in ("recordings", "rendered"):
        for line in said(folder, KeptEars(folder=cache)):
            print(line, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
