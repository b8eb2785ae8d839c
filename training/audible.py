"""Which strokes can be heard at all in a finished mix.

A hat under a wall of guitars is a stroke in the plan and nothing in the sound: asking for it teaches guessing, and
forbidding it would be wrong. Such a stroke is neither asked for nor forbidden. In: the two parts of a mix, pictured.
A stroke counts as heard when, in some band where its sound lives, the drums rise at its start to no less than
`LEAST_DB` under everything else there. Bands and threshold are ours (judged on pictures).
"""

import torch
import torch.nn.functional as fn

from training.features import BANDS, HIGH_HZ, LOW_HZ
from training.sounds import SOUNDS

LEAST_DB = -9.0
BEFORE, AFTER = 3, 3
"""Frames before and after a stroke's start that are compared."""

IGNORED_FRAMES = 2
LIVES_HZ = {
    "kick": (35.0, 5000.0), "snare": (150.0, 9000.0), "rim": (400.0, 9000.0), "clap": (600.0, 9000.0),
    "tom_high": (100.0, 3000.0), "tom_mid": (70.0, 3000.0), "tom_floor": (50.0, 3000.0), "cowbell": (400.0, 9000.0),
}  # fmt: skip
HIGH_SOUND_HZ = (3500.0, 15500.0)
"""Where hats, cymbals, shakers and tambourines live."""


def hide_inaudible(batch: dict[str, torch.Tensor], drums: torch.Tensor, band: torch.Tensor) -> torch.Tensor:
    """`batch["known"]` with what cannot be heard set to 0.

    drums, band : short-window pictures of the two parts at one gain, shape (batch, frames, 80), as `LogMel` gives.
    """
    heard = _rise_db(drums, band)
    best = torch.stack([heard[:, :, low:high].amax(2) for low, high in _reaches()], 2)
    hidden = (batch["hits"] == 255) & (best < LEAST_DB)
    wide = fn.max_pool1d(hidden.float().transpose(1, 2), 2 * IGNORED_FRAMES + 1, 1, IGNORED_FRAMES)
    return torch.where(wide.transpose(1, 2) > 0, torch.zeros_like(batch["known"]), batch["known"])


def _rise_db(drums: torch.Tensor, band: torch.Tensor) -> torch.Tensor:
    """How far drums rise at a frame over what else is there, dB, shape (batch, frames, 80)."""
    loud, other = (10 ** (4 * (x - 1.5)) for x in (drums, band))
    around = fn.avg_pool1d(_rows(other), BEFORE + AFTER + 1, 1, 0)
    padded = fn.pad(_rows(loud), (BEFORE, AFTER), mode="replicate")
    after = fn.max_pool1d(padded[:, :, BEFORE:], AFTER + 1, 1)
    before = padded[:, :, : after.shape[2]]
    around = fn.pad(around, (BEFORE, AFTER), mode="replicate")
    rise = (after - before).clamp_min(1e-12)
    return (10 * torch.log10(rise / (around + before + 1e-12))).view(drums.shape[0], BANDS, -1).transpose(1, 2)


def _rows(x: torch.Tensor) -> torch.Tensor:
    return x.transpose(1, 2)


def _reaches() -> list[tuple[int, int]]:
    scale = torch.log10(1 + torch.tensor([LOW_HZ, HIGH_HZ]) / 300)
    found = []
    for sound in SOUNDS:
        hz = torch.tensor(LIVES_HZ.get(sound, HIGH_SOUND_HZ))
        place = (torch.log10(1 + hz / 300) - scale[0]) / (scale[1] - scale[0]) * (BANDS - 1)
        low, high = (int(p) for p in place)
        found.append((low, max(high, low + 1) + 1))
    return found
