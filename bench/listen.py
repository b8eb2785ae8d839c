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
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from bench.harder import music_alone, poor_file, turned_down
from bench.scoring import bootstrap, counts, groups, load_scorer, micro, truths
from bench.teacher import corrected
from fourlimb.listen.ears import HeardStroke
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
    truth, rendered = truths(data / "recordings" / "truth"), truths(data / "rendered")
    mixes, drums = ({t: read(data / "recordings" / name / f"{t}.flac") for t in truth} for name in ("mix", "drums"))
    heard = {
        "mix": {t: ears.hear(mixes[t], silent).strokes for t in truth},
        "drums": {t: ears.hear(drums[t], silent).strokes for t in truth},
        "rendered": {t: ears.hear(read(data / "rendered" / f"{t}.flac"), silent).strokes for t in rendered},
    }
    for name in ("mix", "drums"):
        found = {t: rows(heard[name][t]) for t in truth}
        show(scorer, name, truth, found)
        show(scorer, f"{name}, original mixes", {t: truth[t] for t in ORIGINAL_MIXES}, found)
        reliability(truth, found)
    found = {t: rows(strokes) for t, strokes in heard["rendered"].items()}
    show(scorer, "rendered", rendered, found)
    reliability(rendered, found)
    soft_snares(rendered, found)
    timing(rendered, heard["rendered"])
    harder(ears, scorer, truth, mixes, drums)
    drumless(ears, truth, mixes, drums, data / "accomp")
    teacher({f"{k} {t}": (list(s), truths_of(k, t, truth, rendered)) for k, x in heard.items() for t, s in x.items()})
    speed(ears, next(iter(mixes.values())))


def truths_of(kind: str, track: str, truth: dict[str, Any], rendered: dict[str, Any]) -> Rows:
    """True strokes of a track."""
    hits: Rows = (rendered if kind == "rendered" else truth)[track]["hits"]
    return hits


def read(path: Path) -> Audio:
    """A file as sound."""
    import soundfile

    return Audio(*soundfile.read(path, dtype="float32", always_2d=True))


def rows(strokes: Sequence[HeardStroke]) -> Rows:
    """Strokes as the scorer takes them."""
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


def timing(truth: dict[str, Any], heard: Mapping[str, Sequence[HeardStroke]]) -> None:
    """How far strokes of rendered songs, whose times are exact, are off, and how loudness follows velocity."""
    off, level, velocity, sound = [], [], [], []
    for t, song in truth.items():
        for hit in song["hits"]:
            same = [s for s in heard[t] if s.sound == hit["sound"] and abs(s.time_s - hit["time_s"]) <= 0.05]
            if same:
                nearest = min(same, key=lambda s: abs(s.time_s - hit["time_s"]))
                off.append(1000 * (nearest.time_s - hit["time_s"]))
                level.append(nearest.loudness_db)
                velocity.append(hit["velocity"])
                sound.append(hit["sound"])
    late, spread = np.median(off), np.median(np.abs(off))
    print(f"rendered strokes: {late:+.1f} ms late, median error {spread:.1f} ms, ", end="")
    print(f"loudness against velocity r = {np.corrcoef(level, velocity)[0, 1]:.2f}, ", end="")
    own = [_less_its_mean(values, sound) for values in (level, velocity)]
    print(f"among strokes of the same sound {np.corrcoef(*own)[0, 1]:.2f}")


def _less_its_mean(values: list[float], sounds: list[str]) -> np.ndarray:
    """What each value is above the mean of its sound."""
    means = {s: np.mean([v for v, of in zip(values, sounds, strict=True) if of == s]) for s in set(sounds)}
    return np.array([v - means[s] for v, s in zip(values, sounds, strict=True)])


def harder(
    ears: NetworkEars, scorer: Any, truth: dict[str, Any], mixes: dict[str, Audio], drums: dict[str, Audio]
) -> None:
    """Drums 9 dB down, and mono MP3 at 48 kbit/s, on the recordings that are sums of stems."""
    down = {t: turned_down(mixes[t], drums[t], 9.0) for t in truth if t not in ORIGINAL_MIXES}
    five = groups(scorer)["5 classes"]
    for what, audio in (
        ("as they are", {t: mixes[t] for t in down}),
        ("drums 9 dB down", down),
        ("MP3, mono, 48 kbit/s", {t: poor_file(mixes[t]) for t in down}),
    ):
        found = [counts(scorer, truth[t]["hits"], rows(ears.hear(a, silent).strokes), five) for t, a in audio.items()]
        print(f"sums of stems ({len(found)}), {what}: 5 classes {bootstrap(found, micro)}")


def drumless(
    ears: NetworkEars, truth: dict[str, Any], mixes: dict[str, Audio], drums: dict[str, Audio], folder: Path
) -> None:
    """False strokes a minute on music without drums.

    First real music never heard in training (recordings less their drums; where the drums went through other effects
    in the mix some of them is left, so strokes at true places are told apart), then clips that were trained on.
    """
    found, there, minutes = 0, 0, 0.0
    for t in mixes:
        if t in ORIGINAL_MIXES:
            continue
        audio = music_alone(mixes[t], drums[t])
        times = np.array([h["time_s"] for h in truth[t]["hits"]])
        strokes = ears.hear(audio, silent).strokes
        found += len(strokes)
        there += sum(float(np.abs(times - s.time_s).min()) <= 0.03 for s in strokes)
        minutes += audio.duration_s / 60
    print(
        f"without drums, recordings less their drums, {minutes:.1f} min: {(found - there) / minutes:.1f} false strokes "
        f"a minute, and {there / minutes:.1f} where a drum's remains are"
    )
    clips = [(len(ears.hear(a, silent).strokes), a.duration_s / 60) for a in _clips(folder)]
    count, minutes = (sum(column) for column in zip(*clips, strict=True)) if clips else (0, 0.0)
    print(f"without drums, trained on, {minutes:.1f} min: {count / max(minutes, 1e-9):.1f} false strokes a minute")


def _clips(folder: Path) -> Iterator[Audio]:
    yield from (read(path) for path in sorted(folder.glob("*.ogg"))[:12])


def teacher(songs: dict[str, tuple[list[HeardStroke], Rows]]) -> None:
    """What three strokes put right do to the rest of the song."""
    left, right, broken = corrected(songs)
    print(f"after three named: of {left:.0f} like errors left {right:.1f} put right, {broken:.1f} others broken")


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
