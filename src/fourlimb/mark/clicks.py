"""A metronome that the microphone hears: strokes of a machine among those of a player.

A click is a machine: it comes evenly. Struck by hand on a click, strokes of one sound lie 4 to 20 ms around an even
line; the click itself, as ears hear it, about 1 ms. So for each sound that a click is taken for, the even line with
most strokes on it is looked for, and where half of the strokes near it are within a few ms of it, they are a click.
Neither level nor colour is asked for: drums that sound with the click change both as ears hear them.

Method: the line's period is the peak of the strokes' phases summed over frequency (a Rayleigh periodogram; Mardia and
Jupp, *Directional Statistics*, 2000), made exact by least squares over strokes ever nearer to it.
"""

from collections.abc import Collection, Iterator, Sequence
from math import sqrt
from typing import Final, NamedTuple

import numpy as np

from fourlimb.model import Hit, Sound, Stroke
from fourlimb.model.sounds import FOOT, INSTRUMENT, TOMS

from .written import Floats

PART_S: Final = 60.0
"""Length of take looked at at once: the player may stop the click, or set it to another tempo (ours)."""

FASTEST_HZ: Final = 6.0
SLOWEST_HZ: Final = 0.5
"""Clicks a second: from a click on every half bar to one on every 16th (ours)."""

FINER: Final = 8
"""Frequencies tried within the width of a peak (ours)."""

PEAKS: Final = 6
"""Periods tried: the click, its double and half, and the player's own (ours)."""

NARROWING_S: Final = (0.03, 0.015, 0.008)
"""How near to the line strokes are that the next line goes through (ours)."""

NEAR_S: Final = 0.02
"""Strokes this near to the line tell how even they are."""

MACHINE_S: Final = 0.0025
"""Spread (1.48 times the median distance) from which down strokes are a machine's: heard clicks have .0005 to .002,
a minute of one sound of the Groove set's learning half .004 and more (measured once)."""

ON_S: Final = 0.007
"""A stroke this near to where a click falls is the click (ours: nearly three spreads)."""

FEWEST: Final = 10
SHARE: Final = 0.25
"""Fewest strokes that are a click, and the least share of all clicks between the first and the last: drums hide many
(ours)."""

FEWEST_FOREIGN: Final = 5
"""Fewest strokes that are a click where nothing of their sound is written: nobody plays what is not there so evenly
(ours; five strokes of chance are on one line once in some hundred takes)."""

OWN_S: Final = 0.025
"""A click this near to a stroke that is written and else missing may be that stroke (seconds of the take; ours: some
three times the spread of a good amateur; a stroke further off is no likelier than the click that is due)."""

SAY: Final = "A click is heard in this take and left out. It hides soft strokes: record with the click in headphones."

NEVER: Final[frozenset[Sound]] = FOOT | TOMS | {"crash", "china"}
"""What no click is heard as."""


class Line(NamedTuple):
    """Clicks fall at `at_s` + n x `every_s`, n whole, between `first_s` and `last_s`. Seconds of the take."""

    at_s: float
    every_s: float
    first_s: float
    last_s: float

    def away(self, times_s: Floats) -> Floats:
        """Distance of each time from the nearest click, signed, seconds; `times_s`: shape (n,)."""
        turns = (times_s - self.at_s) / self.every_s
        return (turns - np.round(turns)) * self.every_s


def clicks_among(
    hits: Sequence[Hit], *, alike: bool = True, written: Collection[Sound] | None = None
) -> frozenset[int]:
    """Indices of the hits that a click may have made; none where nothing comes as evenly as a machine.

    `hits`: in order of time; `alike`: ears give the click one name, so that it is looked for sound by sound. A stroke
    of the player that falls within a few milliseconds of a click is among them. `written`: sounds of the chart: of
    others fewer strokes are enough (None: none are).
    """
    times = np.array([hit.time_s for hit in hits])
    found: set[int] = set()
    for line in _lines(hits, alike, written):
        inside = (times > line.first_s - NEAR_S) & (times < line.last_s + NEAR_S)
        on = inside & (np.abs(line.away(times)) <= ON_S)
        found.update(j for j, hit in enumerate(hits) if on[j] and hit.sound not in NEVER)
    return frozenset(found)


def not_written(clicks: frozenset[int], hits: Sequence[Hit], gaps: Sequence[tuple[Stroke, float]]) -> frozenset[int]:
    """Those clicks that fill no gap: a stroke that is written, and found nowhere else, may sound in one.

    `gaps`: strokes that no other hit is, each with the second of the take at which it is due.
    """
    left = set(clicks)
    for stroke, due_s in gaps:
        near = [
            j
            for j in left
            if INSTRUMENT[hits[j].sound] == INSTRUMENT[stroke.piece] and abs(hits[j].time_s - due_s) <= OWN_S
        ]
        if near:
            left.remove(min(near, key=lambda j: (hits[j].sound != stroke.piece, abs(hits[j].time_s - due_s), j)))
    return frozenset(left)


def _lines(hits: Sequence[Hit], alike: bool, written: Collection[Sound] | None) -> Iterator[Line]:
    """The lines on which a machine's strokes stand, sound by sound and part by part of the take."""
    able = [hit for hit in hits if hit.sound not in NEVER]
    for sound in sorted({hit.sound for hit in able}) if alike else [None]:
        times = np.array([hit.time_s for hit in able if sound is None or hit.sound == sound])
        for part in _parts(times):
            foreign = sound is not None and written is not None and sound not in written
            line = machine_line(part, FEWEST_FOREIGN if foreign else FEWEST)
            if line is not None:
                yield line


def machine_line(times_s: Floats, fewest: int = FEWEST) -> Line | None:
    """The even line that strokes of one sound stand on; None where they are a player's, or fewer than `fewest`.

    `times_s`: shape (n,), seconds, increasing. Of several lines the one with most clicks and fewest left out: one on
    every other beat leaves out fewer, and the clicks between.
    """
    if len(times_s) < fewest or times_s[-1] <= times_s[0]:
        return None
    lines = [line for every in _periods(times_s) if (line := _line(times_s, every, fewest)) is not None]
    machines = [line for line in lines if _is_machine(line, times_s, fewest)]
    return max(machines, key=lambda line: _on(line, times_s) * sqrt(_heard_share(line, times_s)), default=None)


def _line(times_s: Floats, every_s: float, fewest: int) -> Line | None:
    """The line of about this period, drawn through strokes ever nearer to it."""
    at = float(np.angle(np.mean(np.exp(2j * np.pi * times_s / every_s))) / (2 * np.pi) * every_s)
    line = Line(at, every_s, float(times_s[0]), float(times_s[-1]))
    for reach in NARROWING_S:
        near = times_s[np.abs(line.away(times_s)) <= reach]
        turns = np.round((near - line.at_s) / line.every_s)
        if len(near) < fewest or turns[-1] - turns[0] < 1:
            return None
        every_s, at = (float(value) for value in np.polyfit(turns, near, 1))
        line = Line(at, every_s, float(near[0]), float(near[-1]))
    return line


def _is_machine(line: Line, times_s: Floats, fewest: int) -> bool:
    away = np.abs(line.away(times_s))
    even = 1.4826 * float(np.median(away[away <= NEAR_S])) <= MACHINE_S
    return even and _on(line, times_s) >= fewest and _heard_share(line, times_s) >= SHARE


def _on(line: Line, times_s: Floats) -> int:
    return int(np.count_nonzero(np.abs(line.away(times_s)) <= ON_S))


def _heard_share(line: Line, times_s: Floats) -> float:
    """Clicks that are heard, of all between the first and the last."""
    turns = np.round((times_s - line.at_s) / line.every_s)[np.abs(line.away(times_s)) <= ON_S]
    return len(np.unique(turns)) / (round((line.last_s - line.first_s) / line.every_s) + 1)


def _periods(times_s: Floats) -> tuple[float, ...]:
    """Seconds between clicks on which strokes agree: the highest peaks over frequency, highest first."""
    span = float(times_s[-1] - times_s[0])
    hertz = np.arange(SLOWEST_HZ, FASTEST_HZ, 1 / (FINER * max(span, 1.0)))
    agree = np.array([abs(np.exp(2j * np.pi * f * times_s).sum()) for f in hertz])
    inner = agree[1:-1]
    peaks = 1 + np.flatnonzero((inner >= agree[:-2]) & (inner > agree[2:]))
    highest = peaks[np.argsort(-agree[peaks], kind="stable")][:PEAKS]
    return tuple(float(1 / hertz[peak]) for peak in highest)


def _parts(times_s: Floats) -> Iterator[Floats]:
    """Strokes cut into parts of about a minute, none shorter than half of one."""
    if not len(times_s):
        return
    span = float(times_s[-1] - times_s[0])
    count = max(round(span / PART_S), 1)
    part = np.minimum(((times_s - times_s[0]) / max(span, 1e-9) * count).astype(np.int64), count - 1)
    for number in range(count):
        yield times_s[part == number]
