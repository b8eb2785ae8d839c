"""How a stroke sounded, in a few bytes, and which others sound like those the teacher has named.

The network knows drums in general; the teacher knows this drummer's ride. From two or three strokes put right ("that
is the bell") the others that were taken for the same wrong sound are judged again by how near they are to those, and
nothing has to be heard again: a stroke's colour is kept beside the hits.

Colour: for each of the eighteen sounds how much it was heard there, and for sixteen bands how far the sound rose and
how far it fell 80 ms later; 50 numbers of one byte.

Method of judging: logistic regression with a ridge (Hoerl and Kennard 1970) on colours, the named strokes and the
song's own clear strokes of the right sound against all others of the wrong one; changed is what scores above half of
the least likely named stroke and was not heard more clearly as the wrong sound than they were. Measured with truth as
teacher: `python -m bench.listen`. Cannot: tell strokes apart that the microphone did not.
"""

import base64
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS, Hit, Sound

from .features import FRAMES_PER_S, Floats
from .odds import log_odds

Doubles = npt.NDArray[np.float64]

BEFORE, LATER = 3, 8
"""Frames before a stroke and after it that its rise and fall are measured to."""

ODDS_SPAN, PICTURE_SPAN = 6.0, 2.0
"""What the ends of a byte stand for: log-odds, and units of the pictures (a unit is 40 dB)."""

NEAR_FRAMES: Final = 2
CLEAR: Final = 0.8
NAMED_WEIGHT, CLEAR_WEIGHT, RIDGE, CUT = 5.0, 5.0, 1.0, 0.5
NO_CLEARER: Final = 0.3
"""Weights set on confusions of the open recordings and rendered songs (docs/ears.md)."""


def colours(shades: Floats, activations: Floats, times_s: Sequence[float]) -> tuple[str, ...]:
    """A colour for each time, as text. shades : shape (n, 16), see `features.shades`; activations : shape (n, 18).

    Without shades nobody knows how strokes sounded: all are "".
    """
    if not len(shades):
        return ("",) * len(times_s)
    last = len(activations) - 1
    return tuple(_colour(activations, shades, min(max(round(t * FRAMES_PER_S), 0), last), last) for t in times_s)


def _colour(activations: Floats, shades: Floats, frame: int, last: int) -> str:
    near = activations[max(frame - NEAR_FRAMES, 0) : frame + NEAR_FRAMES + 1].max(axis=0)
    before, on, after, later = (shades[min(max(frame + d, 0), last)] for d in (-BEFORE, 0, 1, LATER))
    top = np.maximum(on, after)
    numbers = np.concatenate([
        log_odds(near) / ODDS_SPAN, (top - before) / PICTURE_SPAN, (later - top) / PICTURE_SPAN
    ])  # fmt: skip
    return base64.b64encode(np.rint(np.clip(numbers, -1, 1) * 127 + 128).astype(np.uint8).tobytes()).decode()


def sounding_like(
    hits: Sequence[Hit], colour: dict[int, str], named: Iterable[int], taken_for: Sound, is_: Sound
) -> tuple[int, ...]:
    """Ids of hits now called `taken_for` that sound like the named ones, which are `is_`.

    colour : by id, as `colours` gives; hits without one are left alone. named : ids of strokes put right.
    """
    examples = [i for i in named if colour.get(i)]
    asked = [h.id for h in hits if h.sound == taken_for and colour.get(h.id) and h.id not in examples]
    clear = [h.id for h in hits if h.sound == is_ and h.confidence > CLEAR and colour.get(h.id)]
    clear = [i for i in clear if i not in examples]
    if not examples or not asked:
        return ()
    numbers = np.array([_numbers(colour[i]) for i in (*examples, *clear, *asked)])
    k, c = len(examples), len(clear)
    weight = np.r_[np.full(k, NAMED_WEIGHT), np.full(c, min(1.0, CLEAR_WEIGHT / max(c, 1))), np.ones(len(asked))]
    true = np.r_[np.ones(k + c), np.zeros(len(asked))]
    basis = np.r_[numbers[:k], numbers[k + c :]]
    x = (numbers - basis.mean(axis=0)) / (basis.std(axis=0) + 0.2) * 4 / np.sqrt(numbers.shape[1])
    score = _logistic(np.c_[x, np.ones(len(x))], true, weight)
    clearer = numbers[:, SOUNDS.index(taken_for)] - numbers[:, SOUNDS.index(is_)]
    most = clearer[:k].max() + NO_CLEARER / 3
    chosen = (score[k + c :] > CUT * score[:k].min()) & (clearer[k + c :] <= most)
    return tuple(i for i, yes in zip(asked, chosen.tolist(), strict=True) if yes)


def _numbers(text: str) -> Doubles:
    """Log-odds in thirds, rises and falls doubled: the scale on which distances were tuned."""
    raw = (np.frombuffer(base64.b64decode(text), np.uint8).astype(np.float64) - 128) / 127
    return np.concatenate([raw[: len(SOUNDS)] * (ODDS_SPAN / 3), raw[len(SOUNDS) :] * (PICTURE_SPAN * 2)])


def _logistic(x: Doubles, true: Doubles, weight: Doubles) -> Doubles:
    """Fitted probabilities, by Newton's method; the last column is the constant and not pulled."""
    w = np.zeros(x.shape[1])
    pull = np.full(x.shape[1], RIDGE)
    pull[-1] = 1e-3
    for _ in range(30):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        slope = x.T @ (weight * (p - true)) + pull * w
        w = w - np.linalg.solve((x * (weight * p * (1 - p))[:, None]).T @ x + np.diag(pull), slope)
    return np.asarray(1 / (1 + np.exp(-np.clip(x @ w, -30, 30))), np.float64)
