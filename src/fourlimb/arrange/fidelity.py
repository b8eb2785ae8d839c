"""What is lost when a stroke is left out: one table of weights.

After the idea of Nakamura and Yoshii (2018) for piano reduction: keep as much of what is heard as the limits
allow, where "much" is measured by what listeners and teachers hold on to. Order (teachers' order of copying a
song: skeleton, snare, kick, then time-keeping, then colour): backbeat and kick first; then what the ear notices
(crash on 1, section starts, fills, loud strokes); then the time-keeping line; then colour. Weights are ours; only
their order is argued for.
"""

from typing import Final

from fourlimb.model import Sound

WEIGHT: Final[dict[Sound, float]] = {
    "snare": 20.0,
    "kick": 20.0,
    "rim": 18.0,
    "tom_floor": 16.0,
    "tom_high": 16.0,
    "tom_mid": 16.0,
    "crash": 14.0,
    "china": 12.0,
    "hat_closed": 9.0,
    "hat_open": 11.0,
    "ride": 9.0,
    "ride_bell": 10.0,
    "splash": 9.0,
    "cowbell": 8.0,
    "clap": 5.0,
    "hat_pedal": 4.0,
    "tambourine": 4.0,
    "shaker": 3.0,
}
"""Fidelity of one ordinary stroke (ours)."""

BACKBEAT_BONUS: Final = 10.0
"""A snare or cross-stick on an even beat (on 3 in half-time)."""
DOWNBEAT_CRASH_BONUS: Final = 8.0
"""A crash on the first beat of a bar."""
ONE_BONUS: Final = 3.0
"""Time-keeping on the first beat of a bar: where only one of two can be, the 1 stays."""
SECTION_START_BONUS: Final = 6.0
"""Anything on the first beat of a section."""
BEAT_KICK_BONUS: Final = 3.0
"""A kick on a beat."""
GHOST_SHARE: Final = 0.4
"""A ghost is worth this share of an ordinary stroke."""
LAYER_SHARE: Final = 0.5
"""A stroke of another player or a machine, where it is kept at all."""
LOUD_SHARE: Final = 0.1
"""Share of the weight gained by a stroke `LOUD_DB` or more above its sound's usual loudness, or lost as far under."""
LOUD_DB: Final = 4.0
DOUBT: Final = ((0.75, 1.0), (0.5, 0.8), (0.0, 0.6))
"""Confidence from which a hit is worth this share of a certain one. Steps, so that like bars agree."""
PINNED: Final = 1e9
"""A stroke the teacher wrote."""


def weight(piece: Sound, *, above_usual_db: float, confidence: float, ghost: bool) -> float:
    """Fidelity of one note before bonuses. `above_usual_db` is relative to the sound's usual loudness."""
    steps = (above_usual_db >= LOUD_DB) - (above_usual_db <= -LOUD_DB)
    sure = next((share for least, share in DOUBT if confidence >= least), DOUBT[-1][1])
    worth = WEIGHT[piece] * (1.0 + LOUD_SHARE * steps) * sure * (GHOST_SHARE if ghost else 1.0)
    return round(worth, 4)
