"""Sound and MIDI made for tests: bursts for drums, exact performances, and a detector that hears what it is told."""

import io
from collections.abc import Sequence
from fractions import Fraction

import mido
import numpy as np

from fourlimb.listen import Heard, HeardStroke
from fourlimb.model import Audio, Hit, Progress, Song, Sound
from fourlimb.model.grid import regular
from fourlimb.model.sounds import GENERAL_MIDI, ORDER

RATE = 32_000
SONG = Song(duration_s=0.0, sample_rate_hz=RATE, sha256="0" * 64, title="Night Ferry")

ROCK: dict[Sound, tuple[str, ...]] = {
    "kick": ("0", "1/2", "5/8"),
    "snare": ("1/4", "3/4"),
    "hat_closed": ("0", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"),
}


def performance(
    bars: int,
    bpm: float,
    pattern: dict[Sound, tuple[str, ...]] | None = None,
    *,
    meter: str = "4/4",
    start_s: float = 0.0,
    spread_s: float = 0.0,
    seed: int = 0,
) -> tuple[Hit, ...]:
    """A pattern played for some bars, each stroke off by a normal error; `bar` and `position` hold the truth."""
    rng = np.random.default_rng(seed)
    grid = regular([meter] * bars, bpm, start_s=start_s)
    strokes = []
    for bar in grid.numbers:
        for sound, places in (pattern or ROCK).items():
            for place in places:
                time_s = grid.time_at(bar, Fraction(place)) + float(rng.normal(0, spread_s))
                strokes.append((max(time_s, 0.0), ORDER[sound], sound, bar, Fraction(place)))
    return tuple(
        Hit(id=i, time_s=round(t, 4), sound=s, loudness_db=-3.0, confidence=0.95, bar=b, position=p)
        for i, (t, _, s, b, p) in enumerate(sorted(strokes), start=1)
    )


def sound_of(hits: Sequence[Hit], duration_s: float, *, rate: int = RATE) -> Audio:
    """Decaying bursts: low tone for kicks, tone and noise for snares, bright noise for everything else."""
    rng = np.random.default_rng(1)
    length = int(0.15 * rate)
    t = np.arange(length) / rate
    noise = rng.normal(0, 1, length)
    bright = np.diff(noise, prepend=0.0)
    burst = {
        "kick": np.sin(2 * np.pi * 60 * t) * np.exp(-t / 0.05),
        "snare": (0.3 * np.sin(2 * np.pi * 330 * t) + 0.4 * noise) * np.exp(-t / 0.05),
        "hat_closed": 0.2 * np.diff(bright, prepend=0.0) * np.exp(-t / 0.02),
    }
    samples = np.zeros(int(duration_s * rate) + length)
    for hit in hits:
        at = int(hit.time_s * rate)
        piece = burst.get(hit.sound, burst["hat_closed"])[: len(samples) - at]
        samples[at : at + len(piece)] += piece
    return Audio((0.3 * samples[: int(duration_s * rate), None]).astype(np.float32), rate)


class TellingEars:
    """Ears that hear exactly the hits they were given."""

    name = "told"

    def __init__(self, hits: Sequence[Hit]) -> None:
        self._hits = hits

    def hear(self, audio: Audio, progress: Progress) -> Heard:
        zeros = np.zeros(int(audio.duration_s * 100) + 1, np.float32)
        strokes = tuple(HeardStroke(h.time_s, h.sound, h.loudness_db, h.confidence) for h in self._hits)
        return Heard(strokes, 100.0, zeros, zeros, zeros, zeros + 1)


def midi_bytes(
    notes: Sequence[tuple[int, int, int]],
    *,
    division: int = 480,
    kind: int = 0,
    channel: int = 9,
    before: Sequence[mido.MetaMessage] = (),
) -> bytes:
    """A MIDI file of (tick, key, velocity) notes; `before` stands at tick 0."""
    file = mido.MidiFile(type=kind, ticks_per_beat=division)
    track = mido.MidiTrack()
    if kind == 1:
        head = mido.MidiTrack()
        head.extend(before)
        file.tracks.append(head)
    else:
        track.extend(before)
    last = 0
    for tick, key, velocity in sorted(notes):
        track.append(mido.Message("note_on", channel=channel, note=key, velocity=velocity, time=tick - last))
        last = tick
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def notes_of(hits: Sequence[Hit], ticks_per_s: float) -> list[tuple[int, int, int]]:
    """MIDI notes at the seconds of hits."""
    return [(round(h.time_s * ticks_per_s), GENERAL_MIDI[h.sound], 90) for h in hits]
