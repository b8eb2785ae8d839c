"""What is minimised: cross-entropy of hits and pulses, squared error of levels where a stroke starts."""

from dataclasses import dataclass

import torch
import torch.nn.functional as fn

from training.network import Answer

HIT_POSITIVES = 2.0
PULSE_POSITIVES = (3.0, 5.0, 5.0, 1.0, 2.0, 1.0)
PULSE_SHARES = (0.25, 0.25, 0.125, 0.0625, 0.0625, 0.0625)
HITS, LEVELS, PULSE = 3.0, 0.5, 2.0
"""Weights of the three parts; `HITS` multiplies the sum over sounds of the mean over frames."""


@dataclass
class Loss:
    """The parts, for the log, and their sum."""

    hits: torch.Tensor
    levels: torch.Tensor
    pulse: torch.Tensor

    def total(self) -> torch.Tensor:
        """What is minimised."""
        return HITS * self.hits + LEVELS * self.levels + PULSE * self.pulse


def loss(answer: Answer, batch: dict[str, torch.Tensor]) -> Loss:
    """Compare an answer with a batch's target curves (bytes, 255 = 1)."""
    hits, known = batch["hits"].float() / 255, batch["known"].float() / 255
    device = hits.device
    weight = torch.full((hits.shape[2],), HIT_POSITIVES, device=device)
    wrong = fn.binary_cross_entropy_with_logits(answer.hits.float(), hits, pos_weight=weight, reduction="none")
    at_hit = (batch["hits"] == 255).float()
    off = (answer.levels.float() - batch["levels"].float() / 255).square()
    pulse = batch["pulse"].float() / 255
    positives = torch.tensor(PULSE_POSITIVES, device=device)
    away = fn.binary_cross_entropy_with_logits(answer.pulse.float(), pulse, pos_weight=positives, reduction="none")
    share = torch.tensor(PULSE_SHARES, device=device)
    return Loss(
        (wrong * known).mean((0, 1)).sum(),
        (off * at_hit).sum() / (at_hit.sum() + 1),
        ((away.mean(1) * batch["pulse_weight"]).mean(0) * share).sum(),
    )
