"""How likely a bar of drums is: a table of usual bars, learned and written down.

Input: what is struck on the twelfths of each beat. Output: the log-likelihood of a bar of some meter starting at
each half beat, at a given tempo.

Method: a bar is drawn from a mixture of bar shapes; a shape says how often each group of sounds is struck on each
twelfth of a beat (Poisson rates), and at which tempi it is played. The shapes of 4/4 are fitted by expectation
maximisation on half of the Groove MIDI Dataset (Gillick et al. 2019, CC BY 4.0; the other half is set aside for
judging, see `bench.rhythms`), those of other meters are written in `usual_bars`.
Strokes that no shape expects cost the same everywhere, so noise does not choose the meter.

What it cannot do: know a style it has not met. It then falls back on the flattest shape.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from importlib.resources import files
from typing import Final

import numpy as np

from fourlimb.model import Hit, Sound
from fourlimb.model.count import read_place

from .evidence import FloatArray
from .layout import bar_beats, pulse_unit
from .usual_bars import TIMEKEEPING, WRITTEN

SLOTS: Final = 12
"""Places in a beat that the table tells apart: 16ths and triplets both lie on them."""
STEP: Final = SLOTS // 2
"""Bars may start on half beats (a bar of 7/8 lasts three and a half quarters)."""

GROUPS: Final[dict[Sound, int]] = {
    "kick": 0, "snare": 1, "clap": 1, "hat_closed": 3, "shaker": 3, "tambourine": 3, "cowbell": 3, "hat_open": 4,
    "hat_pedal": 5, "ride": 6, "ride_bell": 6, "crash": 7, "china": 7, "splash": 7,
    "tom_high": 8, "tom_mid": 8, "tom_floor": 8, "rim": 9,
}  # fmt: skip
GHOST: Final = 2
GHOST_DB: Final = -10.0
"""A snare this much softer than the song's usual snare is counted apart, as a ghost (ours)."""
GROUP_COUNT: Final = 10

HEARD: Final = 0.85
"""Share of the strokes of a shape that ears hear (F of trained ears on records is about .9)."""
STRAY_PER_S: Final = 0.12
"""Strokes a second and group that no shape expects: false alarms and ornaments."""
TABLE: Final = "rhythms.npz"
LEARNED_SHARE: Final = 0.6


@dataclass(frozen=True, eq=False)
class Shapes:
    """Bar shapes of one meter. `rates`: shape (shapes, groups, slots of the bar); the others: shape (shapes,)."""

    meter: str
    rates: FloatArray
    weights: FloatArray
    log2_bpm: FloatArray
    octaves: FloatArray

    def chances(self, bpm: float) -> FloatArray:
        """Log-probability of each shape at a tempo (of the pulse)."""
        near = -0.5 * ((np.log2(bpm) - self.log2_bpm) / self.octaves) ** 2 - np.log(self.octaves)
        joint = np.log(self.weights + 1e-9) + near
        chances: FloatArray = joint - np.logaddexp.reduce(joint)
        return chances

    def likelihood(self, struck: FloatArray, period_s: float) -> FloatArray:
        """Log-likelihood of a bar starting at each half beat. `struck`: shape (slots of the song, groups)."""
        steps = int(bar_beats(self.meter) * 2)
        rates = HEARD * self.rates + STRAY_PER_S * period_s / SLOTS
        count = len(struck) // STEP - steps + 1
        if count < 1:
            return np.zeros(0)
        flat = struck[: len(struck) // STEP * STEP].reshape(-1, STEP * GROUP_COUNT)
        logs = np.log(rates).transpose(0, 2, 1).reshape(len(rates), steps, STEP * GROUP_COUNT)
        score = np.tile(self.chances(60 / period_s) - rates.sum(axis=(1, 2)), (count, 1))
        for step in range(steps):
            score += flat[step : step + count] @ logs[:, step].T
        total: FloatArray = np.logaddexp.reduce(score, axis=1)
        silent = np.convolve(flat.sum(axis=1), np.ones(steps), mode="valid")[:count] < 1e-9
        total[silent] = 0.0  # nobody plays: says nothing about how those who do are counted
        return total


@cache
def shapes_of(meter: str) -> Shapes:
    """The shapes known of a meter."""
    return _joined(_learned(), _written(meter)) if meter == "4/4" else _written(meter)


METERS: Final = ("4/4", "3/4", "2/4", "5/4", "7/8", "6/8", "12/8")


def ghost_level(hits: tuple[Hit, ...]) -> float:
    """The loudness under which this song's snare strokes are ghosts."""
    levels = [hit.loudness_db for hit in hits if hit.sound == "snare"]
    return (float(np.quantile(levels, 0.75)) if levels else 0.0) + GHOST_DB


def struck_on(places: FloatArray, hits: tuple[Hit, ...], beats: int) -> FloatArray:
    """What is struck where. `places`: beats of the pulse for each hit; the answer: shape (beats * SLOTS, groups)."""
    table = np.zeros((beats * SLOTS, GROUP_COUNT))
    ghost = ghost_level(hits)
    slots = np.rint(places * SLOTS).astype(int)
    for slot, hit in zip(slots, hits, strict=True):
        if 0 <= slot < len(table):
            group = GHOST if hit.sound == "snare" and hit.loudness_db < ghost else GROUPS[hit.sound]
            table[slot, group] = max(table[slot, group], hit.confidence)
    return table


def _joined(one: Shapes, two: Shapes) -> Shapes:
    """Both sets of shapes, the first believed `LEARNED_SHARE`."""
    parts = zip((one, two), (LEARNED_SHARE, 1 - LEARNED_SHARE), strict=True)
    return Shapes(
        one.meter,
        np.concatenate([one.rates, two.rates]),
        np.concatenate([shapes.weights * share for shapes, share in parts]),
        np.concatenate([one.log2_bpm, two.log2_bpm]),
        np.concatenate([one.octaves, two.octaves]),
    )


@lru_cache(maxsize=1)
def _learned() -> Shapes:
    with files("fourlimb.listen").joinpath(TABLE).open("rb") as file:
        table = np.load(file)
        rates = np.exp(table["log_rates"].astype(np.float64) / 32)
        return Shapes("4/4", rates, table["weights"].astype(np.float64), table["log2_bpm"], table["octaves"])


MEAN_BPM: Final = {False: 112.0, True: 80.0}
WRITTEN_OCTAVES: Final = 0.7
CERTAIN, OFTEN, SELDOM, RARE = 0.88, 0.25, 0.05, 0.005
"""Rates (strokes a bar) in a written shape: named, a crash on the one, on an eighth or ghosted, anywhere."""
TIMEKEEPERS: Final = (3, 6)


def _written(meter: str) -> Shapes:
    compound = pulse_unit(meter).numerator == 3
    rates = [
        _shape(meter, kick, snare, step, group)
        for kick, snare in WRITTEN[meter]
        for step in TIMEKEEPING[compound]
        for group in TIMEKEEPERS
    ]
    count = len(rates)
    return Shapes(
        meter,
        np.array(rates),
        np.full(count, 1 / count),
        np.full(count, np.log2(MEAN_BPM[compound])),
        np.full(count, WRITTEN_OCTAVES),
    )


def _shape(meter: str, kick: str, snare: str, step: Fraction, timekeeper: int) -> FloatArray:
    """Rates of one written bar: what is named is nearly certain, its own eighths are possible, the rest is rare."""
    unit = pulse_unit(meter)
    rates = np.full((GROUP_COUNT, int(bar_beats(meter) * SLOTS)), RARE)
    eighth = int(SLOTS / (unit * 8))
    rates[:7, ::eighth] = SELDOM
    rates[GHOST, :: max(eighth // 2, 1)] = SELDOM
    for group, words in ((0, kick), (1, snare)):
        for word in words.split():
            rates[group, int(read_place(meter, word) / unit * SLOTS)] = CERTAIN
    rates[timekeeper, :: int(step / unit * SLOTS)] = CERTAIN
    rates[7, 0] = OFTEN
    return rates
