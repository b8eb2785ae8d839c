"""Click and count-in: where they fall, and what they sound like.

A click falls on every felt beat, the first of the bar higher. The count-in leads into the first bar at that bar's own
tempo: one bar above about 90 beats a minute in 4/4, two below (common practice). A pickup is played inside the last bar
of the count-in.
"""

from fractions import Fraction
from typing import Final

import numpy as np

from ..model import Grid, Samples
from ..model.places import bar_length, beat_lengths, beat_starts
from .modes import RATE, decay, edges, ring

TWO_BARS_UNDER_BPM: Final = 90.0
FEWEST_COUNTED: Final = 3
"""Beats a counted bar should have; shorter bars (2/4, 6/8) are counted twice as often."""

FIRST_HZ: Final = 1568.0
OTHER_HZ: Final = 1175.0
CLICK_S: Final = 0.045


def count_in_bars(meter: str, tempo_bpm: float) -> int:
    """How many bars are counted before a bar of this meter at this tempo (felt beats a minute)."""
    bars = 2 if tempo_bpm < TWO_BARS_UNDER_BPM else 1
    return bars * 2 if len(beat_lengths(meter)) < FEWEST_COUNTED else bars


def count_in_beats(grid: Grid, first_bar: int, tempo_bpm: float) -> tuple[list[tuple[float, bool]], float]:
    """Beats counted before the first *full* bar: (seconds before it, first of its bar), and how long it all lasts.

    Seconds are of the song at its own speed. `first_bar` may be a pickup (bar 0): counting then leads to the bar after it,
    and stops where the pickup begins.
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
    count = int(CLICK_S * RATE)
    hz = (FIRST_HZ if first else OTHER_HZ) * np.array([1.0, 1.52, 2.41])
    wave = ring(hz, np.array([1.0, 0.35, 0.12]), np.array([0.06, 0.04, 0.02]), np.zeros(3), count)
    wave = edges(wave * decay(count, 0.0006, 0.09), 0.0005, 0.01)
    window = int(0.01 * RATE)
    return (wave / np.sqrt(np.mean(wave[:window] ** 2))).astype(np.float32)
