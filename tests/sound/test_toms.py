"""Toms of the kit against recorded ones: the bounds are quartiles of eight recorded kits (statistics only), widened by a third.

Measured on the hardest layer from the attack on; bands are multiples of the pitch in which a stroke settles.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np
import pytest
from demo.kit.make import press
from demo.kit.make import stroke as struck

from fourlimb.model import SOUNDS, Samples, Sound
from fourlimb.sound.kit import FOLDER, RATE, built_in

TOMS: Final[tuple[Sound, ...]] = ("tom_high", "tom_mid", "tom_floor")
SETTLED_S: Final = (0.15, 0.45)
REACH_HZ: Final = (50.0, 260.0)


def pitch(wave: Samples, from_s: float, to_s: float, low_hz: float, high_hz: float) -> float:
    """Where the spectrum of a stretch is highest, Hz."""
    stretch = wave[int(from_s * RATE) : int(to_s * RATE)]
    heights = np.abs(np.fft.rfft(stretch * np.hanning(len(stretch)), 1 << 17))
    hz = np.fft.rfftfreq(1 << 17, 1 / RATE)
    inside = (hz > low_hz) & (hz < high_hz)
    return float(hz[inside][heights[inside].argmax()])


def settled(wave: Samples) -> float:
    return pitch(wave, *SETTLED_S, *REACH_HZ)


def energy(wave: Samples, from_s: float, to_s: float, low_hz: float, high_hz: float) -> float:
    """Mean power in a band of a stretch, dB."""
    stretch = wave[int(from_s * RATE) : int(to_s * RATE)]
    power = np.abs(np.fft.rfft(stretch * np.hanning(len(stretch)), 1 << 15)) ** 2 / len(stretch)
    hz = np.fft.rfftfreq(1 << 15, 1 / RATE)
    return 10 * float(np.log10(power[(hz >= low_hz) & (hz < high_hz)].sum() + 1e-12))


def strokes(sound: Sound) -> Iterator[Samples]:
    yield from built_in().layers[sound][-1][1]


def test_toms_are_a_fourth_and_a_fifth_apart() -> None:
    high, mid, floor = (float(np.median([settled(wave) for wave in strokes(sound)])) for sound in TOMS)
    assert 12 * np.log2(high / mid) == pytest.approx(5, abs=0.5)
    assert 12 * np.log2(mid / floor) == pytest.approx(7, abs=0.5)


@pytest.mark.parametrize("sound", TOMS)
def test_a_tom_glides_down_to_its_pitch(sound: Sound) -> None:
    """Recorded: a tenth to a quarter sharp in the first 60 ms, a twentieth to a ninth at 100 ms."""
    for wave in strokes(sound):
        end = settled(wave)
        first, then = (pitch(wave, *at, end * 0.8, end * 1.5) / end - 1 for at in ((0.003, 0.063), (0.06, 0.14)))
        assert 0.12 < first < 0.28
        assert 0.03 < then < 0.13


@pytest.mark.parametrize("sound", TOMS)
def test_a_harder_blow_glides_further_and_is_brighter(sound: Sound) -> None:
    """By 3 Hz and 3 dB at least."""
    soft, hard = (
        [
            [pitch(w, 0.003, 0.063, 60, 260), energy(w, 0, 0.02, 1000, 8000) - energy(w, 0, 0.1, 50, 400)]
            for w in takes
        ]
        for takes in (built_in().layers[sound][0][1], built_in().layers[sound][-1][1])
    )
    further = np.median(hard, axis=0) - np.median(soft, axis=0)
    assert further.min() > 3.0


@pytest.mark.parametrize("sound", TOMS)
def test_higher_modes_die_before_the_fundamental(sound: Sound) -> None:
    """Recorded: at 30 to 100 ms the modes at 1.75 to 6 times the pitch lie 11 to 20 dB under it; at the blow they lead."""
    for wave in strokes(sound):
        hz = settled(wave)
        at_once, then = (
            energy(wave, *at, 1.75 * hz, 6 * hz) - energy(wave, *at, 0.7 * hz, 1.35 * hz)
            for at in ((0.0, 0.012), (0.03, 0.1))
        )
        assert at_once > -6
        assert -20 < then < -8


@pytest.mark.parametrize("sound", TOMS)
def test_a_tom_falls_as_recorded_ones_do(sound: Sound) -> None:
    """Recorded: 10 dB after 45 to 110 ms, 20 dB after 85 to 400, 30 dB after 210 to 700."""
    for wave in strokes(sound):
        level = np.convolve(wave.astype(float) ** 2, np.ones(441) / 441, "same")
        under = 10 * np.log10(level[level.argmax() :] / level.max() + 1e-12)
        falls = [float(np.argmax(under < -decibels)) / RATE for decibels in (10, 20, 30)]
        assert 0.03 < falls[0] < 0.15
        assert 0.08 < falls[1] < 0.43
        assert 0.2 < falls[2] < 0.75


def test_no_two_strokes_of_a_layer_are_alike() -> None:
    """Not copies with another phase either: their colour differs."""
    for sound in TOMS:
        for _, takes in built_in().layers[sound]:
            assert len(takes) >= 3
            colours = [np.array([energy(t, 0, 0.1, f, f * 1.4) for f in 80 * 1.4 ** np.arange(12)]) for t in takes]
            assert all(np.abs(a - b).max() > 0.5 for n, a in enumerate(colours) for b in colours[:n])


@pytest.mark.parametrize("sound", [*TOMS, "rim", "kick", "snare"])
def test_drums_that_ship_are_those_of_the_script(sound: Sound) -> None:
    """Samples may differ in the last bits from machine to machine."""
    _, pressing = press(sound)
    assert pressing.file == f"{sound}.flac"
    velocity, takes = built_in().layers[sound][-1]
    for number, take in enumerate(takes):
        made = struck(sound, velocity, number)
        assert abs(len(made) - len(take)) <= 2
        count = min(len(made), len(take))
        assert np.corrcoef(made[:count], take[:count])[0, 1] > 0.999


def test_the_kit_fits_where_it_ships() -> None:
    from importlib.resources import files

    folder = files("fourlimb.sound") / FOLDER
    assert {file.name for file in folder.iterdir() if file.name.endswith(".flac")} == {f"{s}.flac" for s in SOUNDS}
    assert sum(len(file.read_bytes()) for file in folder.iterdir()) < 4_000_000
