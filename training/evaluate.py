"""Judge a weight file on the open recordings, to choose between runs. Needs no GPU and no PyTorch.

    python -m training.evaluate DATA WEIGHTS [WEIGHTS ...]

Thresholds are set per sound on the mixes of the open recordings, so figures are for comparing runs with each other,
not for
quoting (`bench/listen.py` is for that). The rendered songs are printed too, but never decide: a rendered test rewards
the wrong network.
"""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from bench.scoring import counts, groups, load_scorer, micro, truths

from fourlimb.listen.network import Answer, Network, read_network
from fourlimb.listen.peaks import all_peaks
from fourlimb.listen.speeds import hear_twice
from fourlimb.model import SOUNDS, Audio, silent

GRID = np.concatenate([np.arange(0.05, 0.3, 0.03), np.arange(0.3, 0.95, 0.05)])
FEW = 6
"""A sound with fewer true strokes keeps the default threshold."""

DEFAULT = 0.5
Rows = list[dict[str, Any]]


def main(argv: list[str] | None = None) -> None:
    """Print one block a weight file."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("data", type=Path)
    p.add_argument("weights", type=Path, nargs="+")
    a = p.parse_args(argv)
    scorer = load_scorer(a.data)
    real, rendered = truths(a.data / "recordings" / "truth"), truths(a.data / "rendered")
    for path in a.weights:
        network = read_network(path)
        print(f"== {path} ({network.name})")
        mixes = {t: answer(network, a.data / "recordings" / "mix" / f"{t}.flac") for t in real}
        found = {t: candidates(x) for t, x in mixes.items()}
        thresholds = tune(scorer, real, found)
        print("thresholds " + "  ".join(f"{s} {thresholds[s]:.2f}" for s in SOUNDS))
        show(scorer, "mix", real, found, thresholds, each=True)
        drums = {t: candidates(answer(network, a.data / "recordings" / "drums" / f"{t}.flac")) for t in real}
        show(scorer, "drums", real, drums, thresholds)
        songs = {t: candidates(answer(network, a.data / "rendered" / f"{t}.flac")) for t in rendered}
        show(scorer, "rendered", rendered, songs, thresholds)


def answer(network: Network, path: Path) -> Answer:
    """The network's curves for one file, heard at both speeds; no second look."""
    import soundfile

    return hear_twice(network, Audio(*soundfile.read(path, dtype="float32", always_2d=True)), silent)


def candidates(found: Answer) -> Rows:
    """All peaks as rows: time_s, sound, height, level."""
    rows: Rows = []
    for sound, peaks in zip(SOUNDS, all_peaks(found.hits, found.levels), strict=True):
        for t, h, level in zip(peaks.times_s.tolist(), peaks.heights.tolist(), peaks.levels.tolist(), strict=True):
            rows.append({"time_s": t, "sound": sound, "height": h, "level": level})
    return rows


def tune(scorer: Any, truth: dict[str, Any], found: dict[str, Rows]) -> dict[str, float]:
    """Per sound, the threshold with the best F over all tracks."""
    best = {}
    for sound in SOUNDS:
        true = sum(h["sound"] == sound for t in truth.values() for h in t["hits"])
        scores = []
        for x in GRID if true >= FEW else []:
            rows = [
                counts(scorer, truth[t]["hits"], above(found[t], {sound: float(x)}), {sound: {sound}}) for t in truth
            ]
            scores.append(micro(rows))
        best[sound] = float(GRID[int(np.argmax(scores))]) if scores else DEFAULT
    return best


def above(rows: Rows, thresholds: dict[str, float]) -> Rows:
    """Rows of the named sounds that reach their threshold."""
    return [r for r in rows if r["sound"] in thresholds and r["height"] >= thresholds[r["sound"]]]


def show(
    scorer: Any,
    what: str,
    truth: dict[str, Any],
    found: dict[str, Rows],
    thresholds: dict[str, float],
    each: bool = False,
) -> None:
    """Print figures of one condition."""
    for name, classes in groups(scorer).items():
        rows = {t: counts(scorer, truth[t]["hits"], above(found[t], thresholds), classes) for t in truth}
        line = "  ".join(
            f"{c} {micro(list(rows.values()), {c}):.2f}({_true(list(rows.values()), c)})" for c in classes
        )
        print(f"{what:9s} {name:11s} {micro(list(rows.values())):.3f}   {line}")
        if each and name == "5 classes":
            print("          " + "  ".join(f"{t} {micro([r]):.3f}" for t, r in rows.items()))


def _true(rows: Sequence[dict[str, tuple[int, int, int]]], name: str) -> int:
    return sum(r[name][1] for r in rows)


if __name__ == "__main__":
    main()
