"""What is seen in a song when it is counted in one way: the row of signs that `weigh` weighs.

Input: a pulse, a meter with the place of its first bar line, and `Evidence`. Output: one row of numbers, in the order
of `NAMES`; means over the beats from the first stroke to the last, so that the length of a song does not matter.

Method: strokes are folded on the beat (how often each group of sounds falls on each part of a beat), on the bar
(kick, snare and crash on its beats), and compared with themselves a bar, half a bar and two bars later (the
self-likeness of beat spectra: Foote and Uchihashi 2001); every other bar, and both halves of bars, are compared for
what sets them apart throughout; the ears' curves are read at the beats, between them and at the bar lines, changes of
harmony at the bar lines, loudness on beats; the likelihood under usual bars (`rhythms`) is one sign among others.

What it cannot do: see anything that the ears did not hear.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from .beats import Pulse
from .evidence import Evidence, FloatArray
from .harmony import CHROMA_FRAMES_PER_S
from .layout import bar_beats
from .odds import log_odds
from .rhythms import GROUP_COUNT, GROUPS, METERS, SLOTS, struck_on

GROUPS_SEEN: Final[tuple[tuple[str, tuple[int, ...]], ...]] = (
    ("kick", (0,)), ("snare", (1, 9)), ("ghost", (2,)), ("hat", (3, 4)), ("pedal", (5,)), ("ride", (6,)),
    ("crash", (7,)), ("tom", (8,)),
)  # fmt: skip
"""Sounds that are told apart, as groups of `rhythms`."""
TIMEKEEPING: Final = (3, 4, 6)
"""Groups of hats and rides."""
PARTS: Final[tuple[tuple[str, tuple[int, ...]], ...]] = (
    ("beat", (0,)), ("e", (3,)), ("first third", (4,)), ("and", (6,)), ("second third", (8,)), ("a", (9,)),
    ("elsewhere", (1, 2, 5, 7, 10, 11)),
)  # fmt: skip
"""Parts of a beat in twelfths."""
TEMPO_BUMPS: Final = (50.0, 65.0, 85.0, 110.0, 145.0, 190.0, 245.0)
BUMP_OCTAVES: Final = 0.3
"""Tempo enters as its nearness to these tempi (beats a minute), by a bell of this width, and as log and square."""
BAR_PLACES: Final = ("one", "second", "third", "last")
ON_BEATS: Final = ("kick", "snare", "crash")
LAGS: Final = tuple(range(1, 17))
"""Half beats over which a song is compared with itself."""
USUAL_BAR_S: Final = 2.1
"""A bar lasts about so long (120 quarters a minute in 4/4: common practice)."""
OUTLIERS: Final = 0.05
FEWEST_UNITS: Final = 3
"""Stretches of each of two kinds that are compared, at least (ours)."""
HARMONY_HALVES: Final = 4
"""Half beats before and after whose harmony is compared (ours)."""
DRUMS_MOVE: Final = 0.3
"""How much harmony seems to move where only drums play (ten times the spread of the changes): on nine of ten grooves
of the learning half less than .32, with a band .4 to 1.8."""
SPREAD_S: Final = 0.022
"""Spread of strokes round their place while beats are not yet settled."""

NAMES: Final[tuple[str, ...]] = (
    *(f"near {bpm:.0f}" for bpm in TEMPO_BUMPS), "tempo", "tempo far",
    "heard on beats", "heard on halves", "heard on quarters", "heard on thirds",
    *(f"{group} {part}" for group, _ in GROUPS_SEEN for part, _ in PARTS),
    "onsets a beat", "onsets a second", "timing", "unsteady",
    "kick in two", "snare in two", "crash in two", "bar lines in two",
    "alike 1", "alike 2", "alike 4", "harmony moves", "loud on beats", "hat loud on beats", "hat loud on halves",
    "hat loud in two",
    *METERS,
    "drums", "drums over others", "ones", "others", "best other", "middle", "ones in two",
    "harmony on ones", "harmony on others", "harmony best other", "harmony middle", "harmony in two",
    "alike a bar", "alike half a bar", "alike two bars", "alike otherwise",
    *(f"{sound} {place}" for sound in ON_BEATS for place in BAR_PLACES),
    "crashes on one", "starts on one", "bar length", "bar length far",
    *(f"{unit} apart{how}" for unit in ("bars", "halves") for how in ("", " for certain", " again")),
)  # fmt: skip

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Struck:
    """The strokes of a song as arrays: seconds, confidence, dB, and whether each keeps time on hat or ride."""

    times_s: FloatArray
    weight: FloatArray
    loudness_db: FloatArray
    hat: Flags


def struck_in(evidence: Evidence) -> Struck:
    """The strokes of the evidence."""
    return Struck(
        np.array([hit.time_s for hit in evidence.hits], dtype=np.float64),
        np.array([hit.confidence for hit in evidence.hits], dtype=np.float64),
        np.array([hit.loudness_db for hit in evidence.hits], dtype=np.float64),
        np.array([GROUPS[hit.sound] in TIMEKEEPING for hit in evidence.hits], dtype=np.bool_),
    )


def beat_places(pulse: Pulse, times_s: FloatArray) -> FloatArray:
    """Where times stand on the pulse, in beats; outside it time runs on evenly."""
    index = np.arange(len(pulse.times_s), dtype=np.float64)
    inside = np.interp(times_s, pulse.times_s, index)
    early = (times_s - pulse.times_s[0]) / pulse.period_s
    late = (times_s - pulse.times_s[-1]) / pulse.period_s
    places: FloatArray = inside + np.minimum(early, 0) + np.maximum(late, 0)
    return places


class Folded:
    """A song folded on one pulse: what all ways to count on that pulse share."""

    def __init__(self, pulse: Pulse, evidence: Evidence, struck: Struck, spare: int = 16) -> None:
        self.pulse, self.evidence, self.struck = pulse, evidence, struck
        self.beats = len(pulse.times_s)
        self.places = beat_places(pulse, struck.times_s)
        self.table = struck_on(self.places, evidence.hits, self.beats + spare)

    @cached_property
    def played(self) -> Flags:
        """Beats from the first stroke to the last; all when that is too short to speak of."""
        times, struck = self.pulse.times_s, self.struck.times_s
        if not len(struck):
            return np.ones(len(times), dtype=np.bool_)
        inside: Flags = (times >= struck[0] - self.pulse.period_s) & (times <= struck[-1] + self.pulse.period_s)
        return inside if inside.sum() >= 4 else np.ones(len(times), dtype=np.bool_)

    @property
    def span(self) -> tuple[int, int]:
        """The half beats from which and up to which the drums play."""
        inside = np.flatnonzero(self.played)
        return 2 * int(inside[0]), 2 * int(inside[-1]) + 2

    @cached_property
    def shared(self) -> list[float]:
        """The signs of the pulse, whatever the meter."""
        return [
            *self._tempo(), *self._curve(), *self._parts(), *self._density(), *self._in_two(), *self._alike_at(),
            self._moves, *self._loud(),
        ]  # fmt: skip

    @cached_property
    def lines(self) -> FloatArray:
        """Log-odds of a heard bar line at each half beat of the pulse."""
        half = np.interp(np.arange(2 * self.beats) / 2, np.arange(self.beats), self.pulse.times_s)
        return bounded_odds(self.evidence.near(self.evidence.downbeat, half, 4))

    @cached_property
    def harmony(self) -> FloatArray:
        """How much the harmony changes at each half beat, scaled to mean 0 and spread 1; zeros if nobody listened."""
        found = self._changes
        inside = np.repeat(self.played, 2)
        spread = float(found[inside].std())
        scaled: FloatArray = (found - found[inside].mean()) / spread if spread > 1e-6 else np.zeros(len(found))
        return scaled

    @cached_property
    def _changes(self) -> FloatArray:
        """1 - cosine of the pitch classes of two beats before and of two beats after each half beat."""
        chroma = self.evidence.chroma
        count = 2 * self.beats
        if not len(chroma):
            return np.zeros(count)
        half = np.interp(np.arange(count + 1) / 2, np.arange(self.beats), self.pulse.times_s)
        half[-1] = half[-2] + self.pulse.period_s / 2
        edges = np.clip(np.rint(half * CHROMA_FRAMES_PER_S).astype(int), 0, len(chroma))
        total = np.concatenate([np.zeros((1, chroma.shape[1])), np.cumsum(chroma, axis=0)])[edges]
        at = np.arange(count)
        before = total[at] - total[np.maximum(at - HARMONY_HALVES, 0)]
        after = total[np.minimum(at + HARMONY_HALVES, count)] - total[at]
        norm = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
        changes: FloatArray = np.where(norm > 1e-6, 1 - (before * after).sum(axis=1) / np.maximum(norm, 1e-6), 0.0)
        return changes

    @property
    def harmony_share(self) -> float:
        """How much of `harmony` is music, 0 to 1: the share of its variance that is not what drums alone give."""
        return max(0.0, 1 - (DRUMS_MOVE / max(self._moves, 1e-9)) ** 2)

    @cached_property
    def _moves(self) -> float:
        inside = np.repeat(self.played, 2)
        return float(self._changes[inside].std()) * 10

    @cached_property
    def alike(self) -> FloatArray:
        """How alike the drums are to themselves so many half beats later, -1 to 1; index 0 is lag 0."""
        inside = np.flatnonzero(self.played)
        rows = self.table[inside[0] * SLOTS : (inside[-1] + 1) * SLOTS].reshape(-1, SLOTS // 2 * GROUP_COUNT)
        rows = np.sqrt(rows) - np.sqrt(rows).mean(axis=0)
        energy = (rows**2).sum(axis=1)
        found = np.zeros(len(LAGS) + 1)
        for lag in LAGS:
            if lag < len(rows) - 4:
                norm = np.sqrt(energy[:-lag].sum() * energy[lag:].sum())
                found[lag] = float((rows[:-lag] * rows[lag:]).sum() / max(norm, 1e-9))
        return found

    def _tempo(self) -> list[float]:
        octaves = np.log2(60 / self.pulse.period_s / np.array(TEMPO_BUMPS))
        far = float(np.log2(60 / self.pulse.period_s / 110))
        return [*np.exp(-0.5 * (octaves / BUMP_OCTAVES) ** 2).tolist(), far, far**2]

    def _curve(self) -> list[float]:
        """Log-odds heard on beats, and on what lies between them."""
        index, beats = np.flatnonzero(self.played)[:-1], np.arange(self.beats)
        found = []
        for parts in ((0.0,), (0.5,), (0.25, 0.75), (1 / 3, 2 / 3)):
            at = np.concatenate([np.interp(index + part, beats, self.pulse.times_s) for part in parts])
            found.append(float(bounded_odds(self.evidence.near(self.evidence.beat, at, 2)).mean()))
        return found

    @cached_property
    def by_beat(self) -> FloatArray:
        """Strokes of each group seen on each twelfth of the beats that are played, shape (beats, groups, 12)."""
        rows = self.table[: self.beats * SLOTS].reshape(self.beats, SLOTS, GROUP_COUNT)[self.played]
        return np.stack([rows[:, :, list(groups)].sum(axis=2) for _, groups in GROUPS_SEEN], axis=1)

    def _parts(self) -> list[float]:
        rates = self.by_beat.mean(axis=0)
        return [float(np.sqrt(rate[list(slots)].sum())) for rate in rates for _, slots in PARTS]

    def _density(self) -> list[float]:
        beats = int(self.played.sum())
        onsets = len(np.unique(np.rint(self.places * SLOTS)))
        gaps = np.diff(self.pulse.times_s[self.played])
        change = float(np.abs(np.diff(np.log(gaps))).mean()) if len(gaps) > 1 else 0.0
        per_second = np.log2((onsets + 0.5) / (beats * self.pulse.period_s))
        return [float(np.log2((onsets + 0.5) / beats)), float(per_second), self.timing(), min(change * 20, 3.0)]

    def timing(self) -> float:
        """How well strokes fall on twelfths of the beat: mean log-density in time of a normal error with outliers."""
        if not len(self.places):
            return 0.0
        period = self.pulse.period_s
        off_s = np.abs(self.places * SLOTS - np.rint(self.places * SLOTS)) / SLOTS * period
        width = period / SLOTS
        spread = min(SPREAD_S, width / 2)
        normal = np.exp(-0.5 * (off_s / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
        logs = np.log((1 - OUTLIERS) * normal + OUTLIERS / width)
        return float((self.struck.weight * logs).sum() / max(self.struck.weight.sum(), 1e-9))

    def _in_two(self) -> list[float]:
        """How much every other beat differs."""
        on = self.by_beat[:, :, 0]
        heard = self.lines[::2][self.played][: len(on)]
        found = []
        for column in (on[:, 0], on[:, 1], on[:, 6], heard):
            found.append(float(abs(column[::2].mean() - column[1::2].mean())) if len(column) > 1 else 0.0)
        return found

    def _alike_at(self) -> list[float]:
        return [float(self.alike[2 * lag]) for lag in (1, 2, 4)]

    def _loud(self) -> list[float]:
        """How much louder strokes are on beats than elsewhere, hats on beats than on halves and so on (in 10 dB)."""
        level, hat = self.struck.loudness_db / 10, self.struck.hat
        slot = np.rint(self.places * SLOTS).astype(int)
        beat, half = slot % SLOTS == 0, slot % SLOTS == SLOTS // 2
        two = slot % (2 * SLOTS) == 0
        return [
            _louder(level, beat, ~beat), _louder(level, hat & beat, hat & half),
            _louder(level, hat & half, hat & ~beat & ~half), abs(_louder(level, hat & two, hat & beat & ~two)),
        ]  # fmt: skip

    @cached_property
    def _sixteenths(self) -> FloatArray:
        """Strokes by half beat, shape (half beats, both sixteenths of all groups); neighbouring twelfths count."""
        near = np.roll(self.table, 1, axis=0).reshape(-1, 3, GROUP_COUNT).max(axis=1)
        rows: FloatArray = near.reshape(-1, 2 * GROUP_COUNT)
        return rows

    def _apart(self, step: int, first: int) -> list[float]:
        """How much every other stretch of `step` half beats differs from the ones between.

        Squared distance of their means over what chance would give, as a share of all strokes and as the logarithm of
        the ratio; and whether both halves of the song differ in the same way (-1 to 1).
        """
        low, high = self.span
        start = first + -(-(low - first) // step) * step
        count = (high - start) // step
        if count < 2 * FEWEST_UNITS:
            return [0.0] * 3
        units = self._sixteenths[start : start + count * step].reshape(count, -1)
        even, odd = units[::2], units[1::2]
        apart = even.mean(axis=0) - odd.mean(axis=0)
        chance = float((even.var(axis=0, ddof=1) / len(even) + odd.var(axis=0, ddof=1) / len(odd)).sum())
        square = float((apart**2).sum())
        share = (square - chance) / max(float((units**2).mean(axis=0).sum()), 1e-9)
        ratio = np.log((square + 0.02) / (chance + 0.02))
        middle = count // 4 * 2
        early, late = (part[::2].mean(axis=0) - part[1::2].mean(axis=0) for part in (units[:middle], units[middle:]))
        norm = float(np.sqrt((early**2).sum() * (late**2).sum()))
        return [share, float(np.clip(ratio, -2, 4)), float((early * late).sum()) / max(norm, 1e-6)]

    def row(self, meter: str, first: int, drums: float, over: float) -> FloatArray:
        """All signs of bars of `meter` from half beat `first` on.

        `drums`: log-likelihood of the drums a second; `over`: how much more that is than in the best other meter.
        """
        size = int(bar_beats(meter) * 2)
        named = [float(meter == other) for other in METERS]
        long = float(np.log2(size / 2 * self.pulse.period_s / USUAL_BAR_S))
        return np.array([
            *self.shared, *named, drums, over, *self._at_lines(self.lines, size, first),
            *self._at_lines(self.harmony, size, first), *self._alike_bars(size),
            *self._on_beats(size, first), *self._starts(size, first), long, long**2,
            *self._apart(size, first), *(self._apart(size // 2, first) if size % 2 == 0 else [0.0] * 3),
        ], dtype=np.float64)  # fmt: skip

    def _at_lines(self, heard: FloatArray, size: int, first: int) -> list[float]:
        """A curve on ones, on other beats, ones over the best other place and over half a bar on, every other one."""
        inside = np.repeat(self.played, 2)
        place = (np.arange(len(heard)) - first) % size
        ones = heard[(place == 0) & inside]
        if not len(ones):
            return [0.0] * 5
        one = float(ones.mean())
        means = [float(heard[at].mean()) for k in range(2, size, 2) if (at := (place == k) & inside).any()]
        rest = (place % 2 == 0) & (place != 0) & inside
        others = float(heard[rest].mean()) if rest.any() else one
        middle = (place == size // 4 * 2) & inside
        half = float(heard[middle].mean()) if middle.any() and size // 4 else others
        two = float(abs(ones[::2].mean() - ones[1::2].mean())) if len(ones) > 3 else 0.0
        return [one, others, one - max(means, default=others), one - half, two]

    def _alike_bars(self, size: int) -> list[float]:
        alike = self.alike
        others = [float(alike[lag]) for lag in LAGS if lag % size and size % lag and lag > 2]
        half = float(alike[size // 2]) if size % 2 == 0 else 0.0
        two = float(alike[2 * size]) if 2 * size < len(alike) else float(alike[size])
        return [float(alike[size]), half, two, max(others, default=0.0)]

    def _on_beats(self, size: int, first: int) -> list[float]:
        """Mean strokes of kick, snare and crash on beats of the bar."""
        columns = [[0], [1, 9], [7]]
        found = []
        spots = (0, 2, 4 if size > 4 else 0, (size - 1) // 2 * 2)
        starts = self._starts_of_bars(size, first)
        for groups in columns:
            for spot in spots:
                at = (starts + spot) * (SLOTS // 2)
                at = at[at < len(self.table)]
                found.append(float(self.table[at][:, groups].sum(axis=1).mean()) if len(at) else 0.0)
        return found

    def _starts_of_bars(self, size: int, first: int) -> npt.NDArray[np.int64]:
        inside = np.flatnonzero(np.repeat(self.played, 2))
        at: npt.NDArray[np.int64] = np.arange(inside[0], inside[-1] + 1)
        starts: npt.NDArray[np.int64] = at[(at - first) % size == 0]
        return starts

    def _starts(self, size: int, first: int) -> list[float]:
        crash = self.table[:: SLOTS // 2, 7]
        on_one = float(crash[(np.arange(len(crash)) - first) % size == 0].sum())
        start = int(np.argmax(self.played)) * 2
        return [(on_one + 0.2) / (float(self.table[:, 7].sum()) + 1.0), float((start - first) % size == 0)]


def _louder(level: FloatArray, some: Flags, others: Flags) -> float:
    """How much louder some strokes are than others on average, within bounds; 0 where there are hardly any."""
    if min(some.sum(), others.sum()) < FEWEST_UNITS:
        return 0.0
    return float(np.clip(level[some].mean() - level[others].mean(), -1, 1))


def bounded_odds(heard: FloatArray) -> FloatArray:
    """Log-odds of what a curve says, within bounds."""
    return log_odds(np.clip(heard, 0.03, 0.97))
