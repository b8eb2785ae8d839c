"""How the curves of a tom differ from those of a snare, by the take's own snares.

    python -m bench.instead [--performances 36] [--data ../shared/data/groove] [--recordings DATA]

Performances of the learning half of the Groove set with toms in them, played on the kit that ships and recorded near,
across a room and by telephone (`bench.unheard`): the contrast (`mark/instead.py`) of their snares and of their toms
with the performance's own snares, the likelihood ratio of the two (logistic, both alike), and how often the tom that
rises most is the one that was struck. With `--recordings`, the same of real drums (`recordings/` of DATA), which are
looked at and not fitted to.
"""

import argparse
import json
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import NamedTuple

import numpy as np

from fourlimb.listen import heights as heights_of
from fourlimb.listen import read_audio
from fourlimb.listen.trained import NetworkEars
from fourlimb.mark.instead import DRUMS, REFERENCES_LEAST, SOFT, contrasts
from fourlimb.mark.unheard import Heights, log_odds
from fourlimb.model import Hit, silent

from .groove import DATA, performances
from .playing import played
from .spoiled import ROOMS
from .unheard import SOFT_DB, hear

SECONDS = 25.0
ALONE_S = 0.06
"""Drums closer than this are struck together and tell nothing."""
HEARD = 0.5
"""Height of its curve from which a snare is one that ears hear."""
RIDGE = 0.002
"""Weight of a slope's square: where two kinds hardly overlap their ratio has no slope of its own."""


class Row(NamedTuple):
    """A stroke on a drum: which, its contrast, and the tom that rises most."""

    where: str
    drum: str
    contrast: float
    tom: str


def rows(where: str, struck: Sequence[tuple[float, str]], heights: Heights) -> Iterator[Row]:
    """Every stroke that is alone; `struck`: (second, drum), hard ones only, in order of time."""
    alone = [
        (at, drum)
        for at, drum in struck
        if not any(other != drum and abs(when - at) < ALONE_S for when, other in struck)
    ]
    if not alone:
        return
    curves = np.array([[log_odds(heights(drum, at)) for drum in DRUMS] for at, _ in alone])
    own = np.array([drum == "snare" for _, drum in alone]) & (curves[:, 0] > log_odds(HEARD))
    if own.sum() >= REFERENCES_LEAST:
        for (_, drum), (contrast, tom) in zip(alone, contrasts(curves, own), strict=True):
            yield Row(where, drum, contrast, DRUMS[1 + tom])


def played_on_the_kit(count: int, root: Path) -> Iterator[Row]:
    """Performances of the learning half that hold toms, in each room in turn."""
    songs = (song for one in islice(performances(judging=False, root=root), 0, None, 4) if (song := played(one)))
    with_toms = (song for song in songs if any(_is_tom(hit) and hit.time_s < SECONDS for hit in song.hits))
    for number, song in enumerate(islice(with_toms, count)):
        ends = min(song.ends_s, SECONDS)
        heights = heights_of(hear(song.hits, ends, number))
        hard = [
            (hit.time_s, hit.sound)
            for hit in song.hits
            if hit.sound in DRUMS and hit.loudness_db >= SOFT_DB and 0.2 < hit.time_s < ends - 0.5
        ]
        if heights is not None:
            yield from rows(ROOMS[number % 3], hard, heights)


def _is_tom(hit: Hit) -> bool:
    return hit.sound in DRUMS and hit.sound != "snare"


def recorded(root: Path) -> Iterator[Row]:
    """Real drums without a band."""
    for file in sorted((root / "recordings" / "truth").glob("*.json")):
        heights = heights_of(
            NetworkEars().hear(read_audio(root / "recordings" / "drums" / f"{file.stem}.flac"), silent)
        )
        hits = json.loads(file.read_text("utf-8"))["hits"]
        hard = [
            (hit["time_s"], hit["sound"])
            for hit in hits
            if hit["sound"] in DRUMS and hit.get("velocity", 127) >= SOFT
        ]
        if heights is not None:
            yield from rows("recorded", hard, heights)


def fit(found: Sequence[Row]) -> tuple[float, float]:
    """Log-likelihood ratio of a tom against a snare, a + b contrast, two classes alike."""
    x = np.array([row.contrast for row in found])
    y = np.array([row.drum != "snare" for row in found])
    weight = np.where(y, 0.5 / y.sum(), 0.5 / (~y).sum())
    table, line = np.stack([np.ones(len(x)), x], axis=1), np.zeros(2)
    for _ in range(100):
        p = 1 / (1 + np.exp(-table @ line))
        curve = (table * (weight * p * (1 - p))[:, None]).T @ table + np.diag([1e-9, RIDGE])
        line += np.linalg.solve(curve, table.T @ (weight * (y - p)) - np.array([0.0, RIDGE]) * line)
    return float(line[0]), float(line[1])


def show(where: str, found: Sequence[Row]) -> None:
    """One line for snares, one for toms."""
    for name, of in (("snares", _snare), ("toms", _tom)):
        some = [row for row in found if of(row)]
        if some:
            low, middle, high = np.quantile([row.contrast for row in some], [0.01, 0.5, 0.99])
            named = np.mean([row.tom == row.drum for row in some])
            said = f" | {named:.2f} |" if of is _tom else " | - |"
            print(f"| {where} | {name} | {len(some)} | {low:.1f}, {middle:.1f}, {high:.1f}{said}")


def _snare(row: Row) -> bool:
    return row.drum == "snare"


def _tom(row: Row) -> bool:
    return row.drum != "snare"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--performances", type=int, default=36)
    parser.add_argument("--data", type=Path, default=DATA / "groove")
    parser.add_argument("--recordings", type=Path)
    asked = parser.parse_args()
    found = list(played_on_the_kit(asked.performances, asked.data))
    print("| where | struck | strokes | contrast: 1, 50, 99 % | rises most, of toms |\n|---|---|---|---|---|")
    for room in ROOMS:
        show(room, [row for row in found if row.where == room])
    if asked.recordings:
        show("recorded", list(recorded(asked.recordings)))
    even, slope = fit(found)
    print(f"\nlog-likelihood ratio of a tom, a + b contrast: {even:.2f} + {slope:.2f}")


if __name__ == "__main__":
    main()
