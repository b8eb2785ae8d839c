"""The loudness meter against EBU Tech 3341 (minimum requirements for loudness metering, test signals 1-6 and 15-19).

Signals and expected values are as that document's tables give them (from memory): tones of 1 kHz in steps of level,
in stereo and five channels, tolerance 0.1 LU; true-peak tones at fs/4, fs/6, fs/8, tolerance +0.2/-0.4 dB. Signals
are made here.
"""

import numpy as np
import pytest

from fourlimb.model import Audio
from fourlimb.sound import loudness, true_peak_db

Steps = list[tuple[tuple[float, ...], float]]


def tones(rate: int, steps: Steps) -> Audio:
    parts, at = [], 0
    for levels_db, seconds in steps:
        count = round(seconds * rate)
        wave = np.sin(2 * np.pi * 1000 * (np.arange(count) + at) / rate)
        parts.append(np.stack([wave * 10 ** (db / 20) for db in levels_db], axis=1))
        at += count
    return Audio(np.concatenate(parts).astype(np.float32), rate)


def stereo(*steps: tuple[float, float]) -> Steps:
    return [((level, level), seconds) for level, seconds in steps]


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        (stereo((-23, 20)), -23.0),
        (stereo((-33, 20)), -33.0),
        (stereo((-36, 10), (-23, 60), (-36, 10)), -23.0),
        (stereo((-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)), -23.0),
        (stereo((-26, 20), (-20, 20.1), (-26, 20)), -23.0),
        ([((-28, -28, -24, -30, -30), 20)], -23.0),
    ],
    ids=["case 1", "case 2", "case 3", "case 4", "case 5", "case 6"],
)
def test_integrated_loudness_of_tech_3341(rate: int, steps: Steps, expected: float) -> None:
    assert loudness(tones(rate, steps)) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize(
    ("divisor", "amplitude", "phase", "expected"),
    [(4, 0.5, 0, -6), (4, 0.5, 45, -6), (6, 0.5, 60, -6), (8, 0.5, 67.5, -6), (4, 1.41, 45, 3)],
    ids=["case 15", "case 16", "case 17", "case 18", "case 19"],
)
def test_true_peak_of_tech_3341(divisor: int, amplitude: float, phase: float, expected: float) -> None:
    rate = 48_000
    wave = amplitude * np.sin(2 * np.pi * np.arange(rate) / divisor + np.radians(phase))
    ramp = np.minimum(1, np.minimum(np.arange(rate), rate - 1 - np.arange(rate)) / 2400)
    measured = true_peak_db(Audio((wave * ramp)[:, None].astype(np.float32), rate))
    assert expected - 0.4 <= measured <= expected + 0.2
