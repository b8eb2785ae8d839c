"""Which sounds are not one drummer's: programmed or layered percussion, a second snare, stacked low drums.

Input: placed hits. Output: the same hits with `layer` set where a sound is beside the kit; the arranger decides
what becomes of it.

Method, per song (common practice, no source): a clap on top of the snare is a second snare; a floor tom within 30
ms of most of its kicks is a stacked kick; shaker, tambourine, cowbell or clap beside a kit whose hands already
keep time is hand percussion, or programmed when its timing never leaves the grid while the kit's does.

What it cannot do: tell two snares of different colour that sound one at a time; that needs the sound itself.
"""

from collections import defaultdict
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np

from fourlimb.model import Hit, Layer, Sound
from fourlimb.model.sounds import PERCUSSION

TOGETHER_S: Final = 0.03
MOSTLY: Final = 0.7
MACHINE_MS: Final = 3.0
"""Spread of timing below which nobody plays by hand (10-20 ms is usual; Groove MIDI Dataset)."""
HUMAN_MS: Final = 6.0
LEAST: Final = 8
KEEPERS: Final[frozenset[Sound]] = frozenset({"hat_closed", "hat_open", "ride", "ride_bell"})


def layered(hits: Sequence[Hit]) -> tuple[Hit, ...]:
    """The hits with their layer; hits of the kit keep None."""
    by_sound: dict[Sound, list[Hit]] = defaultdict(list)
    for hit in hits:
        by_sound[hit.sound].append(hit)
    kept_by_kit = {hit.bar for hit in hits if hit.sound in KEEPERS}
    kit_spread = _spread([hit for hit in hits if hit.sound not in PERCUSSION])
    layers: dict[int, Layer] = {}
    for sound in sorted(PERCUSSION & by_sound.keys()):
        group = by_sound[sound]
        if sound == "clap" and _share_on(group, by_sound.get("snare", [])) >= MOSTLY:
            layers.update({hit.id: "second snare" for hit in group})
            continue
        machine = len(group) >= LEAST and _spread(group) < MACHINE_MS and kit_spread > HUMAN_MS
        beside: Layer = "programmed" if machine else "hand percussion"
        layers.update({hit.id: beside for hit in group if machine or hit.bar in kept_by_kit})
    floor, kicks = by_sound.get("tom_floor", []), by_sound.get("kick", [])
    if len(floor) >= LEAST and _share_on(floor, kicks) >= MOSTLY:
        layers.update({hit.id: "stacked kick" for hit in floor if _share_on([hit], kicks) == 1})
    return tuple(msgspec.structs.replace(h, layer=layers[h.id]) if h.id in layers else h for h in hits)


def _share_on(group: Sequence[Hit], others: Sequence[Hit]) -> float:
    """Share of a group's strokes that fall within `TOGETHER_S` of one of the others."""
    if not group or not others:
        return 0.0
    at = np.array([hit.time_s for hit in others])
    return float(np.mean([np.abs(at - hit.time_s).min() < TOGETHER_S for hit in group]))


def _spread(group: Sequence[Hit]) -> float:
    """Robust standard deviation of lateness, in ms; 0 when nothing is placed."""
    late = np.array([hit.late_ms for hit in group if hit.late_ms is not None])
    return float(np.median(np.abs(late - np.median(late)))) * 1.4826 if len(late) else 0.0
