"""Sets what bars that are right teach: `fourlimb.listen.chances.Shift`, on songs of the learning half.

    python -m bench.shifts PACK SONGS [--songs 100] [--cache FOLDER]

PACK is made by `training.prepare`. Songs of 40 s are rendered like training clips from kits that training never uses and
performances of the learning half (needs torch, once; kept in SONGS), and made songs of the same half on the kit that ships
beside them. In each, bars are taken for known, those first in the list and others at random, and everything else is judged
again. One constant after another is moved; printed is every move that leaves fewer strokes wrong and is not less sure of
what is right, and the table at the end, to be copied by hand. A move within a hundredth is chance: take the calmer one.
`UNWRITTEN` alone is not moved: these songs' kits are misheard more alike than records are (docs/bars.md).
"""

import argparse
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from training.calibrate import render_songs
from training.material import Groove
from training.plan import Planner, Recipe
from training.sounds import INDEX

from fourlimb.listen.chances import GROUP, USUAL, Chances, Shift, chances, judged
from fourlimb.listen.taught import matched
from fourlimb.listen.worth import worth
from fourlimb.model import SOUNDS, Audio, Hit, Listening

from .cases import Case, heard
from .groove import performances
from .playing import KeptEars
from .taught import made_songs

VALUES = (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 4.0)
MOVED: dict[str, tuple[float, ...]] = {
    **dict.fromkeys(("everywhere", "beat", "place", "beside", "close", "loud", "likely", "written"), VALUES),
    "unlike": (0.15, 0.3, 0.5, 0.7), "beside_width": (0.25, 0.4, 0.6), "close_width": (0.25, 0.4, 0.6),
    "loud_width_db": (3.0, 4.0, 6.0), "likely_width": (0.5, 1.0, 2.0), "width_s": (0.025, 0.04),
}  # fmt: skip
GAIN = 0.003
DRAWS = 3
MADE = 8
MOST_WRONG = 0.5
"""Songs with more wrong strokes a true one teach nothing about songs that anybody would correct."""


@dataclass(frozen=True, eq=False)
class Song:
    """Rows of a song, which are strokes, and sets of bars that are taken for known."""

    rows: Chances
    true: np.ndarray
    known: tuple[np.ndarray, ...]

    @property
    def wrong(self) -> int:
        """Rows that are not as they are written."""
        return int((self.rows.struck != self.true).sum())


def learning_half(planner: Planner) -> None:
    """Performances of the learning half for a planner of songs."""
    planner.grooves, planner.fills = [], []
    for one in performances(judging=False, kind=None):
        rows = [(h.time_s * one.bpm / 60, INDEX[h.sound], 10 ** (h.loudness_db / 40)) for h in one.hits]
        numerator, denominator = map(int, one.meter.split("/"))
        fill = len(one.grid.bars) < 4
        groove = Groove(np.array(rows, np.float32), one.bpm, numerator, denominator, one.style, fill, False)
        if len(rows) >= 4:
            (planner.fills if fill else planner.grooves).append(groove)


def held_songs(folder: Path, count: int, cache: Path | None) -> Iterator[tuple[Case, Listening]]:
    """What the ears hear in the rendered songs, with their truth."""
    for path in sorted(folder.glob("song*.npz"))[:count]:
        audio = Audio(*soundfile.read(path.with_suffix(".flac"), dtype="float32", always_2d=True))
        with np.load(path) as stored:
            pairs = zip(stored["times_s"], stored["sounds"], strict=True)
            hits: list[dict[str, object]] = [{"time_s": float(t), "sound": SOUNDS[int(s)]} for t, s in pairs]
        case = Case(path.stem, audio, np.zeros(0), np.zeros(0), hits)
        yield case, heard(case, KeptEars(folder=cache))


def song(case: Case, found: Listening) -> Song | None:
    """None where too little is heard, or too much of it is wrong."""
    if len(found.grid.bars) < 6 or len(found.hits) < 30:
        return None
    rows = chances(found.grid, found.hits, found.possible)
    strokes = [
        Hit(id=n, time_s=float(str(h["time_s"])), sound=SOUNDS[[str(s) for s in SOUNDS].index(str(h["sound"]))],
            loudness_db=-10.0, confidence=1.0, by="teacher")
        for n, h in enumerate(case.hits)
    ]  # fmt: skip
    true = matched(rows, np.zeros(len(rows.odds), np.bool_), [h for h in strokes if h.sound in GROUP])[1]
    index = {bar.bar: n for n, bar in enumerate(found.grid.bars)}
    order = [index[bar] for bar, _ in worth(found.grid, found.hits, found.possible)]
    count = -(-len(order) // 10)
    rng = np.random.default_rng(zlib.crc32(case.name.encode()))
    drawn = [rng.choice(order[: max(len(order) // 2, count)], count, replace=False) for _ in range(DRAWS - 1)]
    made = Song(rows, true, (np.array(order[:count]), *drawn))
    return made if made.wrong < MOST_WRONG * max(int(true.sum()), 1) else None


def left(songs: Sequence[Song], by: Shift) -> np.ndarray:
    """Shares of the wrong rows: surprise (nats) and rows still wrong; songs count by the root of their wrong rows."""
    sums = np.zeros(3)
    for one in songs:
        weight = 1 / np.sqrt(one.wrong + 10)
        for bars in one.known:
            known = np.isin(one.rows.bar, bars)
            odds = judged(one.rows, known, one.true, by)
            now = np.where(
                odds > 0, (odds > one.rows.odds) | one.rows.struck, (odds >= one.rows.odds) & one.rows.struck
            )
            true, asked = one.true[~known], odds[~known]
            surprise = np.logaddexp(0, np.where(true, -asked, asked)).sum()
            sums += weight * np.array([surprise, (now[~known] != true).sum(), one.wrong])
    return sums[:2] / sums[2]


def moved(kinds: Sequence[Sequence[Song]]) -> Iterator[str]:
    """One constant after another, twice round; the kinds of songs count alike."""
    kept = USUAL
    first = np.array([left(songs, kept) for songs in kinds])
    best = float((first / first).mean())
    yield f"as it is: {np.round(first, 3).tolist()}"
    for _ in range(2):
        for name, values in MOVED.items():
            for value in values:
                tried = kept._replace(**{name: value})
                now = np.array([left(songs, tried) for songs in kinds])
                if float((now / first).mean()) < best - GAIN:
                    kept, best = tried, float((now / first).mean())
                    yield f"{name} {value}: {np.round(now, 3).tolist()}"
    yield "  ".join(f"{name} {getattr(kept, name)}" for name in MOVED)


def main() -> None:
    """Prints every move that is worth it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("pack", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--songs", type=int, default=100)
    parser.add_argument("--cache", type=Path)
    options = parser.parse_args()
    recipe = Recipe(performed=0.85, varispeed=0.1, drumless=0.0)
    render_songs(
        options.pack, options.folder, options.songs, seed=900, recipe=recipe, alone=0.1, played=learning_half
    )
    grooves = [g for g in performances(judging=False) if g.bpm >= 40]
    kinds = [
        [one for one in (song(*pair) for pair in pairs) if one is not None]
        for pairs in (
            held_songs(options.folder, options.songs, options.cache),
            made_songs(grooves, MADE, options.cache),
        )
    ]
    print(f"{len(kinds[0])} songs of held kits, {len(kinds[1])} made songs", flush=True)
    for line in moved(kinds):
        print(line, flush=True)


if __name__ == "__main__":
    main()
