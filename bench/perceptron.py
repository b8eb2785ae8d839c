"""Fits the table of `fourlimb/listen/weigh.py`: a conditional choice with one hidden layer, by gradient descent.

Needs torch (the `training` extra). Seeded: the same choices give the same table on the same machine.
"""

from collections.abc import Sequence

import numpy as np
import torch

from fourlimb.listen.weigh import FARTHEST

from .choices import Choice

THRESHOLDS = 24
SUMS = 5
EPOCHS = 60
BATCH = 64
RATE = 3e-3
DECAY = 0.2
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
        """Points, shape (ways,)."""
        bent = self.outer(self.drop(torch.tanh(self.inner(self.drop(signs)))))
        return (self.straight(signs) + bent)[:, 0]


def table(choices: Sequence[Choice], *, sums: int = SUMS) -> dict[str, np.ndarray]:
    """The weights of a few fits that differ in how they start, in the names of `weigh.Weights`."""
    torch.set_num_threads(1)
    choices = [choice for choice in choices if choice.true.any()]
    rows = np.concatenate([choice.rows for choice in choices])
    mean, spread = rows.mean(axis=0), rows.std(axis=0) + LEAST_SPREAD
    fits = [fitted(choices, mean, spread, seed) for seed in range(sums)]
    parts = {
        "straight": [fit.straight.weight[0] for fit in fits], "inner": [fit.inner.weight.T for fit in fits],
        "bias": [fit.inner.bias for fit in fits], "outer": [fit.outer.weight[0] for fit in fits],
    }  # fmt: skip
    found = {name: torch.stack(values).detach().numpy().astype(np.float32) for name, values in parts.items()}
    return {"mean": mean.astype(np.float32), "spread": spread.astype(np.float32), **found}


def fitted(choices: Sequence[Choice], mean: np.ndarray, spread: np.ndarray, seed: int) -> Points:
    """One fit."""
    torch.manual_seed(seed)
    rng = np.random.default_rng(seed)
    net = Points(len(mean))
    scaled = [np.clip((choice.rows - mean) / spread, -FARTHEST, FARTHEST) for choice in choices]
    signs = [torch.tensor(rows, dtype=torch.float32) for rows in scaled]
    walker = torch.optim.AdamW(net.parameters(), lr=RATE, weight_decay=DECAY)
    rounds = EPOCHS * (len(choices) // BATCH + 1)
    slower = torch.optim.lr_scheduler.CosineAnnealingLR(walker, rounds)
    for _ in range(EPOCHS):
        order = rng.permutation(len(choices))
        for first in range(0, len(order), BATCH):
            chosen = order[first : first + BATCH]
            lost = _loss(net, [signs[n] for n in chosen], [choices[n] for n in chosen])
            walker.zero_grad()
            lost.backward()
            walker.step()
            slower.step()
    net.eval()
    return net


def _loss(net: Points, signs: Sequence[torch.Tensor], choices: Sequence[Choice]) -> torch.Tensor:
    """Minus the mean log-probability of the true ways, each song by its weight."""
    rows = torch.cat(list(signs))
    points = net(rows + NOISE * torch.randn_like(rows))
    total = torch.zeros(())
    for own, choice in zip(torch.split(points, [len(s) for s in signs]), choices, strict=True):
        right = own[torch.tensor(choice.true)]
        total = total + choice.weight * (torch.logsumexp(own, 0) - torch.logsumexp(right, 0))
    return total / sum(choice.weight for choice in choices)
