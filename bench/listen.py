"""How well the ears hear: the table of docs/ears.md.

    python -m bench.listen DATA

DATA holds `recordings/` (mix, drums, truth), `rendered/` and `score_listen.py`, whose definitions are used.
Intervals are 90 %
bootstraps over tracks; with six tracks they are wide, and say so. The last lines give seconds a minute of sound, on
one
thread if OMP_NUM_THREADS=1 is set, beside `librosa.effects.hpss` on the same file.
"""

import argparse
import time
from pathlib import Path
from typing import Any

import numpy as np

from bench.scoring import bootstrap, counts, groups, load_scorer, micro, truths
from fourlimb.listen.trained import NetworkEars
from fourlimb.model import Audio, silent

ORIGINAL_MIXES = ("Reggae", "Zeppelin")
Rows = list[dict[str, Any]]


def main(argv: list[str] | None = None) -> None:
    """Print the table."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("data", type=Path)
    data = p.parse_args(argv).data
    if data.name == "recordings":  # the folder that holds them is meant
        data = data.parent
    if not (data / "score_listen.py").exists():
        p.error(f"{data} has no score_listen.py: give the folder with recordings/, rendered/ and the scorer")
    scorer = load_scorer(data)
    ears = NetworkEars()
    print(f"ears: {ears.name}")
    truth = truths(data / "recordings" / "truth")

    for name in ("mix", "drums"):
        found = {t: hear(ears, read(data / "recordings" / name / f"{t}.flac")) for t in truth}
        show(scorer, name, truth, found)
        show(scorer, f"{name}, original mixes", {t: truth[t] for t in ORIGINAL_MIXES}, found)
        reliability(truth, found)
    rendered = truths(data / "rendered")
    found = {t: hear(ears, read(data / "rendered" / f"{t}.flac")) for t in rendered}
    show(scorer, "rendered", rendered, found)
    soft_snares(rendered, found)
    drumless(ears, data / "accomp")
    speed(ears, read(data / "recordings" / "mix" / f"{next(iter(truth))}.flac"))


def read(path: Path) -> Audio:
    """A file as sound."""
    import soundfile

    return Audio(*soundfile.read(path, dtype="float32", always_2d=True))


def hear(ears: NetworkEars, audio: Audio) -> Rows:
    """Strokes as rows."""
    strokes = ears.hear(audio, silent).strokes
    return [{"time_s": s.time_s, "sound": s.sound, "confidence": s.confidence} for s in strokes]


def show(scorer: Any, what: str, truth: dict[str, Any], found: dict[str, Rows]) -> None:
    """Micro F of every group with its interval, and of each class."""
    for name, classes in groups(scorer).items():
        rows = [counts(scorer, truth[t]["hits"], found[t], classes) for t in truth]
        each = "  ".join(f"{c} {micro(rows, {c}):.2f}({sum(r[c][1] for r in rows)})" for c in classes)
        print(f"{what:24s} {name:11s} {bootstrap(rows, micro)}  {each}")


def reliability(truth: dict[str, Any], found: dict[str, Rows]) -> None:
    """Of strokes shown with a confidence, how many are right (same sound within 50 ms)."""
    pairs = []
    for t, rows in found.items():
        for r in rows:
            near = any(h["sound"] == r["sound"] and abs(h["time_s"] - r["time_s"]) <= 0.05 for h in truth[t]["hits"])
            pairs.append((r["confidence"], near))
    table = np.array(pairs)
    for low, high in ((0, 0.5), (0.5, 0.7), (0.7, 0.85), (0.85, 0.95), (0.95, 1.01)):
        inside = (table[:, 0] >= low) & (table[:, 0] < high)
        if inside.any():
            print(
                f"   confidence {low:.2f}-{min(high, 1):.2f}: {table[inside, 1].mean():.3f} right of {inside.sum()}"
            )


def soft_snares(truth: dict[str, Any], found: dict[str, Rows]) -> None:
    """Recall of snares softer than MIDI velocity 40."""
    soft = [
        (t, h["time_s"])
        for t, song in truth.items()
        for h in song["hits"]
        if h["sound"] == "snare" and h["velocity"] < 40
    ]
    heard = [any(r["sound"] == "snare" and abs(r["time_s"] - s) <= 0.05 for r in found[t]) for t, s in soft]
    print(f"rendered snares under velocity 40: recall {np.mean(heard):.3f} of {len(heard)}")


def drumless(ears: NetworkEars, folder: Path) -> None:
    """False strokes a minute on music and speech without drums.

    The clips were trained on, as music without drums: new ones would do worse.
    """
    strokes, minutes = 0, 0.0
    for path in sorted(folder.glob("*.ogg"))[:12]:
        audio = read(path)
        strokes += len(hear(ears, audio))
        minutes += audio.duration_s / 60
    if minutes:
        print(f"without drums: {strokes / minutes:.1f} false strokes a minute in {minutes:.1f} min")


def speed(ears: NetworkEars, audio: Audio) -> None:
    """Seconds a minute of sound, beside harmonic-percussive separation of the same sound."""
    import librosa

    minutes = audio.duration_s / 60
    start = time.perf_counter()
    ears.hear(audio, silent)
    ours = time.perf_counter() - start
    mono = audio.mono()
    start = time.perf_counter()
    librosa.effects.hpss(mono)
    theirs = time.perf_counter() - start
    print(f"seconds a minute: ears {ours / minutes:.2f}, hpss {theirs / minutes:.2f}, ratio {ours / theirs:.2f}")


if __name__ == "__main__":
    main()
