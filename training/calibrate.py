"""Set the second hearing: from which odds a candidate is a stroke, and what share of such candidates is right.

    python -m training.calibrate songs PACK SONGS --songs 90        render songs of held kits (CPU, slow)
    python -m training.calibrate fit DATA SONGS WEIGHTS SECOND.json

The songs are rendered like training clips but 40 s long and from kits and performances that training never uses.
Thresholds are those with the best F over the open recordings (mixes and drums alone) and the rendered songs together,
each kind counting alike whatever its number of strokes; a sound that the recordings hardly have is set by the songs.
(Thresholds from rendered songs alone cost a point and a half on records; from six records alone they are chance.)
Confidence is one logistic curve for all sounds, moved up or down for each by what its own candidates say (Platt 2000,
with a prior: few examples move it little). On recordings and songs alike, a candidate is true when it is the one
nearest to a true stroke of its sound, at most 50 ms (records, whose truth is set by hand) or 30 ms away.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from bench.scoring import load_scorer, truths

from fourlimb.listen.network import read_network
from fourlimb.listen.song_sounds import Candidates, Judge, write_judge
from fourlimb.listen.trained import NetworkEars
from fourlimb.model import SOUNDS, Audio, silent
from training.material import RATE_HZ
from training.plan import FRAMES_PER_S, Planner, Recipe, batch

SONG_S = 40.0
BALANCE_DB = (-2.5, 5.5)
SONGS_RECIPE = Recipe(varispeed=0.1, drumless=0.08)
NEAR_S = {"mix": 0.05, "drums": 0.05, "songs": 0.03}
SHARES = {"mix": 1.0, "drums": 0.3, "songs": 0.15}
"""How much each kind counts (ours: mixes are what a teacher brings)."""

EVEN = {
    "kick": 0.7, "snare": 0.5, "rim": 1.4, "hat_closed": -0.2, "hat_open": 1.0, "crash": 0.3, "ride": 0.8,
    "hat_pedal": 1.0, "tom_high": 1.0, "tom_mid": 0.5, "tom_floor": 0.3, "ride_bell": 0.7, "china": 0.7,
    "splash": 0.7, "clap": 1.3, "cowbell": 1.5, "tambourine": 1.0, "shaker": 1.0,
}  # fmt: skip
"""Log-odds of an even chance: for sounds that the open recordings have often, the thresholds with the best F there
without habits, one sound after another; for the others a guess (ours) that the threshold below puts right."""

SET_BY_HAND = {
    "kick": 0.5, "snare": -1.7, "rim": -1.0, "hat_closed": -0.75, "hat_open": -0.7, "crash": 0.0, "ride": 0.15,
}  # fmt: skip
"""Thresholds with the best F on the open recordings, one sound after another in steps of .15 (mixes .954, .953, .938,
.934; by `threshold` alone .952, .951, .937, .932); the snare's lies .2 lower, for soft strokes."""

RARE, LEAST_RARE = 12, 0.0
"""Sounds with fewer true strokes than this in the recordings count from even odds, never from less."""

SONGS_AS_STROKES = 60.0
"""The songs count as at most this many true strokes of a sound, before their share."""

HABITUAL = ("kick", "snare", "rim", "hat_closed", "hat_open", "hat_pedal", "ride", "ride_bell")
HABIT = 0.2
RISE = {"ride": 0.6, "crash": 0.4}
"""Set on songs of held kits (ride .339 to .349, crash .620 to .631 there) and the recordings, which hardly change."""
UNGATED = ("kick", "snare", "rim", "hat_closed", "crash")
GATE, CLEAR, OWN = 2.0, 0.8, 0.8
"""Weights of the second look (see `fourlimb.listen.song_sounds`), set on the open recordings (docs/ears.md)."""

SNARE_OWN, SNARE_HABIT = 0.3, 0.3
"""Soft snares lie between strokes and rest, where the song's own split would cut them off; without any split a snare
that a poor file has dulled is lost (F of 48 kbit/s files .888 against .903, snares under velocity 40 .705 against
.696, for -.3 and .4 against these)."""

GRID = np.linspace(-3.5, 2.5, 61)
SMOOTH = 9
"""Thresholds are taken from F averaged over this many steps of .1, so that one stroke doesn't set them."""

LONGEST_STEP = 0.5
"""Newton's steps are cut to this: with few examples, full ones run away."""

OWN_RIDGE = 4.0
"""Pull of a sound's own curve to the one that all share (ours)."""

Doubles = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Example:
    """A recording's candidates, which of them are true, and how many true strokes each sound has."""

    kind: str
    found: Candidates
    true: npt.NDArray[np.bool_]
    strokes: npt.NDArray[np.int64]


def main(argv: list[str] | None = None) -> None:
    """Render songs or fit."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = p.add_subparsers(dest="command", required=True)
    songs = commands.add_parser("songs")
    songs.add_argument("pack", type=Path)
    songs.add_argument("out", type=Path)
    songs.add_argument("--songs", type=int, default=90)
    fit_ = commands.add_parser("fit")
    for name in ("data", "songs", "weights", "out"):
        fit_.add_argument(name, type=Path)
    a = p.parse_args(argv)
    if a.command == "songs":
        render_songs(a.pack, a.out, a.songs)
    else:
        a.out.write_text(write_judge(fit(examples(a.data, a.songs, a.weights))))


def render_songs(
    pack: Path, out: Path, count: int, *, seed: int = 77, recipe: Recipe = SONGS_RECIPE,
    alone: float = 0.15, played: Callable[[Planner], None] | None = None,
) -> None:  # fmt: skip
    """Write OUT/songNNN.flac and .npz: true strokes as (time, sound), and where truth is not known.

    played : gives the planner other performances than those held from training.
    """
    missing = [n for n in range(count) if not (out / f"song{n:03d}.npz").exists()]
    if not missing:
        return
    import soundfile
    import torch

    from training.train import Settings, prepare_rendering

    out.mkdir(parents=True, exist_ok=True)
    settings = Settings(seconds=SONG_S, variants=1, compiled=False)
    index, renderer = prepare_rendering(pack, settings, torch.device("cpu"))
    planner = Planner(index, SONG_S, held=True, recipe=recipe)
    if played:
        played(planner)
    for number in missing:
        path = out / f"song{number:03d}.npz"
        torch.manual_seed(seed + number)
        arrays = batch(planner, np.random.default_rng([seed, number]), 1)
        work = {k: torch.from_numpy(np.ascontiguousarray(v)) for k, v in arrays.items()}
        mix = renderer(work, 1.0, BALANCE_DB, alone).mix[0].numpy()
        soundfile.write(path.with_suffix(".flac"), 0.7 * mix / max(float(np.abs(mix).max()), 1e-6), RATE_HZ)
        frames, sounds = np.nonzero(arrays["hits"][0] == 255)
        unknown = np.packbits(arrays["known"][0] == 0, axis=0)
        np.savez_compressed(path, times_s=frames / FRAMES_PER_S, sounds=sounds, unknown=unknown)


def blank() -> Judge:
    """The second look without thresholds or confidence."""
    columns = {
        "gate": [GATE * (s not in UNGATED) for s in SOUNDS],
        "clear": [CLEAR] * len(SOUNDS),
        "own": [SNARE_OWN if s == "snare" else OWN for s in SOUNDS],
        "even": [EVEN[s] for s in SOUNDS],
        "habit": [SNARE_HABIT if s == "snare" else HABIT * (s in HABITUAL) for s in SOUNDS],
        "rise": [RISE.get(s, 0.0) for s in SOUNDS],
        "slope": [1.0] * len(SOUNDS),
    }
    rest = np.zeros(len(SOUNDS))
    return Judge(**{f: np.array(columns.get(f, rest), np.float64) for f in Judge.__annotations__})


def examples(data: Path, songs: Path, weights: Path) -> list[Example]:
    """Everything that is fitted on."""
    ears = NetworkEars(read_network(weights), blank())
    load_scorer(data)
    found = []
    for name, truth in truths(data / "recordings" / "truth").items():
        strokes = [(h["time_s"], SOUNDS.index(h["sound"])) for h in truth["hits"]]
        times, sounds = (np.array(column) for column in zip(*strokes, strict=True))
        for kind in ("mix", "drums"):
            heard = _candidates(ears, data / "recordings" / kind / f"{name}.flac")
            found.append(example(kind, heard, times, sounds))
    for path in sorted(songs.glob("song*.npz")):
        with np.load(path) as song:
            heard = _candidates(ears, path.with_suffix(".flac"))
            hidden = np.unpackbits(song["unknown"], axis=0, count=int(SONG_S * FRAMES_PER_S)).astype(bool)
            found.append(example("songs", heard, song["times_s"], song["sounds"], hidden))
    return found


def _candidates(ears: NetworkEars, path: Path) -> Candidates:
    import soundfile

    audio = Audio(*soundfile.read(path, dtype="float32", always_2d=True))
    answer = ears.curves(audio, silent)
    return ears.judge.candidates(answer.hits, answer.levels, ears.pulse(answer, audio))


def example(
    kind: str, found: Candidates, times_s: Doubles, sounds: npt.NDArray[np.int64],
    hidden: npt.NDArray[np.bool_] | None = None,
) -> Example:  # fmt: skip
    """Match candidates to true strokes, surest first; candidates where truth is not known are left out."""
    true = np.zeros(len(found.sounds), bool)
    for sound in range(len(SOUNDS)):
        mine = np.flatnonzero(found.sounds == sound)
        left = np.sort(times_s[sounds == sound])
        for i in mine[np.argsort(-found.odds[mine], kind="stable")]:
            off = np.abs(left - found.times_s[i])
            if len(off) and off.min() <= NEAR_S[kind]:
                true[i] = True
                left = np.delete(left, int(off.argmin()))
    if hidden is not None:
        keep = ~hidden[np.minimum(found.frames, len(hidden) - 1), found.sounds] | true
        found, true = Candidates(*(column[keep] for column in found)), true[keep]
    return Example(kind, found, true, np.bincount(sounds.astype(np.int64), minlength=len(SOUNDS)))


def fit(given: list[Example]) -> Judge:
    """Thresholds, then the curve of confidence."""
    keep = np.array([SET_BY_HAND.get(s, threshold(given, k)) for k, s in enumerate(SOUNDS)])
    known = np.sum([g.strokes for g in given if g.kind == "mix"], axis=0)
    keep = np.where(
        known < RARE, np.where(np.isin(SOUNDS, list(SET_BY_HAND)), keep, np.maximum(keep, LEAST_RARE)), keep
    )
    judge = replace(blank(), keep=keep)
    slope, offset = confidence(given, judge)
    return replace(judge, slope=slope, offset=offset)


def threshold(given: list[Example], sound: int) -> float:
    """Log-odds with the best F of one sound, the kinds weighed by `SHARES`."""
    right, said, true = (np.zeros(len(GRID)) for _ in range(3))
    for kind, share in SHARES.items():
        mine = [g for g in given if g.kind == kind]
        strokes = float(sum(g.strokes[sound] for g in mine))
        scale = share * (min(1.0, SONGS_AS_STROKES / max(strokes, 1.0)) if kind == "songs" else 1.0)
        for g in mine:
            of_sound = g.found.sounds == sound
            odds, hit = g.found.odds[of_sound], g.true[of_sound]
            right += scale * (odds[None] >= GRID[:, None])[:, hit].sum(1)
            said += scale * (odds[None] >= GRID[:, None]).sum(1)
        true += scale * strokes
    f = np.pad(2 * right / np.maximum(said + true, 1e-9), SMOOTH // 2, mode="edge")
    return float(GRID[int(np.convolve(f, np.ones(SMOOTH) / SMOOTH, "valid").argmax())])


def confidence(given: list[Example], judge: Judge) -> tuple[Doubles, Doubles]:
    """Slope and offset of each sound's curve, fitted to candidates that are strokes by the threshold."""
    kept = [(judge.margin(g.found), g) for g in given]
    margin = np.concatenate([(m - g.found.risen)[m >= 0] for m, g in kept])
    true = np.concatenate([g.true[m >= 0] for m, g in kept]).astype(np.float64)
    sounds = np.concatenate([g.found.sounds[m >= 0] for m, g in kept])
    weight = np.concatenate([np.full((m >= 0).sum(), SHARES[g.kind]) for m, g in kept])
    shared = _logistic(margin, true, weight, np.array([0.7, 0.0]), np.array([1.0, 1.0]))
    rows = [
        _logistic(margin[sounds == k], true[sounds == k], weight[sounds == k], shared, np.full(2, OWN_RIDGE))
        for k in range(len(SOUNDS))
    ]
    slope, offset = np.array(rows).T
    return np.maximum(slope, 0.1), offset


def _logistic(x: Doubles, true: Doubles, weight: Doubles, towards: Doubles, ridge: Doubles) -> Doubles:
    """Slope and offset by Newton's method; `ridge` pulls them to `towards`."""
    columns, w = np.stack([x, np.ones_like(x)], 1), towards.copy()
    for _ in range(60):
        p = 1 / (1 + np.exp(-np.clip(columns @ w, -30, 30)))
        slope = columns.T @ (weight * (p - true)) + ridge * (w - towards)
        bend = (columns * (weight * p * (1 - p))[:, None]).T @ columns + np.diag(ridge)
        w = w - np.clip(np.linalg.solve(bend, slope), -LONGEST_STEP, LONGEST_STEP)
    return w


if __name__ == "__main__":
    main()
