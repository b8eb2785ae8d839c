"""What is written -> what is struck: dynamics, grace notes, ways of striking.

One stroke of a chart is one blow or several: a flam has a soft blow before it, a buzz is a row of bounces. Blows
are at the places the grid gives, swung where it swings. A roll is struck as often as it says, for as long as it says;
the second of a kind (crash, kick) has a colour and a side of its own.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Final

import msgspec

from ..model import Grace, Sheet, Stroke
from ..model.rolls import beat_ends, roll_ends
from .perform import Blow

ACCENT_AT_LEAST: Final = 112
GHOST_AT_MOST: Final = 38
"""Velocities of accents and ghosts whatever the stroke says (common practice, no source)."""

GRACES: Final[dict[Grace, tuple[float, ...]]] = {
    "flam": (0.030,),
    "drag": (0.070, 0.036),
    "ruff": (0.100, 0.067, 0.034),
    "long_ruff": (0.134, 0.100, 0.067, 0.034),
}
"""How long before the main stroke each grace note falls, seconds (common practice, no source: played flams lie
20 to 40 ms apart). They do not stretch when the chart is played slower: a flam stays a flam."""

GRACE_SHARE: Final = 0.5
"""Velocity of a grace note against its main stroke."""

BOUNCE_S: Final = 0.030
BOUNCE_SHARE: Final = 0.55
BUZZ_LONGEST_S: Final = 0.5
"""A buzz: bounces this far apart, at this share of the stroke, until the next stroke or this long (by ear)."""

HALF_OPEN_FADE_S: Final = 0.30
CHOKE_AFTER_S: Final = 0.12
CHOKE_FADE_S: Final = 0.06
RIMSHOT_SHARE: Final = 0.8
"""Seconds a half-open hat and a choked cymbal live; how much rim a rimshot has (by ear)."""

ROLL_SHARE: Final = 0.85
"""Velocity of the strokes inside a roll against its first (ours)."""

BUZZ_ROLL: Final = 64
"""A buzz that is kept up: bounces this many to a whole note (31 ms apart at 120 beats a minute; by ear)."""

When = Callable[[int, Fraction], float]
"""(bar, position) -> seconds in the rendered sound."""


def blows(sheet: Sheet, when: When, from_bar: int, to_bar: int) -> list[Blow]:
    """Every blow of bars `from_bar` to `to_bar`, in time order."""
    strokes = struck_again(sheet, from_bar, to_bar)
    struck: list[Blow] = []
    for index, stroke in enumerate(strokes):
        own = stroke.piece, stroke.second
        following = next((s for s in strokes[index + 1 :] if (s.piece, s.second) == own), None)
        until = when(following.bar, following.position) if following else None
        struck.extend(blows_of(stroke, when(stroke.bar, stroke.position), until))
    return sorted(struck, key=lambda blow: (blow.time_s, blow.sound, blow.velocity))


def struck_again(sheet: Sheet, from_bar: int, to_bar: int) -> list[Stroke]:
    """The strokes of some bars in song order, each roll followed by the strokes it is made of."""
    found: list[Stroke] = []
    for bar, strokes in sheet.chart.by_bar.items():
        if not from_bar <= bar <= to_bar:
            continue
        found += strokes
        if sheet.grid.has(bar):
            meter = sheet.grid.meter(bar)
            for index, end in (roll_ends(meter, strokes) | beat_ends(meter, strokes)).items():
                found += _inside(strokes[index], end)
    return sorted(found, key=lambda s: s.sort_key)


def _inside(stroke: Stroke, end: Fraction) -> Iterator[Stroke]:
    """The strokes of a roll after its first."""
    step = Fraction(1, stroke.roll or BUZZ_ROLL)
    share = ROLL_SHARE if stroke.roll else BOUNCE_SHARE
    velocity = max(1, round(min(dynamic(stroke), stroke.velocity) * share))
    plain = msgspec.structs.replace(
        stroke, accent=False, grace=None, struck=None, roll=0, lasts=Fraction(0), velocity=velocity, word=""
    )
    at = stroke.position + step
    while at < end:
        yield msgspec.structs.replace(plain, position=at)
        at += step


def blows_of(stroke: Stroke, time_s: float, until_s: float | None) -> Iterator[Blow]:
    """The blows of one stroke; `until_s` is when the same piece is struck next, if it is."""
    for blow in _plain_blows(stroke, time_s, until_s):
        yield replace(blow, second=stroke.second, rings=stroke.struck == "let_ring")


def _plain_blows(stroke: Stroke, time_s: float, until_s: float | None) -> Iterator[Blow]:
    velocity = dynamic(stroke)
    if stroke.tied:
        velocity = max(1, round(velocity * ROLL_SHARE))
    for before in GRACES.get(stroke.grace, ()) if stroke.grace else ():
        yield Blow(time_s - before, stroke.piece, max(1, round(velocity * GRACE_SHARE)))
    if stroke.struck == "half_open":
        yield Blow(time_s, "hat_open", velocity, stop=(time_s + 0.02, HALF_OPEN_FADE_S))
    elif stroke.struck == "foot_splash":
        yield Blow(time_s, "hat_open", max(1, velocity // 2))
    elif stroke.struck == "choke":
        yield Blow(time_s, stroke.piece, velocity, stop=(time_s + CHOKE_AFTER_S, CHOKE_FADE_S))
    else:
        yield Blow(time_s, stroke.piece, velocity)
    if stroke.struck == "rimshot":
        yield Blow(time_s, "rim", max(1, round(velocity * RIMSHOT_SHARE)))
    if stroke.struck == "buzz" and not stroke.lasts:
        yield from _bounces(stroke, time_s, until_s, velocity)


def _bounces(stroke: Stroke, time_s: float, until_s: float | None, velocity: int) -> Iterator[Blow]:
    length = BUZZ_LONGEST_S if until_s is None else min(BUZZ_LONGEST_S, until_s - time_s - BOUNCE_S)
    count = int(length / BOUNCE_S)
    for bounce in range(1, count + 1):
        fading = 1 - 0.5 * bounce / (count + 1)
        yield Blow(time_s + bounce * BOUNCE_S, stroke.piece, max(1, round(velocity * BOUNCE_SHARE * fading)))


def dynamic(stroke: Stroke) -> int:
    """Velocity 1 to 127 with accents and ghosts made sure of."""
    velocity = max(1, min(127, stroke.velocity))
    if stroke.accent:
        return max(velocity, ACCENT_AT_LEAST)
    return min(velocity, GHOST_AT_MOST) if stroke.ghost else velocity
