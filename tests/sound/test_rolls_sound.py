"""Rolls, ringing cymbals, second pieces and long ruffs, measured in the sound itself."""

from fractions import Fraction as F

import numpy as np
import pytest
from sound_sheets import sheet, stroke

from fourlimb.model import Samples, Sound, Stroke
from fourlimb.sound.kit import RATE, built_in
from fourlimb.sound.perform import perform
from fourlimb.sound.strokes import blows

TEMPO_S = 2.0
"""Seconds a bar of 4/4 at 120."""


def played(*strokes: Stroke) -> Samples:
    """Two bars at 120 without room or click, starting half a second in."""
    made = blows(sheet(strokes), lambda bar, at: 0.5 + (bar - 1) * TEMPO_S + float(at) * TEMPO_S, 1, 2)
    return perform(made, built_in(), 6 * RATE, dry=True)


def energy(sound: Samples, from_s: float, to_s: float) -> float:
    part = sound[round(from_s * RATE) : round(to_s * RATE)].astype(float)
    return float((part**2).sum())


def struck_at(sound: Samples, time_s: float) -> bool:
    """True when the 8 ms from a time on hold clearly more than the 8 ms before it."""
    return energy(sound, time_s, time_s + 0.008) > 1.5 * energy(sound, time_s - 0.008, time_s)


@pytest.mark.parametrize("roll", [16, 32])
@pytest.mark.parametrize("length", [F(1, 4), F(1, 2), F(7, 8)])
def test_a_measured_roll_is_struck_on_each_of_its_places_and_then_stops(roll: int, length: F) -> None:
    sound = played(stroke(1, "0", "snare", roll=roll, lasts=length))
    count = int(length * roll)
    assert all(struck_at(sound, 0.5 + n * TEMPO_S / roll) for n in range(count))
    end = 0.5 + float(length) * TEMPO_S
    assert not struck_at(sound, end)
    assert energy(sound, end + 0.3, end + 0.5) < energy(sound, end - 0.2, end) / 1000


def test_a_roll_that_does_not_say_how_long_fills_its_beat() -> None:
    times = [b.time_s for b in blows(sheet([stroke(1, "1/8", "snare", roll=32)]), lambda bar, at: float(at), 1, 2)]
    assert times == [0.125 + n / 32 for n in range(4)]


def test_a_buzz_is_kept_up_as_evenly_as_it_lasts() -> None:
    sound = played(stroke(1, "0", "snare", struck="buzz", lasts=F(1)))
    parts = [energy(sound, 0.7 + n * 0.2, 0.9 + n * 0.2) for n in range(8)]
    assert max(parts) < 1.5 * min(parts)
    assert energy(sound, 2.9, 3.1) < min(parts) / 1000


def test_a_roll_tied_over_the_bar_line_has_no_new_beginning() -> None:
    def loudest(tied: bool) -> float:
        first = stroke(1, "1/2", "snare", roll=32, lasts=F(1, 2))
        second = stroke(2, "0", "snare", roll=32, lasts=F(1, 4), tied=tied)
        return energy(played(first, second), 2.5, 2.55)

    assert loudest(True) < 0.75 * loudest(False)


def test_an_open_hat_let_ring_is_not_closed_by_the_next_stroke() -> None:
    closing = stroke(1, "1/4", "hat_closed", velocity=40)
    left = played(stroke(1, "0", "hat_open", struck="let_ring"), closing)
    closed = played(stroke(1, "0", "hat_open"), closing)
    assert energy(left, 1.3, 1.5) > 50 * energy(closed, 1.3, 1.5)


def test_a_crash_let_ring_lives_and_a_choked_one_dies() -> None:
    ringing = played(stroke(1, "0", "crash", struck="let_ring"))
    plain, choked = played(stroke(1, "0", "crash")), played(stroke(1, "0", "crash", struck="choke"))
    assert np.array_equal(ringing, plain)  # nothing damps either: only a hand or a pedal does
    assert energy(choked, 1.0, 1.5) < energy(ringing, 1.0, 1.5) / 10_000


def centre_hz(sound: Samples) -> float:
    """Middle of the power spectrum of both channels, first second."""
    power = np.abs(np.fft.rfft(sound[RATE // 2 : RATE * 3 // 2].astype(float).sum(axis=1))) ** 2
    hz = np.fft.rfftfreq(RATE, 1 / RATE)
    return float((power * hz).sum() / power.sum())


@pytest.mark.parametrize(
    ("piece", "higher"), [("crash", False), ("kick", True), ("tom_floor", False), ("ride", False)]
)
def test_the_second_of_a_kind_has_another_pitch_and_equal_loudness(piece: Sound, higher: bool) -> None:
    first, second = played(stroke(1, "0", piece)), played(stroke(1, "0", piece, second=True))
    ratio = centre_hz(second) / centre_hz(first)
    assert ratio > 1.02 if higher else ratio < 0.97
    assert 0.5 < energy(second, 0.5, 0.52) / energy(first, 0.5, 0.52) < 2


def test_the_second_crash_stands_on_the_other_side() -> None:
    def lean(second: bool) -> float:
        left, right = (played(stroke(1, "0", "crash", second=second)).astype(float) ** 2).sum(axis=0)
        return float(right / left)

    assert lean(False) < 0.8
    assert lean(True) > 1.25


def test_a_long_ruff_has_four_soft_notes_before_the_main_one() -> None:
    sound = played(stroke(1, "1/4", "snare", grace="long_ruff", velocity=110))
    main = 0.5 + TEMPO_S / 4
    assert all(struck_at(sound, main - before) for before in (0.134, 0.100, 0.067, 0.034, 0.0))
    assert energy(sound, 0.5, main - 0.14) == 0
    assert energy(sound, main - 0.034, main - 0.002) < energy(sound, main, main + 0.032) / 3
