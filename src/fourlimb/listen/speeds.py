"""A recording heard twice: as it is, and a little slower and lower.

The network errs in its own way at each speed, and what it hears at both is more often there: the mean of the two
log-odds is worth about one point of F in mixes and two on drums alone (docs/ears.md). A third speed adds nothing.

In: a recording, read three times from its start. Out: one `Answer` in the recording's own time. Only the answer grows
with the recording: the second hearing is worked into the first while it comes.
"""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS, Progress, Recording

from .features import SHADES, count_frames, pictures, rate_at, song_gains
from .network import PULSES, STEP_FRAMES, Answer, Network, listen_in_windows
from .odds import log_odds

Doubles = npt.NDArray[np.float64]

SLOWER = 0.92
"""Speed of the second hearing; the best of .78, .85, .92 and 1.08 on the open recordings."""

STAGE = "listening to the drums"
SHARE = 0.8
"""What part of hearing this is, for progress."""


def hear_twice(network: Network, audio: Recording, progress: Progress) -> Answer:
    """The network's curves for a whole recording, before any decision."""
    frames, slow_frames = count_frames(audio), count_frames(audio, SLOWER)
    total = max(frames + slow_frames, 1)
    gain, slow_gain = song_gains(audio, (1.0, SLOWER))
    first = listen_in_windows(network, pictures(audio, 1.0, gain))
    answer = _gathered(_told(first, 0, total, progress), frames)
    if frames:
        second = listen_in_windows(network, pictures(audio, SLOWER, slow_gain))
        ratio = audio.rate / rate_at(audio, SLOWER)
        _work_in(answer, _told(second, frames, total, progress), ratio)
    return answer


def _told(parts: Iterator[Answer], done: int, total: int, progress: Progress) -> Iterator[Answer]:
    for number, part in enumerate(parts, start=1):
        yield part
        progress(STAGE, SHARE * min(1.0, (done + number * STEP_FRAMES) / total))


def _gathered(parts: Iterator[Answer], frames: int) -> Answer:
    whole = Answer(*(np.zeros((frames, k), np.float32) for k in (len(SOUNDS), len(SOUNDS), len(PULSES), SHADES)))
    at = 0
    for part in parts:
        for into, piece in zip(whole, part, strict=True):
            into[at : at + len(piece)] = piece
        at += len(part.hits)
    return whole


def _work_in(answer: Answer, parts: Iterator[Answer], ratio: float) -> None:
    """The mean of an answer and a slower hearing, in its place. ratio : frames of the slower one for each frame."""
    places: Doubles = np.arange(len(answer.hits)) * np.float64(ratio)
    done, end = 0, 0
    near = Answer(*(part[:0] for part in answer))
    for part in parts:
        near = Answer(*(np.concatenate([old[-1:], new]) for old, new in zip(near, part, strict=True)))
        end += len(part.hits)
        stop = int(np.searchsorted(places, end - 1, side="right"))
        _mean_of(answer, slice(done, stop), near, end - len(near.hits), places)
        done = stop
    _mean_of(answer, slice(done, None), near, end - len(near.hits), places)  # past the slower one's last frame


def _mean_of(answer: Answer, span: slice, slow: Answer, first: int, places: Doubles) -> None:
    """A span of the answer and the slower one, whose frames start at `first`, at these places. Column by column."""
    at, places = np.arange(first, first + len(slow.hits)), places[span]
    for own, other in ((answer.hits[span], slow.hits), (answer.pulse[span], slow.pulse)):
        for k in range(own.shape[1]):
            z = 0.5 * (log_odds(own[:, k]) + np.interp(places, at, log_odds(other[:, k])))
            own[:, k] = 1 / (1 + np.exp(-z))
    levels = answer.levels[span]
    for k in range(levels.shape[1]):
        levels[:, k] = (levels[:, k] + np.interp(places, at, slow.levels[:, k]).astype(np.float32)) * np.float32(0.5)
