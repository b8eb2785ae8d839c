"""Figures of `bench.bars` that need the ears: rendered grooves and meters, doubts, clicks over recordings, cost.

Each function returns lines to print, a baseline beside each figure.
"""

import time
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import librosa
import numpy as np
import soxr

from fourlimb.listen.bars import find_grid, grid_of, ranked
from fourlimb.listen.evidence import from_heard
from fourlimb.listen.feel import find_feel
from fourlimb.listen.form import form as find_form
from fourlimb.listen.harmony import chroma
from fourlimb.listen.layers import layered
from fourlimb.listen.midi import NEAR_STEP, PLAYED_TO_CLICK
from fourlimb.listen.other_tempo import other_way
from fourlimb.listen.places import place_hits
from fourlimb.listen.repeats import hear_again
from fourlimb.listen.song import sounding
from fourlimb.model import Audio, Grid, Listening
from fourlimb.model.places import is_compound

from .confidence import table
from .groove import Performance
from .made_songs import METERS, metered_song
from .playing import KeptEars, Played, audio_of, evidence_of, felt_bpm, hits_of, knowing, played

RATE = 22_050
NEAR_S = 0.07


class Told(NamedTuple):
    """Confidence of beats inside bars and of bar lines while the drums play, and which are right (+-70 ms)."""

    beats: list[float]
    right_beats: list[bool]
    lines: list[float]
    right_lines: list[bool]

    def add(self, song: Played, grid: Grid | None) -> None:
        """Another song."""
        true_beats = np.array([beat.time_s for beat in song.grid.beats])
        true_ones = np.array([beat.time_s for beat in song.grid.beats if beat.beat == 1])
        for beat in grid.beats if grid else ():
            if song.hits[0].time_s - NEAR_S <= beat.time_s <= min(song.hits[-1].time_s, song.ends_s) + NEAR_S:
                one = beat.beat == 1
                told, right = (self.lines, self.right_lines) if one else (self.beats, self.right_beats)
                told.append(beat.confidence)
                right.append(bool(np.abs((true_ones if one else true_beats) - beat.time_s).min() < NEAR_S))

    def said(self, songs: str) -> Iterator[str]:
        """Calibration errors in lines."""
        yield f"{songs}: calibration error of beats {table(self.beats, self.right_beats)}"
        yield f"{songs}: calibration error of bar lines {table(self.lines, self.right_lines)}"


def tempo_ok(ratio: float) -> tuple[bool, bool]:
    """Acc1 and Acc2 of a tempo against the true one, within 4 %."""
    return abs(ratio - 1) < 0.04, any(abs(ratio / k - 1) < 0.04 for k in (1, 2, 3, 1 / 2, 1 / 3))


def rendered_grooves(grooves: Sequence[Performance], count: int, cache: Path | None) -> Iterator[str]:
    """Tempo of human grooves of all styles, rendered and heard; librosa's beat tracker beside it."""
    songs = [song for g in grooves if (song := played(g)) is not None and 40 <= felt_bpm(song) <= 240]
    chosen = [songs[int(i)] for i in np.unique(np.linspace(0, len(songs) - 1, count).astype(int))]
    ours, theirs, usual, others = [], [], [], []
    open_songs = 0
    told = Told([], [], [], [])
    for song in chosen:
        evidence = evidence_of(song, cache)
        found = ranked(evidence)
        grid, other = grid_of(found, evidence), other_way(found)
        others.append(other is not None and tempo_ok(60 / other.pulse.period_s / felt_bpm(song))[0])
        open_songs += other is not None
        told.add(song, grid)
        bpm = 60 / float(np.median(np.diff([b.time_s for b in grid.beats]))) if grid else 0.0
        ours.append(tempo_ok(bpm / felt_bpm(song)))
        sound = soxr.resample(audio_of(song).mono(), 44_100, RATE)
        theirs.append(
            tempo_ok(float(np.atleast_1d(librosa.beat.beat_track(y=sound, sr=RATE)[0])[0]) / felt_bpm(song))
        )
        usual.append(tempo_ok(110 / felt_bpm(song)))
    a, b, c = np.mean(ours, axis=0), np.mean(theirs, axis=0), np.mean(usual, axis=0)
    kept = [ok for ok, song in zip(ours, chosen, strict=True) if to_click(song)]
    low, high = min(map(felt_bpm, chosen)), max(map(felt_bpm, chosen))
    yield (
        f"tempo of {len(chosen)} rendered grooves (judging half), {low:.0f}-{high:.0f} bpm: Acc1 {a[0]:.3f} "
        f"Acc2 {a[1]:.3f}; librosa {b[0]:.3f} {b[1]:.3f}; always 110 {c[0]:.3f}; the {len(kept)} whose strokes stand on "
        f"their click: Acc1 {np.mean(kept, axis=0)[0]:.3f} Acc2 {np.mean(kept, axis=0)[1]:.3f}"
    )
    either = [ok[0] or other for ok, other in zip(ours, others, strict=True)]
    yield (
        f"the other tempo that players could count is told of {open_songs} of them, right of {sum(others)}; the true "
        f"tempo is counted or told of {np.mean(either):.3f}"
    )
    yield from told.said("rendered grooves")


def to_click(song: Played) -> bool:
    """Whether a performance was played to its click, by the rule for MIDI files; else its tempo is nobody's truth."""
    beats = np.array([hit.time_s for hit in song.hits]) * song.quarter_bpm / 60
    shares = [float((np.abs(beats * n - np.rint(beats * n)) < NEAR_STEP).mean()) for n in (4, 3)]
    return max(shares) >= PLAYED_TO_CLICK


def rendered_meters(grooves: Sequence[Performance], count: int, cache: Path | None) -> Iterator[str]:
    """Share of made songs whose commonest meter is the true one."""
    shares, told = [], Told([], [], [], [])
    for meter in METERS:
        said: Counter[str] = Counter()
        for seed in range(count):
            song = metered_song(meter, grooves, seed)
            grid = find_grid(evidence_of(song, cache))
            told.add(song, grid)
            said[_commonest(grid)] += 1
        others = " ".join(f"{m} {n}" for m, n in sorted(said.items()) if m != meter)
        shares.append((meter, said[meter] / count, others))
    rows = "  ".join(f"{m} {share:.2f}" + (f" (else {others})" if others else "") for m, share, others in shares)
    yield (
        f"meter of {count} rendered songs each (judging half, with a band): {rows}; mean "
        f"{np.mean([s for _, s, _ in shares]):.2f}; always 4/4 {1 / len(METERS):.2f}"
    )
    yield from told.said("songs in every meter")


def _commonest(grid: Grid | None) -> str:
    names = [bar.meter for bar in grid.bars] if grid else ["none"]
    return max(sorted(set(names)), key=names.count)


def swing_with_tempo(grooves: Sequence[Performance]) -> Iterator[str]:
    """Swing ratio of real jazz takes by tempo: falls as tempo rises (Friberg and Sundstroem 2002, Music Perception 19)."""
    points = []
    for groove in grooves:
        if not groove.style.startswith("jazz") or is_compound(groove.meter) or len(groove.grid.bars) < 4:
            continue
        rides = [hit for hit in groove.hits if hit.sound in ("ride", "ride_bell", "hat_closed", "hat_pedal")]
        share = find_feel(groove.grid, rides)[0] if rides else None
        if share is not None and share.swing_unit == "8th" and share.swing > 0.54:
            points.append((groove.bpm, share.swing / (1 - share.swing)))
    found = np.array(points)
    slope = np.polyfit(np.log2(found[:, 0]), found[:, 1], 1)[0]
    slow, fast = (found[found[:, 0] < 140, 1], found[found[:, 0] >= 180, 1])
    yield (
        f"swing ratio of {len(found)} real jazz takes: below 140 bpm {np.median(slow):.2f} (n {len(slow)}), from 180 on "
        f"{np.median(fast):.2f} (n {len(fast)}); {slope:+.2f} per octave of tempo (published: about 3.5 at slow tempi, "
        "towards 1 at 300 bpm); a fixed 2:1 would be +0.00"
    )


def clicks(name: str, audio: Audio, beats: np.ndarray, true_beats: np.ndarray) -> tuple[str, np.ndarray, np.ndarray]:
    """How far a click on every beat lies from the nearest peak of librosa's onset envelope, and so for the true beats."""
    y = soxr.resample(audio.mono(), audio.rate, RATE).astype(np.float32)
    envelope = librosa.onset.onset_strength(y=y, sr=RATE, hop_length=64, n_fft=1024, lag=4)
    peaks = librosa.onset.onset_detect(
        onset_envelope=envelope, sr=RATE, hop_length=64, units="time", delta=0.1, wait=10
    )
    ours, true = (_to_nearest(b[b < len(y) / RATE - 0.1], peaks) for b in (beats, true_beats))
    return name, ours[np.abs(ours) < NEAR_S], true[np.abs(true) < NEAR_S]


def _to_nearest(times: np.ndarray, peaks: np.ndarray) -> np.ndarray:
    after = peaks[np.clip(np.searchsorted(peaks, times), 0, len(peaks) - 1)] - times
    before = peaks[np.clip(np.searchsorted(peaks, times) - 1, 0, None)] - times
    return np.where(np.abs(after) < np.abs(before), after, before)


def doubt_worth(found: Sequence[tuple[Listening, Counter[int]]]) -> tuple[float, float, float]:
    """Share of wrong strokes left when the tenth of bars doubted most is corrected; the best tenth; a tenth at random."""
    left = best = chance = total = 0.0
    for heard, wrong in found:
        count = int(np.ceil(0.1 * len(heard.grid.numbers)))
        every = sum(wrong.values())
        total += every
        left += every - sum(wrong[doubt.bar] for doubt in heard.doubts[:count])
        best += every - sum(n for _, n in wrong.most_common(count))
        chance += every * (1 - count / len(heard.grid.numbers))
    return left / total, best / total, chance / total


def cost(audio: Audio, minutes: float) -> Iterator[str]:
    """Seconds of everything after the ears for a recording repeated to a length, beside librosa's HPSS of the same sound."""
    times = int(np.ceil(minutes * 60 / audio.duration_s))
    ears = KeptEars()
    answer = ears.curves(audio, lambda stage, share: None)
    long = type(answer)(*(np.tile(part, (times, 1)) for part in answer))
    sound = Audio(np.tile(audio.mono(), times)[:, None], audio.rate)
    heard = knowing(long).hear(sound, lambda stage, share: None)
    started = time.process_time()
    hits = hits_of(heard)
    evidence = from_heard(heard, hits, sound.duration_s, sounding=sounding(sound), chroma=chroma(sound))
    grid = find_grid(evidence)
    assert grid is not None
    placed = layered(hear_again(grid, place_hits(grid, hits), heard))
    find_form(grid, placed)
    spent = time.process_time() - started
    started = time.process_time()
    librosa.effects.hpss(soxr.resample(audio.mono(), audio.rate, RATE))
    reference = (time.process_time() - started) * sound.duration_s / audio.duration_s
    yield (
        f"cost after the ears, {sound.duration_s / 60:.1f} minutes, {len(grid.bars)} bars: {spent:.1f} s of one core, "
        f"1/{sound.duration_s / spent:.0f} of the time it plays; librosa HPSS of the same sound {reference:.1f} s"
    )
