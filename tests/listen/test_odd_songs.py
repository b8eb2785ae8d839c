"""Songs that are no plain songs: nothing crashes, and what is unsure is said."""

from collections.abc import Sequence
from fractions import Fraction as F

import msgspec
import numpy as np
import pytest
from listen_material import RATE, SONG, TellingEars, performance

from fourlimb.listen import listen
from fourlimb.model import Audio, Hit, Listening, Sound


def sounding(duration_s: float) -> Audio:
    """Something that plays all the time; what is heard in it the ears are told."""
    t = np.arange(int(duration_s * RATE)) / RATE
    return Audio((0.2 * np.sin(2 * np.pi * 220 * t))[:, None].astype(np.float32), RATE)


def told(hits: Sequence[Hit], duration_s: float | None = None) -> Listening:
    ordered = sorted(hits, key=lambda hit: hit.time_s)
    return listen(sounding(duration_s or ordered[-1].time_s + 1), song=SONG, ears=TellingEars(ordered))


def later(hits: Sequence[Hit], seconds: float) -> tuple[Hit, ...]:
    return tuple(msgspec.structs.replace(hit, time_s=round(hit.time_s + seconds, 4)) for hit in hits)


def irregular(per_s: float, duration_s: float, sounds: tuple[Sound, ...], confidence: float) -> tuple[Hit, ...]:
    rng = np.random.default_rng(3)
    times = np.sort(rng.uniform(0, duration_s, int(per_s * duration_s)))
    return tuple(
        Hit(id=n, time_s=round(float(t), 4), sound=sounds[n % len(sounds)], loudness_db=-9.0, confidence=confidence)
        for n, t in enumerate(times, start=1)
    )


def trust(heard: Listening, low_s: float = 0.0, high_s: float = 1e9) -> float:
    return float(np.mean([beat.confidence for beat in heard.grid.beats if low_s <= beat.time_s < high_s]))


def backbeats(heard: Listening) -> float:
    """Share of snares written on 2 or 4."""
    places = [hit.position for hit in heard.hits if hit.sound == "snare"]
    return float(np.mean([place in (F(1, 4), F(3, 4)) for place in places]))


def test_two_minutes_without_drums_are_tacet_and_trusted_less() -> None:
    heard = told(later(performance(12, 112, spread_s=0.006), 120.0))
    assert heard.sections[0].tacet
    assert heard.grid.at(heard.sections[1].from_bar).start_s == pytest.approx(120.0, abs=3.0)
    assert trust(heard, 0, 115) < 0.5 * trust(heard, 122)
    assert any("beat is unsure" in note for note in heard.notes)
    assert backbeats(heard) > 0.9


@pytest.mark.parametrize("cut_s", [0.3, 0.9, 1.4])
def test_a_song_that_starts_inside_a_bar_gets_its_ones_right(cut_s: float) -> None:
    hits = performance(16, 116, spread_s=0.006)
    heard = told([msgspec.structs.replace(h, time_s=round(h.time_s - cut_s, 4)) for h in hits if h.time_s >= cut_s])
    assert backbeats(heard) > 0.9


def test_rubato_is_trusted_less_than_a_steady_band_and_bars_are_doubted() -> None:
    hits = performance(16, 100)
    sway = [msgspec.structs.replace(h, time_s=round(h.time_s + 0.9 * np.sin(h.time_s / 1.9) + 1.0, 4)) for h in hits]
    free, steady = told(sway), told(hits)
    assert trust(free) < 0.75 * trust(steady)
    assert free.notes
    assert not steady.notes


def test_a_tempo_jump_is_followed_and_said() -> None:
    first = performance(12, 96, spread_s=0.005)
    second = later(performance(16, 138, spread_s=0.005), 12 * 240 / 96)
    heard = told([*first, *second])
    tempi = [bar.tempo_bpm for bar in heard.grid.bars]
    assert tempi[4] == pytest.approx(96, rel=0.04)
    assert tempi[-6] == pytest.approx(138, rel=0.04)
    assert any("the tempo goes from 96 to 138" in note and "two songs" in note for note in heard.notes)


def test_a_fragment_of_half_a_minute_has_its_grid() -> None:
    heard = told([h for h in later(performance(24, 92, spread_s=0.006), -3.7) if 0 <= h.time_s < 30], 30.0)
    assert heard.grid.bars[2].tempo_bpm == pytest.approx(92, rel=0.02)
    assert backbeats(heard) > 0.9


def test_applause_is_doubted() -> None:
    heard = told(irregular(9.0, 20.0, ("snare", "hat_closed", "clap"), 0.45))
    assert trust(heard) < 0.5
    assert heard.notes


def test_speech_is_doubted() -> None:
    heard = told(irregular(0.25, 30.0, ("kick", "snare"), 0.4), 30.0)
    assert any("almost no drums" in note for note in heard.notes)


def test_a_click_alone_gives_even_bars() -> None:
    clicks = tuple(
        Hit(id=n + 1, time_s=0.5 * n, sound="cowbell", loudness_db=0.0, confidence=0.9) for n in range(60)
    )  # fmt: skip
    heard = told(clicks)
    gaps = np.diff([beat.time_s for beat in heard.grid.beats])
    assert float(gaps.std()) < 0.005
    assert round(60 / float(gaps.mean())) in (60, 120, 240)


def test_strokes_at_the_very_start_are_placed() -> None:
    heard = told(performance(8, 120))
    assert heard.hits[0].time_s == 0
    assert all(hit.position is not None for hit in heard.hits)


def test_two_songs_without_a_gap_are_said() -> None:
    first, second = performance(16, 84, spread_s=0.005), performance(16, 124, spread_s=0.005)
    heard = told([*first, *later(second, 16 * 240 / 84 + 0.7)])
    assert any("two songs" in note for note in heard.notes)


@pytest.mark.parametrize("count", [0, 1, 2, 5])
def test_hardly_any_stroke_is_said(count: int) -> None:
    hits = performance(1, 100)[:count]
    heard = listen(sounding(12.0), song=SONG, ears=TellingEars(hits))
    assert heard.grid.bars
    assert heard.notes
