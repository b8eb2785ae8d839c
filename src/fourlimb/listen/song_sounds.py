"""Hearing again with the song as teacher: which of all bumps in the curves are strokes, and how sure that is.

The first pass judges every moment alone. Here each candidate stroke is judged again by

- where this song's own peaks of that sound part into strokes and rest (`own_split`): a ride that is faint all through
  a song is still a ride, and where a sound is clear, what is faint is something else;
- whether the kit has such a sound at all: where not even the clearest moments of a sound are clear, all of it is
  doubted more (the gate);
- what the song does at the same place of other bars (`habits`), for the sounds that keep time or carry the beat;
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
from .odds import log_odds, probability
from .own_split import own_split
from .peaks import Peaks, all_peaks

Floats = npt.NDArray[np.float32]
Doubles = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

WEIGHTS = Path(__file__).parent / "weights" / "second.json"
CLEAREST = 4
"""A sound's evidence in a song is the mean of its highest peaks, this many."""


FARTHEST = 1.5
"""The song's own split counts up to so many log-odds either way."""
RISES_FROM = -1.0
"""Log-odds of a song's habit above which it speaks for a sound that it never speaks against (ours)."""


class Candidates(NamedTuple):
    """Possible strokes of all sounds, shape (n,) each. odds : log-odds of being a stroke, after the second look.

    risen : what of them comes from habits that only speak for a stroke: it says what to write, not how sure it is.
    """

    sounds: Ints
    frames: Ints
    times_s: Doubles
    heights: Floats
    levels: Floats
    odds: Doubles
    risen: Doubles


@dataclass(frozen=True, eq=False)
class Judge:
    """What is set for each sound, shape (18,) each.

    gate, clear : log-odds lost for each unit that the sound's evidence lies below `clear`.
    own : how much of the song's own split counts. even : log-odds, above all that, that are an even chance.
    habit : how much the song's habits count; rise : how much more they do where they speak for a stroke: a cymbal
    struck once is no less likely for it, a ride struck all along is likelier.
    keep : log-odds from which a candidate is a stroke, habits included.
    slope, offset : share right = logistic(offset + slope (odds - risen - keep)).
    """

    gate: Doubles
    clear: Doubles
    own: Doubles
    even: Doubles
    habit: Doubles
    rise: Doubles
    keep: Doubles
    slope: Doubles
    offset: Doubles

    def candidates(self, hits: Floats, levels: Floats, beats: Pulse) -> Candidates:
        """Everything that could be a stroke. hits, levels : shape (n, 18); beats may be empty."""
        peaks = all_peaks(hits, levels)
        even = np.array([self._even(p, k) for k, p in enumerate(peaks)])
        odds = [log_odds(p.heights) - even[k] for k, p in enumerate(peaks)]
        risen = [np.zeros(len(p.frames)) for p in peaks]
        counted = np.flatnonzero((self.habit > 0) | (self.rise > 0))
        usual = habits(hits[:, counted], beats, even[counted])
        for column, k in enumerate(counted.tolist()):
            there = usual[peaks[k].frames, column]
            risen[k] = self.rise[k] * np.maximum(there - RISES_FROM, 0.0)
            odds[k] = odds[k] + self.habit[k] * there + risen[k]
        return Candidates(
            np.concatenate([np.full(len(p.frames), k, np.int64) for k, p in enumerate(peaks)]),
            np.concatenate([p.frames for p in peaks]),
            np.concatenate([p.times_s for p in peaks]),
            np.concatenate([p.heights for p in peaks]),
            np.concatenate([p.levels for p in peaks]),
            np.concatenate(odds),
            np.concatenate(risen),
        )

    def _even(self, peaks: Peaks, sound: int) -> float:
        """Log-odds of a curve's height that are an even chance for this sound in this song."""
        unclear = float(self.gate[sound]) * max(0.0, float(self.clear[sound]) - evidence(peaks))
        split = own_split(log_odds(peaks.heights) - unclear)
        return unclear + float(self.own[sound]) * float(np.clip(split, -FARTHEST, FARTHEST)) + float(self.even[sound])

    def margin(self, found: Candidates) -> Doubles:
        """Log-odds above the threshold of each candidate's sound; 0 and more is a stroke."""
        return np.asarray(found.odds - self.keep[found.sounds])

    def confidence(self, found: Candidates) -> Doubles:
        """Share of candidates like this that proved right, 0 to 1."""
        z = self.offset[found.sounds] + self.slope[found.sounds] * (self.margin(found) - found.risen)
        return probability(z)


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
