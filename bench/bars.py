"""From sounds to bars: every figure beside a baseline, in one run.

    python -m bench.bars [--quick] [--cache FOLDER] [--only made,grooves,meters,taught,recordings,rendered,clicks,cost]
        [--grooves N] [--songs N]   (so many grooves, and songs of each meter)

Data: the open recordings and rendered songs of the data folder with the ears that ship; made songs (see `made_songs`) of
the judging half of the Groove set (see `groove`) with strokes misheard as ears mishear them, without any beat curve.
Baselines: librosa's beat tracker; rounding to the nearest 16th; novelty along the diagonal of the self-similarity matrix
(Foote 2000). With `--cache` what the ears hear is kept in a folder and costs nothing the next time. Of what is judged
here the recordings and rendered songs also set the curve of confidence and a few constants of `bars`: figures on them
flatter a little.
"""

import argparse
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import librosa
import mir_eval
import msgspec
import numpy as np
import soxr

from fourlimb.listen import place_hits
from fourlimb.listen.alike import bar_vectors
from fourlimb.listen.bars import find_grid
from fourlimb.listen.ears import Ears
from fourlimb.listen.evidence import from_hits
from fourlimb.listen.feel import find_feel
from fourlimb.listen.form import form as find_form
from fourlimb.model import Audio, Hit
from fourlimb.model.grid import FeelSpan, regular

from .bars_heard import clicks, cost, doubt_worth, rendered_grooves, rendered_meters, swing_with_tempo
from .cases import FAMILIES, Case, cases, f_of, heard, wrong_strokes
from .confidence import beats_told, strokes_told, table
from .exact_places import places, places_said
from .groove import DATA, Performance, performances
from .made_songs import MadeSong, misheard, numbered, song_of, usual_song
from .playing import KeptEars
from .section_curve import told_and_right
from .taught import made_songs
from .taught import said as taught_said

SPEEDS = (0.6, 0.75, 1.0, 1.3, 1.6)


def beat_scores(case: Case, beats: np.ndarray, downbeats: np.ndarray | None) -> dict[str, float]:
    """Beat F, downbeat F (+-70 ms), CMLt, tempo Acc1 and Acc2 (4 %)."""
    tempo = np.median(np.diff(case.beats)) / np.median(np.diff(beats)) if len(beats) > 1 else 0.0
    return {
        "beat F": mir_eval.beat.f_measure(case.beats, beats),
        "downbeat F": mir_eval.beat.f_measure(case.downbeats, downbeats) if downbeats is not None else np.nan,
        "CMLt": mir_eval.beat.continuity(case.beats, beats)[1] if len(beats) > 1 else 0.0,
        "Acc1": float(abs(tempo - 1) < 0.04),
        "Acc2": float(any(abs(tempo / k - 1) < 0.04 for k in (1, 2, 3, 1 / 2, 1 / 3))),
    }


def librosa_beats(audio: Audio) -> np.ndarray:
    y = soxr.resample(audio.mono(), audio.rate, 22_050)
    return np.asarray(librosa.beat.beat_track(y=y, sr=22_050, units="time")[1])


def grids(ears: Ears, folder: str, speeds: Sequence[float]) -> list[tuple[float, dict[str, float], dict[str, float]]]:
    """Mean scores at each speed: ours, and librosa's beat tracker's.

    Beats after the recording has ended, which fill its last bar, are not counted: nobody could hear them.
    """
    rows = []
    for speed in speeds:
        ours, theirs = [], []
        for case in cases(folder, speed=speed):
            sounding = [b for b in heard(case, ears).grid.beats if b.time_s < case.audio.duration_s]
            beats = np.array([b.time_s for b in sounding])
            ones = np.array([b.time_s for b in sounding if b.beat == 1])
            ours.append(beat_scores(case, beats, ones))
            theirs.append(beat_scores(case, librosa_beats(case.audio), None))
        rows.append((speed, _mean(ours), _mean(theirs)))
    return rows


def _mean(rows: Sequence[dict[str, float]]) -> dict[str, float]:
    return {key: float(np.mean([row[key] for row in rows])) for key in rows[0]}


def second_pass(ears: Ears, folder: str) -> tuple[float, float, float]:
    """F of five families before and after bars teach each other, and the worst track's change."""
    before, after, worst = np.zeros(3), np.zeros(3), 1.0
    for case in cases(folder):
        first = ears.hear(case.audio, lambda stage, share: None)
        raw = [
            Hit(id=n, time_s=s.time_s, sound=s.sound, loudness_db=0, confidence=0.5)
            for n, s in enumerate(first.strokes)
        ]
        one, two = np.array(f_of(case.hits, raw)), np.array(f_of(case.hits, heard(case, ears).hits))
        before, after = before + one, after + two
        worst = min(worst, _f(two) - _f(one))
    return _f(before), _f(after), worst


def _f(counts: np.ndarray) -> float:
    return float(2 * counts[0] / max(counts[1] + counts[2], 1))


def tempo_from_strokes(grooves: Sequence[Performance], count: int) -> tuple[dict[str, float], dict[str, float]]:
    """Tempo of grooves of all styles and speeds from misheard strokes alone; the baseline is the commonest gap of onsets."""
    chosen = [grooves[int(i)] for i in np.linspace(0, len(grooves) - 1, count)]
    ours, theirs = [], []
    for number, groove in enumerate(chosen):
        hits = misheard([h for h in groove.hits if h.time_s < 40], number)
        grid = find_grid(from_hits(hits, hits[-1].time_s + 0.5)) if len(hits) > 8 else None
        bpm = 60 / np.median(np.diff([b.time_s for b in grid.beats])) if grid else 0.0
        ours.append(_tempo_ok(bpm / groove.bpm))
        theirs.append(_tempo_ok(_gap_tempo(hits) / groove.bpm))
    return _mean(ours), _mean(theirs)


def _tempo_ok(ratio: float) -> dict[str, float]:
    return {
        "Acc1": float(abs(ratio - 1) < 0.04),
        "Acc2": float(any(abs(ratio / k - 1) < 0.04 for k in (1, 2, 3, 0.5, 1 / 3))),
    }


def _gap_tempo(hits: Sequence[Hit]) -> float:
    """The tempo in 70-140 whose beat is the commonest distance of any two onsets."""
    at = np.unique(np.round([h.time_s for h in hits], 2))
    gaps = np.concatenate([at[k:] - at[:-k] for k in range(1, 13) if k < len(at)])
    bpm = np.arange(70, 140, 0.5)
    score = [np.exp(-0.5 * ((gaps - 60 / b) / 0.02) ** 2).sum() for b in bpm]
    return float(bpm[int(np.argmax(score))])


def meters(per_meter: int) -> dict[str, float]:
    """Share of made songs of each meter whose meter is found for most bars, from misheard strokes alone."""
    found = {}
    for meter in ("4/4", "3/4", "2/4", "6/8", "12/8", "5/4", "7/8"):
        right = 0
        for seed in range(per_meter):
            song = usual_song(meter, seed)
            hits = misheard(song.hits, seed)
            grid = find_grid(from_hits(hits, song.grid.end_s))
            names = [b.meter for b in grid.bars] if grid else []
            right += names.count(meter) > len(names) / 2
        found[meter] = right / per_meter
    return found


def swing(count: int) -> tuple[float, float]:
    """Mean error of the swing ratio (long to short) over 1.0 to 3.0, ours and that of always saying 2.0."""
    ours, always = [], []
    for number, ratio in enumerate(np.linspace(1.0, 3.0, count)):
        share = ratio / (1 + ratio)
        grid = regular(["4/4"] * 16, 100 + 8 * (number % 10))
        grid = msgspec.structs.replace(grid, feel=(FeelSpan(from_bar=1, to_bar=16, feel="straight", swing=share),))
        rng = np.random.default_rng(number)
        hits = []
        for bar in grid.numbers:
            for place, sound in (
                (0, "kick"),
                (2, "snare"),
                (4, "kick"),
                (6, "snare"),
                *((n, "ride") for n in range(8)),
            ):
                time_s = grid.time_at(bar, Fraction(place, 8), swung=True) + float(rng.normal(0, 0.008))
                hits.append(Hit(id=0, time_s=max(time_s, 0.0), sound=sound, loudness_db=-3, confidence=0.9))
        found = find_feel(msgspec.structs.replace(grid, feel=()), numbered(hits))[0].swing
        ours.append(abs(found / (1 - found) - ratio))
        always.append(abs(2.0 - ratio))
    return float(np.mean(ours)), float(np.mean(always))


def sections(grooves: Sequence[Performance], count: int) -> tuple[float, float]:
    """Boundary F at +-1 bar on made songs with misheard strokes: ours, and Foote-style novelty's."""
    long = [g for g in grooves if g.meter == "4/4" and len(g.grid.bars) >= 16]
    ours, theirs = [], []
    for seed in range(count):
        song = song_of(long, seed)
        hits = place_hits(song.grid, misheard(song.hits, seed))
        ours.append(_edges_f(song, [s.from_bar for s in find_form(song.grid, hits)[0]]))
        theirs.append(_edges_f(song, _foote(bar_vectors(song.grid, hits))))
    return float(np.mean(ours)), float(np.mean(theirs))


def _foote(vectors: np.ndarray, reach: int = 4) -> list[int]:
    unit = vectors / np.maximum(np.linalg.norm(vectors, axis=1), 1e-9)[:, None]
    alike = unit @ unit.T
    novelty = np.zeros(len(alike))
    for bar in range(reach, len(alike) - reach + 1):
        a, b = slice(bar - reach, bar), slice(bar, bar + reach)
        novelty[bar] = alike[a, a].mean() + alike[b, b].mean() - 2 * alike[a, b].mean()
    high = novelty.mean() + novelty.std()
    return [
        n + 1 for n in range(1, len(novelty) - 1) if novelty[n] > high and novelty[n] == novelty[n - 1 : n + 2].max()
    ]


def _edges_f(song: MadeSong, found: Sequence[int]) -> float:
    wanted, got = set(song.starts) - {1}, set(found) - {1}
    left, right = set(got), 0
    for bar in sorted(wanted):
        near = [b for b in left if abs(b - bar) <= 1]
        if near:
            left.discard(min(near, key=lambda b: (abs(b - bar), b)))
            right += 1
    return 2 * right / max(len(wanted) + len(got), 1)


def made(judging: Sequence[Performance], quick: bool) -> None:
    """Figures that need no ears."""
    count = 40 if quick else 200
    ours, near = tempo_from_strokes(judging, count)
    print(f"tempo from misheard strokes alone, {count} grooves (judging half): "
          f"Acc1 {ours['Acc1']:.3f} Acc2 {ours['Acc2']:.3f}; commonest gap {near['Acc1']:.3f} {near['Acc2']:.3f}")  # fmt: skip
    for kind, (strokes, right, rounded) in sorted(places(judging).items()):
        print(
            f"exact places given true beats, {kind}, {strokes} strokes (judging half): {right:.3f}; nearest 16th {rounded:.3f}"
        )
    found = "  ".join(f"{m} {v:.2f}" for m, v in meters(4 if quick else 12).items())
    print(f"meter of usual bars from misheard strokes alone: {found}")
    print("swing ratio, mean error: {:.2f}; always 2:1 {:.2f}".format(*swing(21)))
    print("section boundaries +-1 bar, F: {:.2f}; novelty {:.2f}".format(*sections(judging, 20)))
    print(f"calibration error of sections (judging half) {table(*told_and_right(judging, 30 if quick else 100))}")
    for line in swing_with_tempo([*judging, *performances(judging=False)]):
        print(line)


def songs(folder: str, ears: Ears, quick: bool) -> None:
    """Figures of the recordings or the rendered songs."""
    for speed, us, them in grids(ears, folder, (1.0,) if quick else SPEEDS):
        print(f"{folder} at {speed}: " + "  ".join(f"{k} {v:.3f}" for k, v in us.items())
              + "; librosa " + "  ".join(f"{k} {v:.3f}" for k, v in them.items() if k != "downbeat F"), flush=True)  # fmt: skip
    before, after, worst = second_pass(ears, folder)
    print(
        f"{folder}: five families F {before:.3f}, after bars taught each other {after:.3f}, worst track {worst:+.3f}"
    )
    found = [(case, heard(case, ears)) for case in cases(folder)]
    wrong = [wrong_strokes(case, one, ("kick", "snare"))[bar] for case, one in found for bar in one.grid.numbers]
    print(
        f"{folder}: bars with every kick and snare right {np.mean([w == 0 for w in wrong]):.2f}; "
        f"bars with 0, 1, 2 ... wrong: {np.bincount(wrong).tolist()}"
    )
    if folder == "rendered":
        print(places_said(found))
    print(f"{folder}: calibration error of strokes {table(*strokes_told(found))}")
    for what, ones in (("beats", False), ("bar lines", True)):
        print(f"{folder}: calibration error of {what} {table(*beats_told(found, ones=ones))}")
    left, best, chance = doubt_worth([(one, wrong_strokes(case, one, tuple(FAMILIES))) for case, one in found])
    print(
        f"{folder}: wrong strokes left after the tenth of bars doubted most is corrected {left:.2f}; "
        f"the best tenth {best:.2f}; any tenth {chance:.2f}"
    )
    print(taught_said(folder, found))


def click_check(ears: Ears) -> None:
    """The grid against the sound."""
    ours, true = [], []
    for case in cases("recordings"):
        beats = np.array([b.time_s for b in heard(case, ears).grid.beats])
        name, near, marked = clicks(case.name, case.audio, beats, case.beats)
        print(f"click to onset peak, {name}: median {1000 * np.median(near):+.0f} ms, 95 % within "
              f"{1000 * np.percentile(np.abs(near), 95):.0f} ms; hand-marked beats {1000 * np.median(marked):+.0f}, "
              f"{1000 * np.percentile(np.abs(marked), 95):.0f}")  # fmt: skip
        ours.append(near)
        true.append(marked)
    a, b = np.concatenate(ours), np.concatenate(true)
    print(f"click to onset peak, all: median {1000 * np.median(a):+.1f} ms, 95 % within {1000 * np.percentile(np.abs(a), 95):.1f}; "
          f"hand-marked beats {1000 * np.median(b):+.1f}, {1000 * np.percentile(np.abs(b), 95):.1f}")  # fmt: skip


PARTS = ("made", "grooves", "meters", "taught", "recordings", "rendered", "clicks", "cost")


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer songs")
    parser.add_argument("--cache", type=Path, help="folder that keeps what the ears hear")
    parser.add_argument("--only", default=",".join(PARTS), help="parts of the table, with commas between them")
    parser.add_argument("--grooves", type=int, help="how many rendered grooves (40 or 200)")
    parser.add_argument("--songs", type=int, help="how many songs in each meter (3 or 12)")
    asked = parser.parse_args()
    if unknown := set(asked.only.split(",")) - set(PARTS):
        parser.error(f"no part is called {', '.join(sorted(unknown))}: choose from {', '.join(PARTS)}")
    return asked


def main() -> None:
    """Prints the table."""
    asked = _asked()
    quick, cache, only = asked.quick, asked.cache, asked.only.split(",")
    if not Path(DATA).exists():
        print(f"no data at {DATA}: nothing to measure")
        return
    judging = (
        [g for g in performances(judging=True) if g.bpm >= 40]
        if {"made", "grooves", "meters", "taught"} & set(only)
        else []
    )
    ears = KeptEars(folder=cache)
    if "made" in only:
        made(judging, quick)
    for name, lines in (
        ("grooves", lambda: rendered_grooves(judging, asked.grooves or (40 if quick else 200), cache)),
        ("meters", lambda: rendered_meters(judging, asked.songs or (3 if quick else 12), cache)),
    ):
        for line in lines() if name in only else ():
            print(line, flush=True)
    if "taught" in only:
        for bars in (8, 16):
            made_now = list(made_songs(judging, 4 if quick else 12, cache, bars=bars))
            minutes = float(np.mean([found.grid.end_s for _, found in made_now])) / 60
            said = f"{len(made_now)} made songs of {minutes:.1f} minutes (judging half, with a band)"
            print(taught_said(said, made_now), flush=True)
    for folder in ("recordings", "rendered"):
        if folder in only:
            songs(folder, ears, quick)
    if "clicks" in only:
        click_check(ears)
    if "cost" in only:
        sound = next(cases("recordings")).audio
        for minutes in (4.0,) if quick else (4.0, 16.0, 60.0):
            for line in cost(sound, minutes):
                print(line, flush=True)


if __name__ == "__main__":
    main()
