"""Music for the drums to stand in: bass, chords and lines from single notes, on the clip's beat.

The harmony is ours (scale degrees, common practice), so the places where it changes are known and become the target
of the harmony output. Guitars play power chords and chugging eighths often, because loud distorted guitars are what
hides hats on records.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from training.events import BAND, Events
from training.material import Index, Instrument
from training.parts import Floats, Rng

SCALES = ((0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10), (0, 2, 3, 5, 7, 9, 10), (0, 2, 4, 5, 7, 9, 10))
PROGRESSIONS = (
    (0, 5, 3, 4), (0, 3, 4, 3), (5, 3, 0, 4), (0, 4, 5, 3), (1, 4, 0, 0), (0, 0, 3, 3), (0, 2, 3, 4),
    (0, 6, 3, 0), (0, 0, 0, 0), (5, 4, 3, 4), (0, 3, 0, 4), (0, 6, 5, 4),
)  # fmt: skip
GUITARS = (25, 27, 28, 29, 30)
DRIVEN = (29, 30)
Clock = Callable[[float], float]


@dataclass
class Band:
    """One band playing one clip. `clock` turns beats into seconds."""

    index: Index
    rng: Rng
    events: Events
    clock: Clock
    n_beats: float
    end_s: float
    chords: list[int]
    chord_beats: float
    key: int
    scale: tuple[int, ...]
    loose_s: float

    def pitch(self, degree: int) -> int:
        """Semitones above C of a scale degree."""
        return self.key + self.scale[degree % 7] + 12 * (degree // 7)

    def note(
        self, who: Instrument, beat: float, pitch: float, gain: float, beats: float, late_s: float = 0.0
    ) -> None:
        """One note, from the recording nearest in pitch."""
        start = self.clock(beat) + self.rng.normal(0, self.loose_s) + late_s
        if not -0.5 < start < self.end_s:
            return
        sample = min(who.samples, key=lambda s: abs(s.note - pitch) + self.rng.uniform(0, 2))
        ratio = 2 ** ((pitch - sample.note) / 12)
        if not 0.4 < ratio < 2.6:
            return
        seconds = max(0.03, self.clock(beat + beats) - self.clock(beat))
        level = gain * 0.12 / max(sample.rms, 0.03)
        self.events.add(sample.start, sample.length, start, ratio, level, seconds, self.rng.uniform(0.02, 0.12), BAND)


def accompany(
    index: Index,
    rng: Rng,
    events: Events,
    clock: Clock,
    n_beats: float,
    end_s: float,
    beats_per_bar: int,
    kick_beats: Floats,
    quiet_harmony: bool = False,
) -> Floats:
    """Add a band to `events`; returns the beats where the harmony changes.

    quiet_harmony : one added line only, over music that already has its harmony.
    """
    length = beats_per_bar * float(rng.choice([1, 1, 2, 0.5]))
    n = int(np.ceil(n_beats / length)) + 1
    progression = PROGRESSIONS[int(rng.integers(len(PROGRESSIONS)))]
    chords = [progression[i % len(progression)] for i in range(n)]
    scale = SCALES[int(rng.integers(len(SCALES)))]
    band = Band(
        index, rng, events, clock, n_beats, end_s, chords, length, int(rng.integers(12)), scale, rng.uniform(0, 0.012)
    )
    if rng.random() < (0.3 if quiet_harmony else 0.88):
        _bass(band, kick_beats)
    for _ in range(int(rng.choice([0, 1, 1, 2, 2, 3])) * (not quiet_harmony)):
        _chords(band)
    for _ in range(int(rng.choice([0, 1, 1, 2]))):
        _line(band)
    changed = [i for i in range(1, n) if chords[i] != chords[i - 1]]
    return np.array(changed, np.float64) * length


def _steps(rng: Rng, beats: float, style: float) -> tuple[Floats, float]:
    """Places in a chord, and how long a note lasts, for a rhythm style 0..1."""
    if style < 0.22:
        return np.array([0.0]), beats * 0.95
    if style < 0.45:
        return np.arange(0, beats, 0.5), 0.42
    if style < 0.55:
        return np.arange(0.5, beats, 1.0), 0.3
    if style < 0.65:
        return np.arange(0, beats, 1.0), 0.85
    if style < 0.78:
        return np.arange(0, beats, 0.25), 0.2
    places = np.unique(np.concatenate([[0.0], rng.integers(0, max(1, int(beats * 4)), 5) / 4]))
    return places, 0.45


def _bass(band: Band, kick_beats: Floats) -> None:
    rng = band.rng
    who = _role(band, "bass")
    style = rng.random()
    gain = 10 ** (rng.uniform(-4, 4) / 20)
    for k, chord in enumerate(band.chords):
        at = k * band.chord_beats
        root = 28 + (band.key + band.scale[chord % 7]) % 12
        if style > 0.8:
            places = kick_beats[(kick_beats >= at) & (kick_beats < at + band.chord_beats)] - at
            length = 0.6
        else:
            places, length = _steps(rng, band.chord_beats, style / 0.8)
        for p in places:
            jump = int(rng.choice([0, 0, 0, 0, 7, 5, 12])) if style > 0.4 else 0
            band.note(who, at + p, root + jump, gain * rng.uniform(0.8, 1.1), length * rng.uniform(0.8, 1.1))


def _chords(band: Band) -> None:
    rng = band.rng
    guitar = rng.random() < 0.5
    pool = [i for i in band.index.instruments if i.program in GUITARS]
    who = pool[int(rng.integers(len(pool)))] if guitar and pool else _role(band, "chord")
    power = who.program in DRIVEN or rng.random() < 0.12
    octave = int(rng.choice([36, 48, 48, 60])) if not power else int(rng.choice([36, 36, 48]))
    gain = 0.6 * 10 ** (rng.uniform(-9, 4) / 20)
    strum_s = rng.uniform(0, 0.025) if 24 <= who.program <= 30 else 0.0
    style = rng.random()
    arpeggio = style > 0.9
    for k, chord in enumerate(band.chords):
        root = band.pitch(chord)
        notes = (root, root + 7, root + 12) if power else tuple(band.pitch(chord + d) for d in (0, 2, 4))
        places, length = _steps(rng, band.chord_beats, style)
        for j, p in enumerate(np.arange(0, band.chord_beats, 0.5) if arpeggio else places):
            for i, pitch in enumerate(notes[j % 3 : j % 3 + 1] if arpeggio else notes):
                loud = gain * rng.uniform(0.8, 1.1)
                band.note(who, k * band.chord_beats + p, octave + pitch, loud, length, i * strum_s)


def _line(band: Band) -> None:
    rng = band.rng
    who = _role(band, "lead")
    octave = int(rng.choice([48, 60, 60, 72]))
    gain = 0.8 * 10 ** (rng.uniform(-6, 4) / 20)
    degree, beat = int(rng.integers(7)), 0.0
    while beat < band.n_beats:
        length = float(rng.choice([0.25, 0.5, 0.5, 0.5, 1, 1, 1.5, 2]))
        if rng.random() < 0.75:
            band.note(
                who, beat, octave + band.pitch(degree), gain * rng.uniform(0.7, 1.1), length * rng.uniform(0.6, 1)
            )
        degree = int(np.clip(degree + rng.integers(-2, 3), -3, 10))
        beat += length
        if rng.random() < 0.08:
            beat += float(rng.integers(1, 5))


def _role(band: Band, role: str) -> Instrument:
    pool = [i for i in band.index.instruments if i.role == role]
    return pool[int(band.rng.integers(len(pool)))]
