"""A recording heard twice: as it is, and a little slower and lower.

The network errs in its own way at each speed, and what it hears at both is more often there: the mean of the two
log-odds is worth about one point of F in mixes and two on drums alone (docs/ears.md). A third speed adds nothing.

In: decoded sound. Out: one `Answer` in the recording's own time.
"""

from collections.abc import Iterator

import numpy as np

from fourlimb.model import SOUNDS, Audio, Progress

from .features import Floats, count_frames, pictures
from .network import PULSES, STEP_FRAMES, Answer, Network, listen_in_windows
from .odds import log_odds

SLOWER = 0.92
"""Speed of the second hearing; the best of .78, .85, .92 and 1.08 on the open recordings."""

STAGE = "listening to the drums"
SHARE = 0.8
"""What part of hearing this is, for progress."""


def hear_twice(network: Network, audio: Audio, progress: Progress) -> Answer:
    """The network's curves for a whole recording, before any decision."""
    total = max(count_frames(audio) * (1 + 1 / SLOWER), 1.0)
    first = _gathered(_told(listen_in_windows(network, pictures(audio)), 0.0, total, progress))
    if not len(first.hits):
        return first
    slow = Audio(audio.samples, max(1, round(audio.rate * SLOWER)))
    second = _gathered(_told(listen_in_windows(network, pictures(slow)), float(len(first.hits)), total, progress))
    places = np.arange(len(first.hits)) * (audio.rate / slow.rate)
    return Answer(
        _mean_odds(first.hits, second.hits, places),
        (first.levels + _stretched(second.levels, places)) * np.float32(0.5),
        _mean_odds(first.pulse, second.pulse, places),
    )


def _told(parts: Iterator[Answer], done: float, total: float, progress: Progress) -> Iterator[Answer]:
    for number, part in enumerate(parts, start=1):
        yield part
        progress(STAGE, SHARE * min(1.0, (done + number * STEP_FRAMES) / total))


def _gathered(parts: Iterator[Answer]) -> Answer:
    found = list(parts)
    if not found:
        return Answer(*(np.zeros((0, k), np.float32) for k in (len(SOUNDS), len(SOUNDS), len(PULSES))))
    return Answer(*(np.concatenate(p) for p in zip(*found, strict=True)))


def _mean_odds(own: Floats, slow: Floats, places: np.ndarray) -> Floats:
    """Column by column, so that a recording of hours needs little room."""
    out = np.empty_like(own)
    for k in range(own.shape[1]):
        z = 0.5 * (log_odds(own[:, k]) + np.interp(places, np.arange(len(slow)), log_odds(slow[:, k])))
        out[:, k] = 1 / (1 + np.exp(-z))
    return out


def _stretched(curves: Floats, places: np.ndarray) -> Floats:
    out = np.empty((len(places), curves.shape[1]), np.float32)
    for k in range(curves.shape[1]):
        out[:, k] = np.interp(places, np.arange(len(curves)), curves[:, k])
    return out
