"""Parts that nobody can play, each breaking one limit, in milliseconds from a bar line at 120 bpm."""

from fractions import Fraction as F

import msgspec

from bench.written import KIT
from fourlimb.arrange import check
from fourlimb.model import Chart, Kit, Limb, Sound, Stroke, Struck
from fourlimb.model.grid import regular

WHOLE_MS = 2000
GRID = regular(["4/4"] * 4, 120)
Row = tuple[int, Sound, Limb]
RIGHT: Limb = "right hand"
LEFT: Limb = "left hand"
KICK: Limb = "right foot"
HAT: Limb = "left foot"

GROOVE: tuple[Row, ...] = tuple(
    row
    for beat in range(4)
    for row in (
        (500 * beat, "hat_closed", RIGHT),
        (500 * beat + 250, "hat_closed", RIGHT),
        (500 * beat, "snare" if beat % 2 else "kick", LEFT if beat % 2 else KICK),
    )
)


def chart(rows: tuple[Row, ...], bar: int = 1, **changes: object) -> Chart:
    """Strokes at milliseconds from the bar line; `changes` apply to the first row."""
    strokes = [Stroke(bar=bar, position=F(ms, WHOLE_MS), piece=piece, limb=limb) for ms, piece, limb in rows]
    if changes:
        strokes[0] = msgspec.structs.replace(strokes[0], **changes)
    return Chart(strokes=tuple(strokes), bars=(), grade=1.0)


def limits(made: Chart, kit: Kit = KIT) -> set[str]:
    return {breach.limit for breach in check(made, GRID, kit)}


def evenly(piece: Sound, limb: Limb, gap: int, count: int) -> tuple[Row, ...]:
    return tuple((n * gap, piece, limb) for n in range(count))


IMPOSSIBLE: dict[str, tuple[str, tuple[Row, ...]]] = {
    "three hand sounds at once": (
        "two hands", ((0, "snare", LEFT), (0, "ride", RIGHT), (0, "crash", LEFT))),
    "two sounds at once in one hand": ("one limb, one stroke", ((0, "snare", LEFT), (0, "tom_high", LEFT))),
    "two kicks in 40 ms": ("foot_repeat", evenly("kick", KICK, 40, 2)),
    "three kicks at 70 ms": ("foot_burst", evenly("kick", KICK, 70, 3)),
    "seventeen kicks at 110 ms": ("foot_sustained", evenly("kick", KICK, 110, 17)),
    "one hand twice in 40 ms": ("hand_repeat", evenly("snare", LEFT, 40, 2)),
    "one hand three times at 62 ms": ("hand_burst", evenly("snare", LEFT, 62, 3)),
    "one hand seventeen times at 90 ms": ("hand_sustained", evenly("hat_closed", RIGHT, 90, 17)),
    "crash and floor tom 30 ms apart in one hand": ("travel", ((0, "crash", RIGHT), (30, "tom_floor", RIGHT))),
    "hat to ride in 80 ms": ("travel", ((0, "hat_closed", RIGHT), (80, "ride", RIGHT))),
    "chick on an open hat": ("hat open or closed", ((0, "hat_open", RIGHT), (0, "hat_pedal", HAT))),
    "the hat open and closed at once": (
        "hat open or closed", ((0, "hat_open", RIGHT), (0, "hat_closed", LEFT))),
    "chick 20 ms after an open hat": ("hat_close", ((0, "hat_open", RIGHT), (20, "hat_pedal", HAT))),
    "chicks at 100 ms": ("hat_foot_repeat", evenly("hat_pedal", HAT, 100, 2)),
    "a foot on the snare": ("hand or foot", ((0, "snare", KICK),)),
    "a hand on the kick": ("hand or foot", ((0, "kick", RIGHT),)),
    "the hat foot on the only kick pedal": ("pedal within reach", ((0, "kick", HAT),)),
    "a china that is not there": ("piece on the kit", ((0, "china", RIGHT),)),
    "past the bar line": ("outside the bar", ((2100, "snare", LEFT),)),
    "cross-stick to snare in 50 ms": ("cross_stick", ((0, "rim", LEFT), (50, "snare", LEFT))),
}  # fmt: skip

WAYS: dict[str, tuple[str, tuple[Row, ...], Struck]] = {
    "a stroke 90 ms after a buzz": ("buzz", evenly("snare", LEFT, 90, 2), "buzz"),
    "a stroke 90 ms after a choke": ("choke", evenly("crash", RIGHT, 90, 2), "choke"),
    "a chick on a half-open hat": ("half_open", ((0, "hat_closed", RIGHT), (0, "hat_pedal", HAT)), "half_open"),
}
"""The same for ways of striking: the first stroke is struck so."""
