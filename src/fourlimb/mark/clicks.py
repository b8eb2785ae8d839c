"""A metronome that the microphone hears: strokes of a machine among those of a player.

A click is a machine: it comes evenly. Struck by hand on a click, strokes of one sound lie 4 to 20 ms around an even
line; the click itself, as ears hear it, about 1 ms. So for each sound that a click is taken for, even lines with many
strokes on them are looked for, and of each one hypothesis is held against another: some of the strokes near it are a
machine's, or some are a player's (`likelier_machine`). The player's own strokes may be among them: a click that ears
call a snare is found among snares. Neither level nor colour is asked for: drums that sound with the click change both
as ears hear them.

Method: the line's period is the peak of the strokes' phases summed over frequency (a Rayleigh periodogram; Mardia and
Jupp, *Directional Statistics*, 2000), made exact by least squares over strokes ever nearer to it; the hypotheses are
two mixtures of a normal and an even distribution, each at its likeliest.
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

THICK_S: Final = 0.003
"""Half of the width within which strokes are thickest on a click (ours: two spreads of a machine's)."""

NEAR_S: Final = 0.02
"""Strokes this near to the line tell how even they are."""

MACHINE_S: Final = (0.0007, 0.0013, 0.002)
HAND_S: Final = (0.004, 0.0055, 0.0075, 0.01, 0.02)
"""Spreads around the line of a machine's strokes as ears hear them, and of a player's (seconds; clicks of
`python -m bench.clicks`; a minute of one sound of the Groove set's learning half has 4 ms and more)."""

SHARES: Final = np.linspace(0.05, 1.0, 20)
"""Shares of the strokes near the line that may be of the one who stands on it; the others are anybody's."""

SURE_NATS: Final = 7.0
SURE_FOREIGN_NATS: Final = 3.0
"""Log-likelihood ratio from which on strokes are a machine's and not a player's, and the same where nothing of their
sound is written: nobody plays what is not there so evenly. The most even player of the Groove set's learning half has
6.3 (`python -m bench.evenness`), twelve heard clicks some 8."""

ON_S: Final = 0.007
"""A stroke this near to where a click falls is the click (ours: nearly three spreads)."""

FEWEST: Final = 5
SHARE: Final = 0.25
"""Fewest strokes that are a click, and the least share of all clicks between the first and the last: drums hide many
(ours)."""

OWN_S: Final = 0.025
"""A click this near to a stroke that is written and else missing may be that stroke (seconds of the take; ours: some
three times the spread of a good amateur; a stroke further off is no likelier than the click that is due)."""

SAY: Final = "A click is heard in this take and left out. It hides soft strokes: record with the click in headphones."

SILENT_MOST: Final = 4
"""Clicks that may be hidden in a row where ears begin to call the click something else (ours: a bar)."""

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
    able = np.array([hit.time_s for hit in hits if hit.sound not in NEVER])
    found: set[int] = set()
    for line in _lines(hits, alike, written):
        line = _to_its_ends(line, able)
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
        for part in parts(times):
            foreign = sound is not None and written is not None and sound not in written
            line = machine_line(part, SURE_FOREIGN_NATS if foreign else SURE_NATS)
            if line is not None:
                yield line


def _to_its_ends(line: Line, times_s: Floats) -> Line:
    """The same line from the first stroke to the last that stands on it, whatever it is heard as there.

    `times_s`: shape (n,), increasing. A silence of more than `SILENT_MOST` clicks ends it.
    """
    on = times_s[np.abs(line.away(times_s)) <= ON_S]
    reach = SILENT_MOST * line.every_s + ON_S
    first, last = line.first_s, line.last_s
    for at in on[on > last]:
        last = at if at - last <= reach else last
    for at in on[on < first][::-1]:
        first = at if first - at <= reach else first
    return line._replace(first_s=float(first), last_s=float(last))


def machine_line(times_s: Floats, least_nats: float = SURE_NATS) -> Line | None:
    """The even line that strokes of one sound stand on; None where they are rather a player's, or too few to tell.

    `times_s`: shape (n,), seconds, increasing; `least_nats`: how much likelier a machine must be, natural logarithm.
    Of several lines the one with most clicks and fewest left out: one on every other beat leaves out fewer, and the
    clicks between.
    """
    machines = [line for line in lines_through(times_s) if likelier_machine(line.away(times_s)) >= least_nats]
    return max(machines, key=lambda line: _on(line, times_s) * sqrt(_heard_share(line, times_s)), default=None)


def lines_through(times_s: Floats) -> Iterator[Line]:
    """Even lines with enough strokes on them to be a click's (`FEWEST`, `SHARE`), whoever struck them."""
    if len(times_s) < FEWEST or times_s[-1] <= times_s[0]:
        return
    lines = (line for every in _periods(times_s) for line in _lines_of(times_s, every))
    for one in (thin for line in lines for thin in _thinned(line, times_s)):
        if _on(one, times_s) >= FEWEST and _heard_share(one, times_s) >= SHARE:
            yield one


def _lines_of(times_s: Floats, every_s: float) -> Iterator[Line]:
    """The line of about this period through strokes ever nearer to it, and the one through the thick of them.

    A click on which the player's own strokes lie some milliseconds early or late is no middle of both.
    """
    at = float(np.angle(np.mean(np.exp(2j * np.pi * times_s / every_s))) / (2 * np.pi) * every_s)
    rough = _through(Line(at, every_s, float(times_s[0]), float(times_s[-1])), times_s, NARROWING_S[:1])
    if rough is None:
        return
    away = np.sort(rough.away(times_s))
    crowd = np.searchsorted(away, away + 2 * THICK_S, side="right") - np.arange(len(away))
    thick = rough._replace(at_s=rough.at_s + float(away[np.argmax(crowd)]) + THICK_S)
    for line in (_through(rough, times_s, NARROWING_S[1:]), _through(thick, times_s, NARROWING_S[-1:])):
        if line is not None:
            yield line


def _through(line: Line, times_s: Floats, reaches: Sequence[float]) -> Line | None:
    """The line of least squares through the strokes near the line, for one reach after the other; None: too few."""
    for reach in reaches:
        near = times_s[np.abs(line.away(times_s)) <= reach]
        turns = np.round((near - line.at_s) / line.every_s)
        if len(near) < FEWEST or turns[-1] - turns[0] < 1:
            return None
        every_s, at = (float(value) for value in np.polyfit(turns, near, 1))
        line = Line(at, every_s, float(near[0]), float(near[-1]))
    return line


def _thinned(line: Line, times_s: Floats) -> Iterator[Line]:
    """The line, and those through every second and every third of its places.

    Where a player is a little slower than the click, both are one peak of the periodogram, and only a half or a third
    of the click's period tells them apart.
    """
    yield line
    on = times_s[np.abs(line.away(times_s)) <= ON_S]
    turns = np.round((on - line.at_s) / line.every_s).astype(np.int64)
    for every in (2, 3):
        for first in range(every):
            own = on[turns % every == first]
            if len(own):
                yield Line(line.at_s + first * line.every_s, every * line.every_s, float(own[0]), float(own[-1]))


def likelier_machine(away_s: Floats) -> float:
    """Log-likelihood ratio (nats) of a machine against a player for strokes so far from an even line.

    Some share of the strokes near it is either's, with the spread that fits best; the others lie anywhere near.
    `away_s`: shape (n,), seconds, signed; those not near (`NEAR_S`) tell nothing.
    """
    near = away_s[np.abs(away_s) <= NEAR_S]
    return _log_likelihood(near, MACHINE_S) - _log_likelihood(near, HAND_S)


def _log_likelihood(near_s: Floats, spreads_s: Sequence[float]) -> float:
    """The most that a normal distribution of one of these spreads, mixed with an even one, makes of the strokes."""
    best = -np.inf
    for spread in spreads_s:
        on = np.exp(-0.5 * (near_s / spread) ** 2) / (spread * sqrt(2 * np.pi))
        mixed = SHARES[:, None] * on + (1 - SHARES[:, None]) / (2 * NEAR_S)
        best = max(best, float(np.log(mixed + 1e-300).sum(axis=1).max()))
    return best


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


def parts(times_s: Floats) -> Iterator[Floats]:
    """Strokes cut into parts of about a minute, none shorter than half of one."""
    if not len(times_s):
        return
    span = float(times_s[-1] - times_s[0])
    count = max(round(span / PART_S), 1)
    part = np.minimum(((times_s - times_s[0]) / max(span, 1e-9) * count).astype(np.int64), count - 1)
    for number in range(count):
        yield times_s[part == number]
