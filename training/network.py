"""The network: short convolutions, a dilated stack, attention over the whole window, a wide dilated stack.

Pictures, shape (batch, 2, frames, 80), to `Answer`: hits (logits) and levels (0..1), shape (batch, frames, 18), and
pulse (logits), shape (batch, frames, 6): beat, downbeat, change of harmony, drums present, a stroke that a machine
plays, an open hat ringing. ReLU in front because it is cheap in numpy; attention runs at a quarter of the frame rate
with rotary positions (Su et al. 2021), so any length works.
"""

from dataclasses import asdict, dataclass
from typing import NamedTuple

import torch
import torch.nn.functional as fn
from torch import nn

from training.features import BANDS
from training.sounds import SOUNDS

N = len(SOUNDS)
PULSES = 6
ROTARY_BASE = 1000.0


@dataclass(frozen=True)
class Shape:
    """Sizes. The defaults are the network that ships."""

    front: tuple[int, int, int] = (24, 48, 64)
    width: int = 192
    before: tuple[int, ...] = (1, 2, 4, 8)
    attention: int = 3
    heads: int = 4
    after: tuple[int, ...] = (1, 4, 16, 64)
    dropout: float = 0.1


class Answer(NamedTuple):
    """What the network says of every frame."""

    hits: torch.Tensor
    levels: torch.Tensor
    pulse: torch.Tensor


class Network(nn.Module):
    """The ears."""

    def __init__(self, shape: Shape | None = None) -> None:
        super().__init__()
        self.shape = s = shape or Shape()
        a, b, c = s.front
        self.front = nn.ModuleList([_Conv(2, a), _Conv(a, a), _Conv(a, b), _Conv(b, b), _Conv(b, c)])
        self.join = nn.Sequential(
            nn.Conv1d(c * (BANDS // 8), s.width, 1, bias=False), nn.BatchNorm1d(s.width), nn.GELU("tanh")
        )
        self.before = nn.ModuleList([_Dilated(s.width, d, s.dropout) for d in s.before])
        self.down = nn.Conv1d(s.width, s.width, 4, stride=4)
        self.attention = nn.ModuleList([_Attention(s.width, s.heads, s.dropout) for _ in range(s.attention)])
        self.up = nn.ConvTranspose1d(s.width, s.width, 4, stride=4)
        self.after = nn.ModuleList([_Dilated(s.width, d, s.dropout) for d in s.after])
        self.head = nn.Conv1d(s.width, 2 * N + PULSES, 1)
        self.near = nn.Conv1d(s.width, N, 1)
        with torch.no_grad():
            for bias in (self.head.bias, self.near.bias):
                assert bias is not None
                bias[:N] = -2.0
            assert self.head.bias is not None
            self.head.bias[2 * N :] = -2.5

    def forward(self, pictures: torch.Tensor) -> Answer:
        """Frames must be a multiple of four."""
        y = pictures
        for i, conv in enumerate(self.front):
            y = conv(y)
            if i in (1, 3, 4):
                y = fn.max_pool2d(y, (1, 2))
        y = self.join(y.permute(0, 1, 3, 2).flatten(1, 2))
        for layer in self.before:
            y = layer(y)
        near = self.near(y)
        z = self.down(y).transpose(1, 2)
        for layer in self.attention:
            z = layer(z)
        y = y + self.up(z.transpose(1, 2))
        for layer in self.after:
            y = layer(y)
        out = self.head(y)
        hits = (out[:, :N] + near).transpose(1, 2)
        return Answer(hits, torch.sigmoid(out[:, N : 2 * N]).transpose(1, 2), out[:, 2 * N :].transpose(1, 2))

    def size(self) -> int:
        """Number of weights."""
        return sum(p.numel() for p in self.parameters())

    def describe(self) -> dict[str, object]:
        """The shape as plain data, for checkpoints."""
        return asdict(self.shape)


class _Conv(nn.Module):
    def __init__(self, inputs: int, outputs: int) -> None:
        super().__init__()
        self.conv = nn.Conv2d(inputs, outputs, 3, padding=1, bias=False)
        self.norm = nn.BatchNorm2d(outputs)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return fn.relu(self.norm(self.conv(x)))


class _Dilated(nn.Module):
    def __init__(self, width: int, dilation: int, dropout: float) -> None:
        super().__init__()
        self.wide = nn.Conv1d(width, width, 3, padding=dilation, dilation=dilation, bias=False)
        self.norm = nn.BatchNorm1d(width)
        self.drop = nn.Dropout(dropout)
        self.back = nn.Conv1d(width, width, 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        inner = fn.gelu(self.norm(self.wide(x)), approximate="tanh")
        return torch.as_tensor(x + self.back(self.drop(inner)))


class _Attention(nn.Module):
    def __init__(self, width: int, heads: int, dropout: float) -> None:
        super().__init__()
        self.heads = heads
        self.norm1 = nn.LayerNorm(width)
        self.ask = nn.Linear(width, 3 * width)
        self.out = nn.Linear(width, width)
        self.norm2 = nn.LayerNorm(width)
        self.wide = nn.Linear(width, 2 * width)
        self.narrow = nn.Linear(2 * width, width)
        self.drop = nn.Dropout(dropout)
        half = width // heads // 2
        self.register_buffer("turn", ROTARY_BASE ** -(torch.arange(half) / half), persistent=False)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        size, frames, width = x.shape
        q, k, v = self.ask(self.norm1(x)).view(size, frames, 3, self.heads, -1).permute(2, 0, 3, 1, 4)
        angle = torch.arange(frames, device=x.device)[:, None] * self.get_buffer("turn")
        mixed = fn.scaled_dot_product_attention(_rotate(q, angle), _rotate(k, angle), v)
        x = x + self.drop(self.out(mixed.transpose(1, 2).reshape(size, frames, width)))
        inner = self.drop(fn.gelu(self.wide(self.norm2(x)), approximate="tanh"))
        return torch.as_tensor(x + self.drop(self.narrow(inner)))


def _rotate(x: torch.Tensor, angle: torch.Tensor) -> torch.Tensor:
    cos, sin = angle.cos().to(x.dtype), angle.sin().to(x.dtype)
    a, b = x.chunk(2, -1)
    return torch.cat([a * cos - b * sin, a * sin + b * cos], -1)
