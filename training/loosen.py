"""Parts that nobody would play, so that the network hears what sounds and does not guess what usually comes.

Drummers play a kick under nearly every crash and hardly ever a kick under a cross-stick on the third beat's snare.
A network that has heard only them writes the kick under every crash, played or not. Here strokes move to other
sounds, come together that never do, fall where nobody puts them, or are missing. What a song usually does is learnt
from the song itself, when it is heard (`listen.habits`).
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from training.parts import HATS, TOMS, Part, Rng
from training.sounds import INDEX

K, S, RIM = (INDEX[n] for n in ("kick", "snare", "rim"))
CR, RD, CH = (INDEX[n] for n in ("crash", "ride", "china"))
TOGETHER_BEATS = 0.06
"""Strokes this close are one moment."""

SCATTERED = (K, K, S, S, RIM, *TOMS, *TOMS, HATS[0], HATS[1], CR, RD)
MOST_CHANGES = 3


def loosen(part: Part, rng: Rng) -> Part:
    """One to three of the changes below, drawn at random."""
    count = int(rng.integers(1, MOST_CHANGES + 1))
    for which in rng.choice(len(CHANGES), count, replace=False):
        if len(part.beats):
            part = CHANGES[int(which)](part, rng)
    return part


def accents(part: Part, rng: Rng) -> Part:
    """Under crashes the kick becomes a snare, or goes, or a snare comes with it."""
    crash = part.beats[np.isin(part.sounds, (CR, CH))]
    if not len(crash):
        return part
    under = _near(part.beats, crash) & np.isin(part.sounds, (K, S))
    sounds, what = part.sounds.copy(), rng.random(len(part.beats))
    sounds[under & (what < 0.5)] = S
    kept = replace(part, sounds=sounds).keep(~(under & (what > 0.8)))
    bare = crash[~_near(crash, kept.beats[np.isin(kept.sounds, (K, S))])]
    some = bare[rng.random(len(bare)) < 0.6]
    return kept.add(some, S, rng.uniform(0.5, 1, len(some)))


def swap(part: Part, rng: Rng) -> Part:
    """A share of kicks and snares change places."""
    sounds, share = part.sounds.copy(), rng.uniform(0.15, 0.6)
    chosen = rng.random(len(sounds)) < share
    sounds[chosen & (part.sounds == K)] = S
    sounds[chosen & (part.sounds == S)] = K
    return replace(part, sounds=sounds)


def together(part: Part, rng: Rng) -> Part:
    """Kicks get a cross-stick, snare, tom or hat with them; or snares get a kick."""
    first, second = ((K, RIM), (K, S), (S, K), (RIM, K), (K, HATS[0]), (S, TOMS[0]), (K, TOMS[2]))[rng.integers(7)]
    at = part.beats[(part.sounds == first) & (rng.random(len(part.beats)) < rng.uniform(0.3, 0.9))]
    return part.add(at + rng.normal(0, 0.006, len(at)), second, rng.uniform(0.3, 1, len(at)))


def scatter(part: Part, rng: Rng) -> Part:
    """Strokes of any sound, on any sixteenth or triplet."""
    last = float(part.beats[-1])
    cells = int(rng.choice([3, 4])) * max(1, int(last))
    at = np.flatnonzero(rng.random(cells) < rng.uniform(0.05, 0.35)) * (last / cells)
    few = rng.choice(SCATTERED, int(rng.integers(1, 5)))
    return part.add(at + rng.normal(0, 0.008, len(at)), rng.choice(few, len(at)), rng.uniform(0.15, 1, len(at)))


def thin(part: Part, rng: Rng) -> Part:
    """Strokes are missing anywhere."""
    return part.keep(rng.random(len(part.beats)) > rng.uniform(0.08, 0.45))


def slip(part: Part, rng: Rng) -> Part:
    """One sound comes a sixteenth or an eighth late against all others."""
    sound = int(rng.choice(np.unique(part.sounds)))
    own = part.sounds == sound
    moved = part.beats[own] + float(rng.choice([0.25, 0.5, 0.75, 1 / 3]))
    return part.keep(~own).add(moved, sound, part.strength[own])


CHANGES: tuple[Callable[[Part, Rng], Part], ...] = (accents, swap, together, scatter, thin, slip)


def _near(beats: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Which of `beats` have one of `others` (sorted or not) within `TOGETHER_BEATS`."""
    if not len(others):
        return np.zeros(len(beats), bool)
    return np.asarray(np.abs(beats[:, None] - others[None]).min(1) < TOGETHER_BEATS)
