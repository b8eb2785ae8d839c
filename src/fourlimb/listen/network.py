"""The trained network, run with numpy alone.

In: pictures of sound (see `features`). Out: for every frame how surely each of the eighteen sounds starts there, how
loud,
and how surely a beat, the first beat of a bar and a change of harmony fall there and drums are playing at all.

Method. Convolutions in time and frequency, a stack of dilated convolutions, attention over the whole window at a
quarter of the frame rate with rotary positions (Su et al. 2021), a second dilated stack. Every convolution is a
matrix
product over shifted copies; normalisation is folded into the weights. Windows of 16 s overlap by 1.6 s on each side
and
are always the same windows of the song, so neither block size nor memory changes a result.

How it was trained, on what, and what it was never tested on: docs/ears.md.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fourlimb.model import SOUNDS, FourlimbError

from .convolve import convolve, framed, inside
from .features import SHADES, SILENCE, shades

Floats = npt.NDArray[np.float32]

WINDOW_FRAMES = 1600
CONTEXT_FRAMES = 160
STEP_FRAMES = WINDOW_FRAMES - 2 * CONTEXT_FRAMES
ROTARY_BASE = 1000.0

ROWS_AT_ONCE = 200
"""Frames worked on together: their numbers stay in the processor's nearer caches."""

WEIGHTS = Path(__file__).parent / "weights" / "ears.npz"
PULSES = ("beat", "downbeat", "change", "drums_present")


class Answer(NamedTuple):
    """What the network says. hits, levels : shape (n, 18), 0 to 1; pulse : shape (n, 4), 0 to 1, see `PULSES`.

    shades : shape (n, 16), what it saw, in few bands (see `features.shades`); empty where nobody kept it.
    """

    hits: Floats
    levels: Floats
    pulse: Floats
    shades: Floats = np.zeros((0, SHADES), np.float32)


@dataclass(frozen=True, eq=False)
class Network:
    """Weights, by name; `layers` counts how many there are of each repeated kind."""

    weights: dict[str, Floats]
    name: str
    level_floor_db: float
    dilations: tuple[tuple[int, ...], tuple[int, ...]]
    fronts: int
    attentions: int
    heads: int

    def window(self, picture: Floats, front: Floats | None = None) -> Answer:
        """Answer for one window. picture : shape (frames, 2, 80), frames a multiple of four; front : its `front`."""
        y = self.front(picture) if front is None else front
        for i, dilation in enumerate(self.dilations[0]):
            y = self._dilated(y, f"before{i}", dilation)
        near = self._linear(y, "near")
        z = self._linear(y.reshape(len(y) // 4, -1), "down")
        for i in range(self.attentions):
            z = self._attention(z, f"attention{i}")
        y = y + self._linear(z, "up").reshape(y.shape)
        for i, dilation in enumerate(self.dilations[1]):
            y = self._dilated(y, f"after{i}", dilation)
        out = self._linear(y, "head")
        n = len(SOUNDS)
        hits, levels, pulse = _sigmoid(out[:, :n] + near), _sigmoid(out[:, n : 2 * n]), _sigmoid(out[:, 2 * n :])
        return Answer(hits, levels, pulse, shades(picture))

    def front(self, picture: Floats) -> Floats:
        """The convolutions in time and frequency, shape (frames, width); a frame depends on `fronts` to each side."""
        frames, _, bands = picture.shape
        y = framed(frames, bands, 2)
        inside(y, bands)[:] = picture.transpose(0, 2, 1)
        for i in range(self.fronts):
            halved = i in (1, 3, 4)
            y = convolve(y, bands, self.weights[f"front{i}.weight"], self.weights[f"front{i}.bias"], halved=halved)
            bands = bands // 2 if halved else bands
        seen = inside(y, bands)
        parts = [_gelu(self._linear(seen[rows].reshape(-1, seen[0].size), "join")) for rows in _in_turn(frames)]
        return np.concatenate(parts)

    def _dilated(self, x: Floats, name: str, dilation: int) -> Floats:
        padded = np.pad(x, ((dilation, dilation), (0, 0)))
        out = np.empty_like(x)
        for rows in _in_turn(len(x)):
            taps = [padded[rows.start + k * dilation : rows.stop + k * dilation] for k in range(3)]
            inner = _gelu(self._linear(np.concatenate(taps, axis=1), f"{name}.wide"))
            np.add(x[rows], self._linear(inner, f"{name}.back"), out=out[rows])
        return out

    def _attention(self, x: Floats, name: str) -> Floats:
        n, width = x.shape
        size = width // self.heads
        asked = self._linear(self._normal(x, f"{name}.norm1"), f"{name}.ask").reshape(n, 3, self.heads, size)
        q, k, v = np.ascontiguousarray(asked.transpose(1, 2, 0, 3))
        turn = _turns(n, size // 2)
        q, k = _rotate(q, *turn) / np.float32(np.sqrt(size)), _rotate(k, *turn)
        mixed = np.empty((n, self.heads, size), np.float32)
        for head in range(self.heads):
            scores = q[head] @ k[head].T
            scores -= scores.max(axis=1, keepdims=True)
            np.exp(scores, out=scores)
            mixed[:, head] = (scores @ v[head]) / scores.sum(axis=1, keepdims=True)
        x = x + self._linear(mixed.reshape(n, width), f"{name}.out")
        inner = _gelu(self._linear(self._normal(x, f"{name}.norm2"), f"{name}.wide"))
        return x + self._linear(inner, f"{name}.narrow")

    def _linear(self, x: Floats, name: str) -> Floats:
        y: Floats = x @ self.weights[f"{name}.weight"]
        y += self.weights[f"{name}.bias"]
        return y

    def _normal(self, x: Floats, name: str) -> Floats:
        centred = x - x.mean(axis=1, keepdims=True)
        scale = np.sqrt((centred * centred).mean(axis=1, keepdims=True) + np.float32(1e-5))
        y: Floats = centred / scale * self.weights[f"{name}.weight"] + self.weights[f"{name}.bias"]
        return y


@cache
def shipped() -> Network:
    """The network that comes with the package."""
    return read_network(WEIGHTS)


def read_network(path: Path) -> Network:
    """Open a weight file (see `training/export.py` for what is in it)."""
    with np.load(path) as stored:
        if tuple(stored["sounds"].tolist()) != SOUNDS:
            raise FourlimbError(
                f"{path.name} was trained for other sounds than this version hears; reinstall fourlimb"
            )
        arrays = {k: np.ascontiguousarray(stored[k].astype(np.float32)) for k in stored.files if "." in k}
        before, after = (tuple(int(d) for d in stored[k]) for k in ("before", "after"))
        fronts = sum(k.startswith("front") and k.endswith("weight") for k in arrays)
        attentions = sum(k.endswith("norm1.weight") for k in arrays)
        name, floor, heads = str(stored["name"]), float(stored["level_floor_db"]), int(stored["heads"])
    return Network(arrays, name, floor, (before, after), fronts, attentions, heads)


def listen_in_windows(network: Network, pieces: Iterable[Floats]) -> Iterator[Answer]:
    """Answers for consecutive stretches of `STEP_FRAMES` frames; the last one is shorter.

    pieces : consecutive pictures, shape (n, 2, 80) each, of any lengths.
    """
    front = None
    for picture, n in _windows(pieces):
        front = front_after(network, picture, front)
        yield _middle(network.window(picture, front), n)


def _windows(pieces: Iterable[Floats]) -> Iterator[tuple[Floats, int]]:
    """Every window, and how many frames it answers for."""
    silence = np.full((CONTEXT_FRAMES, 2, 80), SILENCE, np.float32)
    held = silence
    for piece in pieces:
        held = np.concatenate([held, piece])
        while len(held) >= WINDOW_FRAMES:
            yield held[:WINDOW_FRAMES], STEP_FRAMES
            held = held[STEP_FRAMES:]
    left = len(held) - CONTEXT_FRAMES
    while left > 0:
        rest = np.full((WINDOW_FRAMES, 2, 80), SILENCE, np.float32)
        rest[: min(len(held), WINDOW_FRAMES)] = held[:WINDOW_FRAMES]
        yield rest, min(left, STEP_FRAMES)
        held = held[STEP_FRAMES:]
        left -= STEP_FRAMES


def front_after(network: Network, picture: Floats, before: Floats | None) -> Floats:
    """The front of a window; what it shares with the window before is taken from that one's, less its edges."""
    if before is None:
        return network.front(picture)
    edge, shared = network.fronts, WINDOW_FRAMES - STEP_FRAMES
    start = network.front(picture[: 2 * edge])[:edge]
    new = network.front(picture[shared - 2 * edge :])[edge:]
    return np.concatenate([start, before[STEP_FRAMES + edge : -edge], new])


def _middle(answer: Answer, n: int) -> Answer:
    return Answer(*(part[CONTEXT_FRAMES : CONTEXT_FRAMES + n] for part in answer))


def _in_turn(frames: int) -> Iterator[slice]:
    return (slice(start, min(start + ROWS_AT_ONCE, frames)) for start in range(0, frames, ROWS_AT_ONCE))


def _gelu(x: Floats) -> Floats:
    """The tanh form of Hendrycks and Gimpel (2016), as in training."""
    inner = np.float32(0.7978845608) * (x + np.float32(0.044715) * x * x * x)
    return np.asarray(np.float32(0.5) * x * (np.float32(1) + np.tanh(inner)), np.float32)


def _sigmoid(x: Floats) -> Floats:
    y: Floats = np.float32(0.5) * (np.float32(1) + np.tanh(np.float32(0.5) * x))
    return y


@cache
def _turns(frames: int, half: int) -> tuple[Floats, Floats]:
    angle = np.arange(frames)[:, None] * ROTARY_BASE ** -(np.arange(half) / half)
    return np.cos(angle).astype(np.float32), np.sin(angle).astype(np.float32)


def _rotate(x: Floats, cos: Floats, sin: Floats) -> Floats:
    a, b = np.split(x, 2, axis=-1)
    return np.concatenate([a * cos - b * sin, a * sin + b * cos], axis=-1)
