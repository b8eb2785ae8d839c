"""A drum part in beats, before anybody plays it: the meeting point of human and written grooves."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from training.sounds import INDEX

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Rng = np.random.Generator

TOMS = (INDEX["tom_high"], INDEX["tom_mid"], INDEX["tom_floor"])
HATS = (INDEX["hat_closed"], INDEX["hat_open"], INDEX["hat_pedal"])
PERCUSSION = ("shaker", "tambourine", "cowbell", "clap")


@dataclass(frozen=True)
class Part:
    """Strokes of a drum part.

    beats : shape (n,), position in felt beats from the first bar line, increasing.
    sounds : shape (n,), sound numbers. strength : shape (n,), 0..1.
    machine : every stroke of a sound is the same sample, and nothing drifts.
    programmed : sounds that a machine plays beside the drummer; all of them where `machine`.
    """

    beats: Floats
    sounds: Ints
    strength: Floats
    beats_per_bar: int
    tempo_bpm: float
    machine: bool = False
    style: str = ""
    programmed: frozenset[int] = frozenset()

    def by_machine(self) -> npt.NDArray[np.bool_]:
        """Which strokes no hand plays, shape (n,)."""
        return np.asarray(np.isin(self.sounds, list(self.programmed)) | self.machine)

    def keep(self, which: npt.NDArray[np.bool_]) -> "Part":
        """Only the strokes marked."""
        return replace(self, beats=self.beats[which], sounds=self.sounds[which], strength=self.strength[which])

    def add(self, beats: Floats, sounds: Ints | int, strength: Floats | float) -> "Part":
        """With these strokes too, in time order (earlier strokes first on ties)."""
        n = len(beats)
        b = np.concatenate([self.beats, beats])
        s = np.concatenate([self.sounds, np.broadcast_to(sounds, n)])
        v = np.concatenate([self.strength, np.broadcast_to(strength, n)])
        order = np.argsort(b, kind="stable")
        return replace(self, beats=b[order], sounds=s[order], strength=v[order])


def layer(part: Part, rng: Rng, n_beats: float) -> Part:
    """Layered percussion: on the backbeat, or running through, as records have it."""
    if rng.random() < 0.16:
        backbeat = (part.sounds == INDEX["snare"]) & (part.strength > 0.5)
        with_it = INDEX[str(rng.choice(["clap", "clap", "tambourine"]))]
        late = rng.normal(0, 0.006, int(backbeat.sum()))
        part = part.add(part.beats[backbeat] + late, with_it, part.strength[backbeat])
    if rng.random() < 0.14:
        part = _running(part, rng, n_beats)
    if not part.machine and rng.random() < 0.08:
        part = _replaced(part, rng)
    return part


def _running(part: Part, rng: Rng, n_beats: float) -> Part:
    """Percussion on every beat, eighth or sixteenth: by hand, or by a machine that never drifts."""
    run = np.arange(0, n_beats, float(rng.choice([0.25, 0.5, 0.5, 1.0])))
    accents = np.where(run % 1 == 0, 1.0, rng.uniform(0.5, 1.0))
    sound = INDEX[str(rng.choice(PERCUSSION[:3]))]
    if rng.random() < 0.5:
        return replace(part, programmed=part.programmed | {sound}).add(run, sound, accents)
    by_hand = accents * rng.uniform(0.75, 1.0, len(run))
    return part.add(run + rng.normal(0, 0.006, len(run)), sound, by_hand)


def _replaced(part: Part, rng: Rng) -> Part:
    """The kick, or kick and snare, by a machine: on the grid, always as loud, under the drummer's hands."""
    sounds = (INDEX["kick"],) if rng.random() < 0.6 else (INDEX["kick"], INDEX["snare"])
    own = np.isin(part.sounds, sounds)
    beats = np.where(own, np.round(part.beats * 4) / 4, part.beats)
    strength = np.where(own, 0.85, part.strength)
    order = np.argsort(beats, kind="stable")
    return replace(
        part, beats=beats[order], sounds=part.sounds[order], strength=strength[order],
        programmed=part.programmed | set(sounds),
    )  # fmt: skip
