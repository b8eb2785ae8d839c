"""What a batch of clips is made of and becomes: the meeting point of `render` and `effects`."""

from dataclasses import dataclass

import torch

Batch = dict[str, torch.Tensor]
"""Plans of several clips as arrays, as `plan.batch` makes them."""


@dataclass
class Mixdown:
    """Rendered clips, shape (batch, samples): the whole, and its two parts at the level they have in it."""

    mix: torch.Tensor
    drums: torch.Tensor
    band: torch.Tensor
