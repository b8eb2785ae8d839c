"""Teach the second hearing how likely a candidate stroke is true, and measure what it then promises.

    python -m training.calibrate songs PACK OUT --songs 90          render songs of held kits to pictures (CPU, slow)
    python -m training.calibrate fit OUT WEIGHTS SECOND.json        fit the judge of `fourlimb.listen.song_sounds`

The songs are rendered like training clips but 40 s long and from kits and performances that training never uses. A
candidate is
true when it is the one nearest to a true stroke of its sound, at most 30 ms away. The judge is a logistic regression
for each sound, shrunk towards the weights that all sounds share, because rare sounds have few examples. On real
records the judge fitted so far lost to the hand-set one that ships (RUNS.md): compare before replacing it.
"""

import argparse
import itertools
import json
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from fourlimb.listen.network import Answer, listen_in_windows, read_network
from fourlimb.listen.song_sounds import FEATURES, Candidates, Judge, Pulse, candidates
from training.plan import BEAT, DOWNBEAT, FRAMES_PER_S, Planner, Recipe, batch
from training.sounds import SOUNDS

SONG_S = 40.0
NEAR_S = 0.03
SHARED_RIDGE, OWN_RIDGE = 3.0, 60.0
"""Pull towards zero of the shared weights, and of each sound's own towards them (ours)."""

NEWTON_STEPS = 25
BALANCE_DB = (-1.5, 5.5)
Doubles = npt.NDArray[np.float64]


def main(argv: list[str] | None = None) -> None:
    """Render songs or fit."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = p.add_subparsers(dest="command", required=True)
    songs = commands.add_parser("songs")
    songs.add_argument("pack", type=Path)
    songs.add_argument("out", type=Path)
    songs.add_argument("--songs", type=int, default=90)
    fit_ = commands.add_parser("fit")
    fit_.add_argument("songs", type=Path)
    fit_.add_argument("weights", type=Path)
    fit_.add_argument("out", type=Path)
    a = p.parse_args(argv)
    if a.command == "songs":
        render_songs(a.pack, a.out, a.songs)
    else:
        a.out.write_text(json.dumps(fit(*examples(a.songs, a.weights)), indent=1) + "\n")


def render_songs(pack: Path, out: Path, count: int, seed: int = 77) -> None:
    """Write OUT/songNNN.npz: pictures (float16), hits as (frame, sound, level), beats and downbeats in seconds."""
    import torch

    from training.features import LogMel
    from training.train import Settings, prepare_rendering

    out.mkdir(parents=True, exist_ok=True)
    torch.manual_seed(seed)
    settings = Settings(seconds=SONG_S, variants=1, compiled=False)
    index, renderer = prepare_rendering(pack, settings, torch.device("cpu"))
    planner = Planner(index, SONG_S, held=True, recipe=Recipe(varispeed=0.1, drumless=0.08))
    rng = np.random.default_rng(seed)
    pictures = LogMel()
    for number in range(count):
        arrays = batch(planner, rng, 1)
        work = {k: torch.from_numpy(np.ascontiguousarray(v)) for k, v in arrays.items()}
        picture = pictures(renderer(work, 1.0, BALANCE_DB, 0.12).mix)[0].permute(1, 0, 2)
        frames, sounds = np.nonzero(arrays["hits"][0] == 255)
        np.savez_compressed(
            out / f"song{number:03d}.npz",
            picture=picture.numpy().astype(np.float16),
            frames=frames,
            sounds=sounds,
            unknown=np.packbits(arrays["known"][0] == 0, axis=0),
            beats=np.flatnonzero(arrays["pulse"][0, :, BEAT] == 255) / FRAMES_PER_S,
            downs=np.flatnonzero(arrays["pulse"][0, :, DOWNBEAT] == 255) / FRAMES_PER_S,
        )


def examples(folder: Path, weights: Path) -> tuple[Doubles, npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Features, sound numbers and truth of all candidates in all songs."""
    network = read_network(weights)
    features, sounds, true = [], [], []
    for path in sorted(folder.glob("song*.npz")):
        with np.load(path) as song:
            parts = list(listen_in_windows(network, [song["picture"].astype(np.float32)]))
            answer = Answer(*(np.concatenate(p) for p in zip(*parts, strict=True)))
            found = candidates(answer.hits, answer.levels, answer.pulse, _pulse(song))
            truth, unknown = label(found, song)
        features.append(found.features[~unknown])
        sounds.append(found.sounds[~unknown])
        true.append(truth[~unknown])
    return np.concatenate(features), np.concatenate(sounds), np.concatenate(true)


def label(found: Candidates, song: Any) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Which candidates are true strokes, and which lie where truth is unknown."""
    true = np.zeros(len(found.sounds), bool)
    hidden = np.unpackbits(song["unknown"], axis=0, count=len(song["picture"])).astype(bool)
    for sound in range(len(SOUNDS)):
        mine = np.flatnonzero(found.sounds == sound)
        if not len(mine):
            continue
        for t in song["frames"][song["sounds"] == sound] / FRAMES_PER_S:
            off = np.abs(found.times_s[mine] - t) + np.where(true[mine], 9.0, 0.0)
            best = int(off.argmin())
            if off[best] <= NEAR_S:
                true[mine[best]] = True
    return true, hidden[found.frames, found.sounds] & ~true


def _pulse(song: Any) -> Pulse:
    per_bar = round(len(song["beats"]) / max(len(song["downs"]), 1))
    return Pulse(song["beats"].astype(np.float64), max(per_bar, 2))


def fit(features: Doubles, sounds: npt.NDArray[np.int64], true: npt.NDArray[np.bool_]) -> dict[str, Any]:
    """The judge as plain data."""
    centre, spread = features.mean(0), features.std(0) + 1e-6
    x = np.concatenate([(features - centre) / spread, np.ones((len(features), 1))], axis=1)
    shared = _logistic(x, true, np.zeros(x.shape[1]), SHARED_RIDGE)
    own = np.stack([_logistic(x[sounds == k], true[sounds == k], shared, OWN_RIDGE) for k in range(len(SOUNDS))])
    data: dict[str, Any] = {
        "features": FEATURES, "weights": own[:, :-1], "bias": own[:, -1], "centre": centre, "spread": spread,
    }  # fmt: skip
    return {k: v if k == "features" else np.round(v, 4).tolist() for k, v in data.items()} | {
        "keep": [0.45] * len(SOUNDS)
    }


def _logistic(x: Doubles, true: npt.NDArray[np.bool_], towards: Doubles, ridge: float) -> Doubles:
    """Weights by Newton's method; `ridge` pulls them to `towards`."""
    w = towards.copy()
    for _ in range(NEWTON_STEPS if len(x) else 0):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        slope = x.T @ (p - true) + ridge * (w - towards)
        bend = (x * (p * (1 - p))[:, None]).T @ x + (ridge + 1e-6) * np.eye(x.shape[1])
        w = w - np.linalg.solve(bend, slope)
    return w


def reliability(judge: Judge, found: Candidates, true: npt.NDArray[np.bool_]) -> list[tuple[float, float, int]]:
    """Rows (promised, kept, count) for bins of the promised probability."""
    p = judge.probability(found)
    edges = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 1.0001])
    rows = []
    for low, high in itertools.pairwise(edges):
        inside = (p >= low) & (p < high)
        if inside.any():
            rows.append((float(p[inside].mean()), float(true[inside].mean()), int(inside.sum())))
    return rows


if __name__ == "__main__":
    main()
