"""What a song teaches itself: the first pass alone at its own best thresholds against everything that comes after it.

    python -m bench.second_pass [--cache FOLDER]

Steps: the network's curves with a threshold of each sound; where the song's own peaks of a sound part, and whether the
kit has it (`song_sounds`); what the song does at the same place of other bars (`habits`); bars that are the same music
(`repeats`). At each step the thresholds are those that are best for these very songs, which flatters it, and those that
are best for the other folder's songs; at the end the ears as they ship.
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fourlimb.listen.ears import Heard
from fourlimb.listen.features import FRAMES_PER_S
from fourlimb.listen.habits import Pulse
from fourlimb.listen.network import Answer
from fourlimb.listen.places import place_hits
from fourlimb.listen.repeats import hear_again
from fourlimb.listen.song_sounds import Candidates, Judge
from fourlimb.listen.trained import NO_BEATS, NetworkEars
from fourlimb.model import SOUNDS, Grid, Hit, silent

from .cases import Case, cases, f_of, heard
from .groove import DATA
from .playing import KeptEars, hits_of

LAST = "and habits"
FOLDERS = ("recordings", "rendered")
GRID = np.arange(-3.0, 3.01, 0.5)
ROUNDS = 2


@dataclass
class Song:
    """A recording as the network hears it, its beats and its grid."""

    case: Case
    answer: Answer
    beats: Pulse
    grid: Grid

    def judged(self, judge: Judge, step: str) -> "Judged":
        """All that may be a stroke under a judge; only the last step knows beats."""
        beats = self.beats if step == LAST else NO_BEATS
        return Judged(self, judge.candidates(self.answer.hits, self.answer.levels, beats))


@dataclass
class Judged:
    """A song and all that may be a stroke in it."""

    song: Song
    found: Candidates


def said(ears: NetworkEars) -> Iterator[str]:
    """Lines for recordings and rendered songs: F of five families at every step, and each track's change over all."""
    heard_once = {folder: _heard_once(ears, folder) for folder in FOLDERS}
    firsts: dict[str, np.ndarray] = {}
    firsts_foreign: dict[str, np.ndarray] = {}
    for name, judge in steps(ears.judge).items():
        songs = {f: [one.judged(judge, name) for one in heard_once[f]] for f in FOLDERS}
        best = {f: tuned(ears, judge, songs[f]) for f in FOLDERS}
        for folder, other in zip(FOLDERS, reversed(FOLDERS), strict=True):
            own = _counts(ears, best[folder], songs[folder])
            firsts.setdefault(folder, own)
            foreign = _counts(ears, best[other], songs[folder])
            firsts_foreign.setdefault(folder, foreign)
            yield f"{folder}: {name} F {_f(own)}; thresholds best for {other} F {_f(foreign)}"
        if name == LAST:
            for folder, other in zip(FOLDERS, reversed(FOLDERS), strict=True):
                own = _counts(ears, best[folder], songs[folder], again=True)
                foreign = _counts(ears, best[other], songs[folder], again=True)
                yield (
                    f"{folder}: and repeats F {_f(own)}; thresholds best for {other} F {_f(foreign)}; "
                    f"by track over curves alone {_change(firsts[folder], own)}; at thresholds best for {other} "
                    f"{_change(firsts_foreign[folder], foreign)}"
                )
    for folder in FOLDERS:
        shipped = np.array([f_of(one.case.hits, heard(one.case, ears).hits) for one in heard_once[folder]])
        yield f"{folder}: all as it ships F {_f(shipped)}; by track over curves alone {_change(firsts[folder], shipped)}"


def steps(judge: Judge) -> dict[str, Judge]:
    """The judge with more and more of what a song teaches."""
    none = np.zeros(len(SOUNDS))
    return {
        "curves with thresholds": replace(judge, habit=none, gate=none, own=none),
        "and its own peaks": replace(judge, habit=none),
        LAST: judge,
    }


def _heard_once(ears: NetworkEars, folder: str) -> list[Song]:
    found = []
    for case in cases(folder):
        answer = ears.curves(case.audio, silent)
        found.append(Song(case, answer, ears.pulse(answer, case.audio), heard(case, ears).grid))
    return found


def _counts(ears: NetworkEars, judge: Judge, songs: Sequence[Judged], *, again: bool = False) -> np.ndarray:
    told = [(song, strokes(ears, judge, song)) for song in songs]
    return np.array([f_of(s.song.case.hits, _again(t, s.song) if again else hits_of(t)) for s, t in told])


def _change(before: np.ndarray, after: np.ndarray) -> str:
    return " ".join(f"{_share(b) - _share(a):+.3f}" for a, b in zip(before, after, strict=True))


def _f(counts: np.ndarray) -> str:
    return f"{_share(counts.sum(axis=0)):.3f}"


def _share(counts: np.ndarray) -> float:
    return float(2 * counts[0] / max(counts[1] + counts[2], 1))


def tuned(ears: NetworkEars, judge: Judge, songs: Sequence[Judged]) -> Judge:
    """One threshold after another moved to where F is best, twice round."""

    def whole(one: Judge) -> float:
        return _share(_counts(ears, one, songs).sum(axis=0))

    best = whole(judge)
    for _ in range(ROUNDS):
        for sound in range(len(SOUNDS)):
            for value in GRID:
                keep = judge.keep.copy()
                keep[sound] = value
                other = replace(judge, keep=keep)
                f = whole(other)
                if f > best + 1e-9:
                    best, judge = f, other
    return judge


def strokes(ears: NetworkEars, judge: Judge, song: Judged) -> Heard:
    """What the ears hear under this judge."""
    kept = NetworkEars(ears.network, judge).among(song.found)[0]
    beat, downbeat, change, present = song.song.answer.pulse.T
    return Heard(kept, float(FRAMES_PER_S), beat, downbeat, change, present, song.song.answer.hits)


def _again(told: Heard, song: Song) -> tuple[Hit, ...]:
    """After bars alike taught each other."""
    return hear_again(song.grid, place_hits(song.grid, hits_of(told)), told)


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cache", type=Path, help="folder that keeps what the ears hear")
    cache = parser.parse_args().cache
    if not Path(DATA).exists():
        print(f"no data at {DATA}: nothing to measure")
        return
    for line in said(KeptEars(folder=cache)):
        print(line, flush=True)


if __name__ == "__main__":
    main()
