"""Click and count-in: where they fall, and what they sound like.

A click falls on every felt beat, the first of the bar higher. The count-in leads into the first bar at that bar's
own tempo: one bar above about 90 beats a minute in 4/4, two below (common practice). A pickup is played inside the
last bar of the count-in.
"""

from fractions import Fraction
from typing import Final

import numpy as np

from ..model import Grid, Samples
from ..model.places import bar_length, beat_lengths, beat_starts
from .kit import DECAY_60_DB, RATE

TWO_BARS_UNDER_BPM: Final = 90.0
FEWEST_COUNTED: Final = 3
"""Beats a counted bar should have; shorter bars (2/4, 6/8) are counted twice as often."""

FIRST_HZ: Final = 1568.0
OTHER_HZ: Final = 1175.0
CLICK_S: Final = 0.045
RISE_S: Final = 0.0006
PARTIALS: Final = ((1.0, 1.0, 0.036), (1.52, 0.35, 0.028), (2.41, 0.12, 0.016))
"""Frequency ratio, level, T60 (seconds) of what rings in the click (by ear)."""


def count_in_bars(meter: str, tempo_bpm: float) -> int:
    """How many bars are counted before a bar of this meter at this tempo (felt beats a minute)."""
    bars = 2 if tempo_bpm < TWO_BARS_UNDER_BPM else 1
    return bars * 2 if len(beat_lengths(meter)) < FEWEST_COUNTED else bars


def count_in_beats(grid: Grid, first_bar: int, tempo_bpm: float) -> tuple[list[tuple[float, bool]], float]:
    """Beats counted before the first *full* bar: (seconds before it, first of its bar), and how long it all lasts.

    Seconds are of the song at its own speed. `first_bar` may be a pickup (bar 0): counting then leads to the bar
    after it, and stops where the pickup begins.
    """
    pickup_s = grid.end(first_bar) - grid.at(first_bar).start_s if first_bar == 0 and grid.has(1) else 0.0
    full = 1 if pickup_s else first_bar
    meter = grid.meter(full)
    bar_s = grid.end(full) - grid.at(full).start_s
    bars = count_in_bars(meter, tempo_bpm)
    while bars * bar_s <= pickup_s + 1e-6:
        bars += 1
    length = float(bar_length(meter))
    beats = []
    for bar in range(bars, 0, -1):
        for start in beat_starts(meter):
            before = bar * bar_s - float(start) / length * bar_s
            if before > pickup_s + 1e-6:
                beats.append((before, start == Fraction(0)))
    return beats, bars * bar_s


def click(first: bool) -> Samples:
    """One click, mono float32, loudest 10 ms at RMS 1: a short wooden knock between 1 and 2 kHz."""
    at = np.arange(int(CLICK_S * RATE)) / RATE
    wave = np.zeros(len(at))
    for ratio, share, t60_s in PARTIALS:
        hz = (FIRST_HZ if first else OTHER_HZ) * ratio
        wave += share * np.sin(2 * np.pi * hz * at) * np.exp(-DECAY_60_DB * at / t60_s)
    wave *= np.minimum(1, at / RISE_S) * np.minimum(1, (CLICK_S - at) / RISE_S)
    return np.asarray(wave / np.sqrt(np.mean(wave[: int(0.01 * RATE)] ** 2)), dtype=np.float32)
