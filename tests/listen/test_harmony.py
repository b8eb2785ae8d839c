"""Pitch classes are heard where they sound; how often chords change tells a long bar from two short ones."""

import numpy as np
import pytest
from listen_material import performance

from fourlimb.listen.beats import Pulse
from fourlimb.listen.evidence import Evidence, from_hits
from fourlimb.listen.harmony import CHROMA_FRAMES_PER_S, PART_S, chroma
from fourlimb.listen.signs import NAMES, Folded, struck_in
from fourlimb.model import Audio

RATE = 32_000
C_MAJOR, F_MAJOR = (60, 64, 67), (65, 69, 72)


def tones(pitches: tuple[int, ...], seconds: float) -> np.ndarray:
    t = np.arange(int(seconds * RATE)) / RATE
    return np.asarray(sum(np.sin(2 * np.pi * 440 * 2 ** ((p - 69) / 12) * t) for p in pitches) * 0.1)


def sound(samples: np.ndarray) -> Audio:
    return Audio(samples.astype(np.float32)[:, None], RATE)


def loudest(rows: np.ndarray, count: int) -> set[int]:
    return {int(n) for n in np.argsort(-rows.mean(axis=0))[:count]}


def test_a_chord_is_heard_as_its_pitch_classes_where_it_sounds() -> None:
    rows = chroma(sound(np.concatenate([tones(C_MAJOR, 2), tones(F_MAJOR, 2)])))
    change = int(2 * CHROMA_FRAMES_PER_S)
    assert loudest(rows[5 : change - 5], 3) == {(p - 69) % 12 for p in C_MAJOR}
    assert loudest(rows[change + 5 : -5], 3) == {(p - 69) % 12 for p in F_MAJOR}


def test_sound_in_parts_is_heard_as_sound_in_one() -> None:
    long = tones(C_MAJOR, PART_S + 4)
    rows = chroma(sound(long))
    assert len(rows) == pytest.approx((PART_S + 4) * CHROMA_FRAMES_PER_S, abs=2)
    middle = int(PART_S * CHROMA_FRAMES_PER_S)
    assert np.allclose(rows[middle - 8 : middle + 8], rows[middle - 100], atol=0.02)


@pytest.mark.parametrize("count", [0, 100, 50_000])
def test_silence_has_no_pitch_classes(count: int) -> None:
    assert not chroma(sound(np.zeros(count))).any()


def with_chords(half_beats_a_chord: int) -> Evidence:
    hits = performance(12, 120)
    evidence = from_hits(hits, 24.5)
    at = np.arange(int(24.5 * CHROMA_FRAMES_PER_S)) / CHROMA_FRAMES_PER_S
    chord = (at * 4 / half_beats_a_chord).astype(int) % 3
    return Evidence(**{**evidence.__dict__, "chroma": np.eye(12)[chord]})


def test_chords_that_change_in_the_middle_of_bars_speak_for_shorter_bars() -> None:
    pulse = Pulse(np.arange(49) * 0.5, np.ones(49))
    found = {}
    for chord in (4, 8):
        evidence = with_chords(chord)
        row = Folded(pulse, evidence, struck_in(evidence)).row("4/4", 0, 0.0, 0.0)
        assert len(row) == len(NAMES)
        found[chord] = row[NAMES.index("harmony middle")]
    assert found[8] > 1.0
    assert found[4] < 0.0
