import numpy as np
import pytest
from sound_sheets import sheet, stroke

from fourlimb.model import SOUNDS
from fourlimb.sound.kit import RATE, built_in, level, loudest_rms
from fourlimb.sound.perform import Blow, perform
from fourlimb.sound.strokes import GRACES, blows, blows_of


@pytest.mark.parametrize("grace", ["flam", "drag", "ruff"])
def test_grace_notes_come_before_and_softer(grace: str) -> None:
    made = list(blows_of(stroke(1, "0", "snare", grace=grace, velocity=100), 1.0, None))
    assert len(made) == 1 + len(GRACES[grace])
    assert made[-1] == Blow(1.0, "snare", 100)
    assert all(b.time_s < 1.0 and b.velocity <= 60 for b in made[:-1])


def test_grace_notes_keep_their_width_when_the_chart_is_slower() -> None:
    written = sheet([stroke(1, "1/4", "snare", grace="flam")])
    gaps = []
    for stretch in (1.0, 2.0):
        times = [b.time_s for b in blows(written, lambda bar, at, by=stretch: float(at) * 2 * by, 1, 2)]
        gaps.append(times[1] - times[0])
    assert gaps[0] == pytest.approx(gaps[1])


def test_accents_are_loud_and_ghosts_are_quiet_whatever_the_velocity() -> None:
    (accent,) = blows_of(stroke(1, "0", "snare", accent=True, velocity=60), 0.0, None)
    (ghost,) = blows_of(stroke(1, "0", "snare", ghost=True, velocity=100), 0.0, None)
    assert level("snare", accent.velocity) > 6 * level("snare", ghost.velocity)


def test_a_buzz_bounces_until_the_next_stroke_and_fades() -> None:
    made = list(blows_of(stroke(1, "0", "snare", struck="buzz"), 0.0, 0.3))
    assert len(made) > 5
    assert max(b.time_s for b in made) < 0.3
    assert [b.velocity for b in made] == sorted((b.velocity for b in made), reverse=True)


def test_rimshot_adds_the_rim() -> None:
    assert [b.sound for b in blows_of(stroke(1, "0", "snare", struck="rimshot"), 0.0, None)] == ["snare", "rim"]


def _tail(made: list[Blow], from_s: float, to_s: float) -> float:
    samples = perform(made, built_in(), 2 * RATE, dry=True).astype(float)
    return float(np.sqrt((samples[int(from_s * RATE) : int(to_s * RATE)] ** 2).mean()))


@pytest.mark.parametrize("closing", ["hat_closed", "hat_pedal"])
def test_an_open_hat_stops_when_the_hat_closes(closing: str) -> None:
    ringing = _tail([Blow(0.0, "hat_open", 100)], 0.9, 1.0)
    closed = _tail([Blow(0.0, "hat_open", 100), Blow(0.25, closing, 60)], 0.9, 1.0)
    assert ringing > 1e-3
    assert closed < ringing / 50


def test_a_snare_does_not_stop_an_open_hat() -> None:
    alone = [Blow(0.0, "hat_open", 100)]
    assert _tail([*alone, Blow(0.25, "snare", 60)], 0.95, 1.0) == pytest.approx(_tail(alone, 0.95, 1.0), rel=0.1)


@pytest.mark.parametrize("struck", ["choke", None])
def test_a_choked_crash_stops_and_another_rings(struck: str | None) -> None:
    made = list(blows_of(stroke(1, "0", "crash", struck=struck), 0.0, None))
    assert (_tail(made, 0.9, 1.0) < 1e-4) is (struck == "choke")


def test_half_open_rings_longer_than_closed_and_shorter_than_open() -> None:
    half = list(blows_of(stroke(1, "0", "hat_open", struck="half_open"), 0.0, None))
    tails = [_tail(m, 0.15, 0.3) for m in ([Blow(0, "hat_closed", 80)], half, [Blow(0, "hat_open", 80)])]
    assert tails[0] < tails[1] / 2
    assert tails[1] < tails[2] / 2


@pytest.mark.parametrize("sound", SOUNDS)
def test_every_sound_has_strokes_at_the_level_of_the_table(sound: str) -> None:
    kit = built_in()
    for velocity in (10, 64, 127):
        made = kit.stroke(sound, velocity, 0)
        assert loudest_rms(made) == pytest.approx(level(sound, velocity), rel=0.02)
        assert np.isfinite(made).all()


@pytest.mark.parametrize("sound", SOUNDS)
def test_every_stroke_begins_at_once_and_ends_in_silence(sound: str) -> None:
    for _, takes in built_in().layers[sound]:
        for take in takes:
            peak = np.abs(take).max()
            first = int(np.argmax(np.abs(take) > peak / 10))
            assert first < 0.004 * RATE
            assert np.abs(take[-8:]).max() < peak / 300


def test_repeated_strokes_are_never_the_same_twice_running() -> None:
    kit = built_in()
    for sound in SOUNDS:
        first, second = kit.stroke(sound, 100, 0), kit.stroke(sound, 100, 1)
        assert len(first) != len(second) or not np.array_equal(first, second)


def test_strokes_outside_the_song_are_cut_not_wrapped() -> None:
    samples = perform([Blow(-0.01, "snare", 100), Blow(0.95, "crash", 100)], built_in(), RATE, dry=True)
    assert samples.shape == (RATE, 2)
    assert np.abs(samples[:200]).max() > 0.01
