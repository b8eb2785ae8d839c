"""Fits the table of `fourlimb/listen/weigh.py`: a conditional choice with one hidden layer, by gradient descent.

Needs torch (the `training` extra). Seeded: the same choices give the same table on the same machine.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import torch

from fourlimb.listen.weigh import FARTHEST

from .choices import Choice

THRESHOLDS = 48
SUMS = 5
EPOCHS = 40
BATCH = 64
RATE = 3e-3
DECAY = 1.0
DROPPED = 0.15
NOISE = 0.1
"""Of signs scaled to unit spread."""
LEAST_SPREAD = 0.02


class Points(torch.nn.Module):
    """Points of rows of signs."""

    def __init__(self, signs: int) -> None:
        super().__init__()
        self.straight = torch.nn.Linear(signs, 1, bias=False)
        self.inner, self.outer = torch.nn.Linear(signs, THRESHOLDS), torch.nn.Linear(THRESHOLDS, 1, bias=False)
        self.drop = torch.nn.Dropout(DROPPED)
        torch.nn.init.zeros_(self.straight.weight)
        torch.nn.init.normal_(self.inner.weight, 0, 0.5 / signs**0.5)
        torch.nn.init.normal_(self.outer.weight, 0, 0.05)

    def forward(self, signs: torch.Tensor) -> torch.Tensor:
        """Points, shape (takes, ways); in training some signs are left out of whole takes."""
        bent = self.outer(self.drop(torch.tanh(self.inner(signs * self.drop(torch.ones_like(signs[:, :1]))))))
        return (self.straight(signs) + bent)[..., 0]


def one_fit(choices: Sequence[Choice], seed: int) -> dict[str, np.ndarray]:
    """The weights of one fit, in the names of `weigh.Weights`."""
    torch.set_num_threads(1)
    choices = [choice for choice in choices if choice.true.any()]
    rows = np.concatenate([choice.rows for choice in choices])
    mean, spread = rows.mean(axis=0), rows.std(axis=0) + LEAST_SPREAD
    fit = fitted(in_arrays(choices, mean, spread), seed)
    parts = {
        "straight": fit.straight.weight[0], "inner": fit.inner.weight.T, "bias": fit.inner.bias,
        "outer": fit.outer.weight[0],
    }  # fmt: skip
    found = {name: value[None].detach().numpy().astype(np.float32) for name, value in parts.items()}
    return {"mean": mean.astype(np.float32), "spread": spread.astype(np.float32), **found}


def together(fits: Sequence[dict[str, np.ndarray]]) -> dict[str, np.ndarray]:
    """The table of fits to the same choices that differ in how they start."""
    own = {name: fits[0][name] for name in ("mean", "spread")}
    return own | {name: np.concatenate([fit[name] for fit in fits]) for name in fits[0] if name not in own}


class Takes(NamedTuple):
    """Choices as even arrays: signs (takes, ways, signs), which ways there are and which are true, weights."""

    signs: torch.Tensor
    there: torch.Tensor
    true: torch.Tensor
    weight: torch.Tensor

    def some(self, chosen: np.ndarray) -> "Takes":
        """Some of the takes."""
        return Takes(*(part[torch.from_numpy(chosen)] for part in self))


def in_arrays(choices: Sequence[Choice], mean: np.ndarray, spread: np.ndarray) -> Takes:
    """Choices with as many ways each, those that there are not marked so."""
    ways = max(len(choice.rows) for choice in choices)
    signs = np.zeros((len(choices), ways, len(mean)), np.float32)
    there, true = np.zeros((2, len(choices), ways), np.bool_)
    for n, choice in enumerate(choices):
        own = slice(len(choice.rows))
        signs[n, own] = np.clip((choice.rows - mean) / spread, -FARTHEST, FARTHEST)
        there[n, own], true[n, own] = True, choice.true
    weight = np.array([choice.weight for choice in choices], np.float32)
    return Takes(*map(torch.from_numpy, (signs, there, true, weight)))


def fitted(takes: Takes, seed: int) -> Points:
    """One fit."""
    torch.manual_seed(seed)
    rng = np.random.default_rng(seed)
    count = len(takes.weight)
    net = Points(takes.signs.shape[2])
    walker = torch.optim.AdamW(net.parameters(), lr=RATE, weight_decay=DECAY)
    slower = torch.optim.lr_scheduler.CosineAnnealingLR(walker, EPOCHS * -(-count // BATCH))
    for _ in range(EPOCHS):
        order = rng.permutation(count)
        for first in range(0, count, BATCH):
            lost = _loss(net, takes.some(order[first : first + BATCH]))
            walker.zero_grad()
            lost.backward()
            walker.step()
            slower.step()
    net.eval()
    return net


def _loss(net: Points, takes: Takes) -> torch.Tensor:
    """Minus the mean log-probability of the true ways, each take by its weight."""
    points = net(takes.signs + NOISE * torch.randn_like(takes.signs[:1]))
    every = torch.logsumexp(points.masked_fill(~takes.there, -torch.inf), 1)
    right = torch.logsumexp(points.masked_fill(~takes.true, -torch.inf), 1)
    return (takes.weight * (every - right)).sum() / takes.weight.sum()
