"""Hearing again with the song as teacher: which of all bumps in the curves are strokes, and how sure that is.

The first pass judges every moment alone. Here each candidate stroke is judged again by

- what the song does at the same place of other bars (`habits`), for the sounds that keep time or carry the beat;
- whether the kit has such a sound at all: where not even the clearest moments of a sound are clear, all of it is
  doubted more (the gate);
- a threshold of each sound, and a curve from its odds to the share that proved right.

Weights and thresholds are set by `training/calibrate.py` (`weights/second.json`), on the open recordings and on
rendered songs of kits kept from training; the shares on both.
"""

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS, FourlimbError

from .habits import Pulse, habits
from .odds import log_odds
from .peaks import Peaks, all_peaks

Floats = npt.NDArray[np.float32]
Doubles = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

WEIGHTS = Path(__file__).parent / "weights" / "second.json"
CLEAREST = 4
"""A sound's evidence in a song is the mean of its highest peaks, this many."""


class Candidates(NamedTuple):
    """Possible strokes of all sounds, shape (n,) each. odds : log-odds of being a stroke, after the second look."""

    sounds: Ints
    frames: Ints
    times_s: Doubles
    heights: Floats
    levels: Floats
    odds: Doubles


@dataclass(frozen=True, eq=False)
class Judge:
    """What is set for each sound, shape (18,) each.

    habit : how much the song's habits count. keep : log-odds from which a candidate is a stroke.
    gate, clear : log-odds lost for each unit that the sound's evidence lies below `clear`.
    slope, offset : share right = logistic(offset + slope (odds - keep)).
    """

    habit: Doubles
    keep: Doubles
    gate: Doubles
    clear: Doubles
    slope: Doubles
    offset: Doubles

    def candidates(self, hits: Floats, levels: Floats, beats: Pulse) -> Candidates:
        """Everything that could be a stroke. hits, levels : shape (n, 18); beats may be empty."""
        peaks = all_peaks(hits, levels)
        counted = np.flatnonzero(self.habit)
        usual = np.zeros(hits.shape)
        usual[:, counted] = habits(hits[:, counted], beats) * self.habit[counted]
        odds = [
            log_odds(p.heights) + usual[p.frames, k] - self.gate[k] * max(0.0, float(self.clear[k]) - evidence(p))
            for k, p in enumerate(peaks)
        ]
        return Candidates(
            np.concatenate([np.full(len(p.frames), k, np.int64) for k, p in enumerate(peaks)]),
            np.concatenate([p.frames for p in peaks]),
            np.concatenate([p.times_s for p in peaks]),
            np.concatenate([p.heights for p in peaks]),
            np.concatenate([p.levels for p in peaks]),
            np.concatenate(odds),
        )

    def margin(self, found: Candidates) -> Doubles:
        """Log-odds above the threshold of each candidate's sound; 0 and more is a stroke."""
        return np.asarray(found.odds - self.keep[found.sounds])

    def confidence(self, found: Candidates) -> Doubles:
        """Share of candidates like this that proved right, 0 to 1."""
        z = self.offset[found.sounds] + self.slope[found.sounds] * self.margin(found)
        return np.asarray(1 / (1 + np.exp(-np.clip(z, -30, 30))))


def evidence(peaks: Peaks) -> float:
    """How clear the clearest moments of a sound are, 0 to 1."""
    return float(np.sort(peaks.heights)[-CLEAREST:].sum()) / CLEAREST


@cache
def shipped_judge() -> Judge:
    """The judge that comes with the package."""
    return read_judge(WEIGHTS.read_text())


def read_judge(text: str) -> Judge:
    """From JSON, as `write_judge` makes it."""
    stored = json.loads(text)
    if [row["sound"] for row in stored["sounds"]] != list(SOUNDS):
        raise FourlimbError("second.json was made for other sounds than this version hears; reinstall fourlimb")
    return Judge(*(np.array([row[f] for row in stored["sounds"]], np.float64) for f in Judge.__annotations__))


def write_judge(judge: Judge) -> str:
    """JSON with one line a sound."""
    columns = {f: np.round(getattr(judge, f), 3).tolist() for f in Judge.__annotations__}
    rows = [{"sound": s, **{f: columns[f][k] for f in columns}} for k, s in enumerate(SOUNDS)]
    return '{"sounds": [\n' + ",\n".join(f" {json.dumps(row)}" for row in rows) + "\n]}\n"
