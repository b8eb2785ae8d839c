"""Performances made to sound, and what the ears hear in them, kept on disk.

A performance is played on the kit that ships with fourlimb (synthesised, in no training data of the ears), a made
song also with a plain bass and chords that change with the bar. Warning for who reads figures: the ears' training heard
clips of grooves of both halves of the Groove set, on other kits.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache, reduce
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import numpy as np

from fourlimb.listen.ears import Heard
from fourlimb.listen.evidence import Evidence, from_heard
from fourlimb.listen.harmony import chroma
from fourlimb.listen.network import WEIGHTS, Answer
from fourlimb.listen.trained import NetworkEars
from fourlimb.model import Audio, Grid, Hit, Progress, Recording, silent
from fourlimb.model.places import is_compound
from fourlimb.sound.kit import RATE, built_in
from fourlimb.sound.perform import Blow, perform

from .groove import Performance

LONGEST_S = 40.0
SHORTEST_S = 5.0
LEAST_HITS = 8
PEAK = 0.5


@dataclass(frozen=True)
class Played:
    """Something to be played: hits in seconds, bars, and whether a band (`seed`) plays along.

    `chords_s`: where its chords change; on every bar line when empty. `bass`: see `band`.
    """

    name: str
    style: str
    quarter_bpm: float
    meter: str
    hits: tuple[Hit, ...]
    grid: Grid
    ends_s: float
    seed: int | None = None
    chords_s: tuple[float, ...] = ()
    bass: str = "beats"


def played(groove: Performance, longest_s: float = LONGEST_S) -> Played | None:
    """At most `longest_s` of a performance; None when it is too short to have a tempo."""
    ends = min(groove.hits[-1].time_s + 1.0, longest_s) if groove.hits else 0.0
    if ends < SHORTEST_S or len(groove.hits) < LEAST_HITS:
        return None
    return Played(groove.name, groove.style, groove.bpm, groove.meter, groove.hits, groove.grid, ends)


def felt_bpm(song: Played) -> float:
    """The tempo of the pulse that bars are counted on: quarters, or dotted quarters in compound meters."""
    return song.quarter_bpm / (1.5 if is_compound(song.meter) else 1.0)


def audio_of(song: Played) -> Audio:
    """The sound of it, 44.1 kHz stereo."""
    drums = drums_of(song.hits, song.ends_s)
    if song.seed is not None:
        chords = band(song.grid, song.seed, song.ends_s, song.chords_s, song.bass)[: len(drums), None]
        drums = drums + chords * np.sqrt((drums**2).mean() / max(float((chords**2).mean()), 1e-12))
    return Audio((drums * (PEAK / max(float(np.abs(drums).max()), 1e-6))).astype(np.float32), RATE)


def drums_of(hits: Sequence[Hit], ends_s: float) -> np.ndarray:
    """Drums alone; loudness in dB is read as velocity the way the Groove set's files were."""
    blows = [
        Blow(hit.time_s, hit.sound, int(np.clip(round(127 * 10 ** (hit.loudness_db / 40)), 1, 127)))
        for hit in hits
        if hit.time_s < ends_s
    ]
    return perform(blows, built_in(), int(ends_s * RATE))


PROGRESSIONS = ((0, 5, 7, 5), (0, 9, 5, 7), (0, 0, 5, 7), (9, 5, 0, 7), (0, 7, 9, 5))
MAJOR = {0, 5, 7}
APART_S = 0.02


def band(grid: Grid, seed: int, ends_s: float, chords_s: Sequence[float] = (), bass: str = "beats") -> np.ndarray:
    """A chord on every bar line, or from each of `chords_s` on, and a bass, mono, at any level.

    `bass`: "beats", "eighths" (half beats) or "held" (as long as the chord).
    """
    rng = np.random.default_rng(seed + 1000)
    key, steps = 33 + int(rng.integers(0, 7)), PROGRESSIONS[int(rng.integers(len(PROGRESSIONS)))]
    sound = np.zeros(int(ends_s * RATE))
    starts = chords_s or [bar.start_s for bar in grid.bars]
    beats = np.array([beat.time_s for beat in grid.beats])
    for index, (first, last) in enumerate(pairwise([*starts, grid.end_s])):
        step = steps[index % len(steps)]
        inside = beats[(beats > first + APART_S) & (beats < last - APART_S)].tolist()
        edges = np.array([first, *inside, last] if bass != "held" else [first, last])
        if bass == "eighths":
            edges = np.sort(np.concatenate([edges, (edges[1:] + edges[:-1]) / 2]))
        for count, (start, end) in enumerate(pairwise(edges.tolist())):
            _tone(sound, key + step + 7 * (count % 2), start, end, 0.5, 6)
        for above in (12, 19, 28 if step in MAJOR else 27):
            _tone(sound, key + step + above, first, last, 0.12, 5)
    return sound


def _tone(sound: np.ndarray, pitch: int, start_s: float, end_s: float, level: float, partials: int) -> None:
    low, high = int(start_s * RATE), min(int(end_s * RATE), len(sound))
    if high <= low:
        return
    t = np.arange(high - low) / RATE
    shape = np.minimum(t / 0.008, 1) * np.exp(-t / 1.2) * np.clip((end_s - start_s - t) / 0.02, 0, 1)
    hertz = 440 * 2 ** ((pitch - 69) / 12)
    sound[low:high] += level * shape * sum(np.sin(2 * np.pi * hertz * k * t) / k**1.3 for k in range(1, partials + 1))


@dataclass(frozen=True)
class KeptEars(NetworkEars):
    """The ears that ship, which hear each recording once and keep their curves in a folder."""

    folder: Path | None = None
    key: str = ""
    memory: dict[str, Answer] = field(default_factory=dict)

    def curves(self, audio: Recording, progress: Progress) -> Answer:
        """The network's curves, from the folder when they are there."""
        key = f"{zlib.crc32(self.key.encode()) if self.key else sum_of(audio):08x}-{weights():08x}"
        if key in self.memory:
            return self.memory[key]
        file = self.folder / f"{key}.npz" if self.folder is not None else None
        if file is not None and file.exists():
            with np.load(file) as stored:
                return Answer(*(stored[k].astype(np.float32) for k in ("hits", "levels", "pulse")))
        answer = NetworkEars.curves(self, audio, progress)
        if file is not None:
            file.parent.mkdir(parents=True, exist_ok=True)
            np.savez(file, **{k: getattr(answer, k).astype(np.float16) for k in ("hits", "levels", "pulse")})
        elif not self.key:
            self.memory[key] = answer
        return answer


def sum_of(audio: Recording) -> int:
    """A number that changes with the sound."""
    return reduce(lambda crc, block: zlib.crc32(block.tobytes(), crc), audio.blocks(1 << 20), 0)


@cache
def weights() -> int:
    """A number that changes with the ears' weights."""
    return zlib.crc32(WEIGHTS.read_bytes())


@cache
def kit_sounds() -> int:
    """A number that changes with the kit that ships."""
    folder = files("fourlimb.sound") / "kit_sounds"
    return reduce(lambda crc, file: zlib.crc32(file.read_bytes(), crc), sorted(folder.iterdir(), key=str), 0)


def key_of(song: Played) -> str:
    """What a song is kept under: it changes when the song does, or the kit it is played on."""
    strokes = np.array([(h.time_s, h.loudness_db) for h in song.hits]).tobytes()
    plays = f" {song.bass} {zlib.crc32(np.array(song.chords_s).tobytes()):08x}" if song.chords_s else ""
    return (
        f"{song.name} {song.meter} {song.ends_s:.3f} {song.seed} {zlib.crc32(strokes):08x}{plays} {kit_sounds():08x}"
    )


def heard_in(song: Played, folder: Path | None, sound: Audio | None = None) -> Heard:
    """What the ears hear in a song; it is rendered (unless its `sound` is given) only when nothing is kept of it."""
    ears = KeptEars(folder=folder, key=key_of(song))
    known = folder is not None and _kept(song, folder)[0].exists()
    silence = Audio(np.zeros((int(song.ends_s * 100), 1), np.float32), 100)
    audio = silence if known else sound or audio_of(song)
    answer = ears.curves(audio, silent)
    beat, downbeat, change, present = answer.pulse.T
    return Heard(
        ears.strokes(answer, ears.pulse(answer, audio)), 100.0, beat, downbeat, change, present, answer.hits
    )  # fmt: skip


def evidence_of(song: Played, folder: Path | None) -> Evidence:
    """Evidence of a song as the ears hear it."""
    sound = None if folder is not None and all(file.exists() for file in _kept(song, folder)) else audio_of(song)
    heard = heard_in(song, folder, sound)
    starts = max(song.hits[0].time_s - 0.05, 0.0) if song.seed is None else 0.0
    pitches = chroma_in(song, folder, sound)
    return from_heard(heard, hits_of(heard), song.ends_s, sounding=(starts, song.ends_s), chroma=pitches)


def _kept(song: Played, folder: Path) -> tuple[Path, Path]:
    """The files in which curves and pitch classes of a song are kept."""
    name = f"{zlib.crc32(key_of(song).encode()):08x}"
    return folder / f"{name}-{weights():08x}.npz", folder / f"{name}-chroma.npy"


def chroma_in(song: Played, folder: Path | None, sound: Audio | None = None) -> np.ndarray:
    """Pitch classes of a song, from the folder when they are there."""
    file = _kept(song, folder)[1] if folder is not None else None
    if file is not None and file.exists():
        return np.load(file).astype(np.float64)
    found = chroma(sound or audio_of(song)).astype(np.float16)
    if file is not None:
        np.save(file, found)
    return found.astype(np.float64)


def hits_of(heard: Heard) -> tuple[Hit, ...]:
    """Strokes as hits without places."""
    return tuple(
        Hit(
            id=n,
            time_s=round(stroke.time_s, 4),
            sound=stroke.sound,
            loudness_db=round(min(stroke.loudness_db, 0.0), 1),
            confidence=round(stroke.confidence, 3),
        )
        for n, stroke in enumerate(heard.strokes, start=1)
    )


def knowing(answer: Answer) -> KeptEars:
    """Ears whose curves are given."""
    return KeptEars(key="given", memory={f"{zlib.crc32(b'given'):08x}-{weights():08x}": answer})
