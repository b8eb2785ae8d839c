from fractions import Fraction as F

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sound_sheets import GROOVE, sheet, stroke

from fourlimb.model import Audio, FeelSpan, InputError
from fourlimb.model.grid import regular
from fourlimb.sound import Mix, loudness, render, true_peak_db
from fourlimb.sound.kit import RATE
from fourlimb.sound.render import CEILING_DBTP, LEAD_S

DRY = Mix(click_db=None, count_in=False)


def onset(samples: np.ndarray, near_s: float, reach_s: float = 0.05) -> float:
    """Seconds of the first sample at a quarter of the loudest one around a time."""
    start = max(0, round((near_s - reach_s) * RATE))
    part = np.abs(samples[start : round((near_s + reach_s) * RATE)]).max(axis=1)
    return (start + int(np.argmax(part > part.max() / 4))) / RATE


def test_every_stroke_starts_where_the_grid_puts_it() -> None:
    written = sheet([stroke(1, "0", "kick"), stroke(1, "3/8", "snare"), stroke(2, "7/16", "rim")])
    track = render(written, DRY)
    for bar, place in ((1, F(0)), (1, F(3, 8)), (2, F(7, 16))):
        expected = track.start_of(bar) + float(place) * 2.0
        assert onset(track.audio.samples, expected) == pytest.approx(expected, abs=0.004)


def test_slower_is_the_same_chart_slower() -> None:
    full, half = render(sheet(GROOVE), DRY), render(sheet(GROOVE), Mix(speed=0.5, click_db=None, count_in=False))
    assert half.start_of(2) - half.start_of(1) == pytest.approx(2 * (full.start_of(2) - full.start_of(1)))
    expected = half.start_of(2) + 1.0
    assert onset(half.audio.samples, expected) == pytest.approx(expected, abs=0.004)


def test_swing_is_played_where_the_grid_swings() -> None:
    late = FeelSpan(from_bar=1, to_bar=2, feel="straight", swing=2 / 3)
    track = render(sheet([stroke(1, "1/8", "rim")], feel=(late,)), DRY)
    assert onset(track.audio.samples, LEAD_S + 1 / 3) == pytest.approx(LEAD_S + 0.5 * 2 / 3, abs=0.004)


def test_same_sheet_gives_the_same_samples() -> None:
    first, second = render(sheet(GROOVE)), render(sheet(list(reversed(GROOVE))))
    assert np.array_equal(first.audio.samples, second.audio.samples)


@pytest.mark.parametrize(("tempo", "beats"), [(120.0, 4), (88.0, 8)])
def test_count_in_is_one_bar_fast_and_two_bars_slow(tempo: float, beats: int) -> None:
    track = render(sheet([], tempo=tempo), Mix(click_db=None))
    assert track.count_in_s == pytest.approx(LEAD_S + beats * 60 / tempo, abs=1e-5)
    heard = [n for n in range(beats + 4) if _sounds(track.audio.samples, LEAD_S + n * 60 / tempo)]
    assert heard == list(range(beats))


def _sounds(samples: np.ndarray, at_s: float) -> bool:
    start = round(at_s * RATE)
    return bool(np.abs(samples[start : start + 1000]).max() > 1e-3)


def test_a_slower_speed_may_need_the_longer_count_in() -> None:
    assert render(sheet([], tempo=100), Mix(speed=0.5)).count_in_s == pytest.approx(LEAD_S + 8 * 1.2, abs=1e-5)


def test_the_pickup_is_played_inside_the_count_in() -> None:
    first = regular(["1/4"], 120, start_s=0.7, first_bar=0)
    rest = regular(["4/4"] * 2, 120, start_s=1.2)
    grid = type(first)(beats=first.beats + rest.beats, bars=first.bars + rest.bars, end_s=rest.end_s)
    track = render(sheet([stroke(0, "0", "snare")], grid=grid), Mix(click_db=None))
    assert track.start_of(1) == pytest.approx(LEAD_S + 2.0, abs=1e-5)
    assert track.start_of(0) == track.count_in_s == pytest.approx(LEAD_S + 1.5, abs=1e-5)


def test_first_beat_of_the_click_is_higher() -> None:
    samples = render(sheet([]), Mix(count_in=False)).audio.samples[:, 0]

    def pitch(at_s: float) -> float:
        piece = samples[round(at_s * RATE) :][:1500]
        return float(np.argmax(np.abs(np.fft.rfft(piece * np.hanning(1500), 1 << 15)))) * RATE / (1 << 15)

    assert pitch(LEAD_S) > 1.2 * pitch(LEAD_S + 0.5) > 1000


def test_click_lies_under_the_drums() -> None:
    kicks = [stroke(1, f"{n}/4", "kick", velocity=100) for n in range(4)]
    drums = render(sheet(kicks), Mix(click_db=None, count_in=False, target_lufs=-30)).audio.samples
    both = render(sheet(kicks), Mix(count_in=False, target_lufs=-30)).audio.samples
    alone, on = _loudest(drums), _loudest(both - drums)
    assert 20 * np.log10(on / alone) == pytest.approx(-6.0, abs=1.0)


def _loudest(samples: np.ndarray) -> float:
    power = np.convolve((samples.astype(float) ** 2).mean(axis=1), np.ones(441) / 441, "valid")
    return float(np.sqrt(power.max()))


def test_a_range_of_bars_starts_with_its_own_count_in() -> None:
    track = render(sheet(GROOVE, bars=4), Mix(from_bar=2, to_bar=3))
    assert [bar for bar, _ in track.bars] == [2, 3]
    assert track.count_in_s == pytest.approx(LEAD_S + 2.0, abs=1e-5)
    assert track.end_s == pytest.approx(LEAD_S + 6.0, abs=1e-5)


@pytest.mark.parametrize(
    ("mix", "says"),
    [
        (Mix(speed=0.1), "speed 0.1"),
        (Mix(speed=3), "speed 3"),
        (Mix(speed=float("nan")), "speed nan"),
        (Mix(from_bar=2, to_bar=1), "bars 2-1"),
        (Mix(to_bar=99), "bars 1 to 2"),
    ],
)
def test_what_cannot_be_played_is_refused_in_one_line(mix: Mix, says: str) -> None:
    with pytest.raises(InputError, match=says) as refused:
        render(sheet(GROOVE), mix)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("speed", [0.5, 1.0])
def test_levels_and_speeds_are_equally_loud_and_under_the_ceiling(speed: float) -> None:
    skeleton = [s for s in GROOVE if s.piece != "hat_closed"]
    alone = Mix(speed=speed, click_db=None, count_in=False)
    heard = [render(sheet(part, bars=2), alone) for part in (GROOVE, skeleton)]
    assert abs(loudness(heard[0].audio) - loudness(heard[1].audio)) < 2.0
    assert all(true_peak_db(track.audio) <= CEILING_DBTP + 0.05 for track in heard)


def test_starts_silent_and_fades_in() -> None:
    samples = render(sheet([stroke(1, "0", "crash", velocity=127)]), DRY).audio.samples
    assert np.abs(samples[: round(LEAD_S * RATE) - 10]).max() < 1e-6


def test_an_empty_chart_is_silence_of_the_right_length() -> None:
    track = render(sheet([]), DRY)
    assert not track.audio.samples.any()
    assert track.audio.duration_s == pytest.approx(track.end_s + 2.0, abs=0.001)


def test_a_left_handed_kit_is_mirrored() -> None:
    hats = [stroke(1, "0", "hat_closed")]
    right, left = (render(sheet(hats, handed=h), DRY).audio.samples for h in ("right", "left"))
    energy = (right.astype(float) ** 2).sum(axis=0)
    assert energy[0] > 1.5 * energy[1]
    mirrored = (left.astype(float) ** 2).sum(axis=0)
    assert mirrored[1] > 1.5 * mirrored[0]


@given(st.sampled_from(["4/4", "3/4", "6/8", "7/8", "2/4", "5/4"]), st.floats(40, 240), st.floats(0.3, 1.2))
@settings(max_examples=15, deadline=None)
def test_any_meter_and_tempo_counts_in_whole_bars(meter: str, tempo: float, speed: float) -> None:
    written = sheet([], meter=meter, tempo=tempo)
    track = render(written, Mix(speed=speed))
    bar_s = (written.grid.end(1) - written.grid.at(1).start_s) / speed
    bars = (track.count_in_s - LEAD_S) / bar_s
    assert bars == pytest.approx(round(bars), abs=1e-4)
    assert 1 <= round(bars) <= 4


def test_the_recording_lies_under_the_drums_where_the_grid_says() -> None:
    written = sheet([stroke(1, "0", "kick")], bars=2)
    samples = np.zeros((6 * RATE, 1), dtype=np.float32)
    knock = round(written.grid.time_at(2, F(0)) * RATE)
    samples[knock : knock + 300, 0] = np.random.default_rng(0).standard_normal(300) * 0.5
    for speed in (1.0, 0.5):
        plain = Mix(speed=speed, drums_db=None, click_db=None, count_in=False)
        sounded = Mix(
            speed=speed,
            drums_db=None,
            click_db=None,
            count_in=False,
            recording=Audio(samples, RATE),
            attacks_s=(knock / RATE,),
        )
        assert not render(written, plain).audio.samples.any()
        track = render(written, sounded)
        assert onset(track.audio.samples, track.start_of(2)) == pytest.approx(track.start_of(2), abs=0.002)


def test_a_recording_at_another_rate_is_refused() -> None:
    with pytest.raises(InputError, match="bring it to 44100"):
        render(sheet(GROOVE), Mix(recording=Audio(np.zeros((10, 2), dtype=np.float32), 48_000)))
