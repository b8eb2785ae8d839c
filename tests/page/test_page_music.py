"""What sounds and when: the page's rows against the grid's own clock."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_songs import ferry, groove, song, stroke

from fourlimb.model import LIMBS, SOUNDS, FeelSpan
from fourlimb.model.grid import from_tempi
from fourlimb.page import music


def seconds_of(rows: list[music.Row], bars: list[dict[str, object]]) -> list[tuple[float, str]]:
    """Rows as (seconds from the first bar line at full tempo, sound)."""
    starts, at = [], 0.0
    for bar in bars:
        starts.append(at)
        at += bar["quarters"] * 60 / bar["tempo"]
    found = []
    for row in rows:
        bar = bars[int(row[0])]
        found.append((starts[int(row[0])] + row[1] * 60 / bar["tempo"] + row[2], SOUNDS[int(row[3])]))
    return sorted(found)


@pytest.mark.parametrize("swing", [0.5, 0.58, 0.667])
@pytest.mark.parametrize("unit", ["8th", "16th"])
def test_every_stroke_sounds_where_the_grid_puts_it(swing: float, unit: str) -> None:
    feel = (FeelSpan(from_bar=1, to_bar=4, feel="straight", swing=swing, swing_unit=unit),)
    places = ("0", "1/16", "1/8", "3/16", "1/4", "1/3", "3/8", "1/2", "7/8")
    strokes = [stroke(bar, place, "ride") for bar in (1, 2, 3, 4) for place in places]
    sheet = song(strokes, [("4/4", 100.0), ("4/4", 100.0), ("4/4", 140.0), ("4/4", 140.0)], feel=feel)
    heard = [time for time, _ in seconds_of(music.blows(sheet), music.bars(sheet.grid))]
    meant = [
        sheet.grid.time_at(s.bar, s.position, swung=True) - sheet.grid.bars[0].start_s
        for s in sorted(strokes, key=lambda s: s.sort_key)
    ]
    assert heard == pytest.approx(sorted(meant), abs=1e-4)


def test_a_flam_has_a_soft_blow_thirty_milliseconds_early_at_any_tempo() -> None:
    rows = music.blows(song([stroke(1, "1/4", "snare", grace="flam", velocity=100)], [("4/4", 60.0)]))
    assert [(row[1], row[2], row[4]) for row in rows] == [(1.0, -0.03, 50), (1.0, 0, 100)]


def test_an_open_hat_rings_until_the_hat_is_next_struck_also_across_the_bar_line() -> None:
    rows = music.blows(song([stroke(1, "7/8", "hat_open"), stroke(2, "0", "hat_pedal")], [("4/4", 90.0)] * 2))
    assert rows[0][7:9] == [0.5, 0]
    assert len(rows[1]) == 7


def test_limbs_and_sounds_are_told_by_their_fixed_order() -> None:
    row = music.blows(song([stroke(1, "0", "kick")], [("4/4", 90.0)]))[0]
    assert (SOUNDS[int(row[3])], LIMBS[int(row[5])]) == ("kick", "right foot")


def test_strokes_of_bars_that_the_song_lacks_are_left_out() -> None:
    assert music.blows(song([*groove(1), stroke(9, "0", "kick")], [("4/4", 90.0)])) == music.blows(
        song(groove(1), [("4/4", 90.0)])
    )


def test_small_drift_is_played_steady_and_a_new_tempo_is_kept() -> None:
    drift = [118.0, 121.0, 119.5, 120.5, 120.0]
    grid = from_tempi([("4/4", tempo) for tempo in [*drift, 150.0, 151.0, 149.0, 150.0]])
    tempi = music.steady_tempi(grid)
    assert len(set(tempi[:5])) == 1
    assert tempi[0] == pytest.approx(120.0, abs=0.5)
    assert len(set(tempi[5:])) == 1
    assert tempi[5] == pytest.approx(150.0, abs=0.5)


def test_one_odd_bar_is_not_a_new_tempo() -> None:
    grid = from_tempi([("4/4", tempo) for tempo in [100.0, 100.0, 131.0, 100.0, 100.0]])
    assert set(music.steady_tempi(grid)) == {100.0}


@given(st.lists(st.floats(40, 240), min_size=1, max_size=30))
def test_every_bar_has_a_tempo_inside_the_song_s_own_range(tempi: list[float]) -> None:
    found = music.steady_tempi(from_tempi([("4/4", tempo) for tempo in tempi]))
    assert len(found) == len(tempi)
    assert min(tempi) - 0.01 <= min(found) <= max(found) <= max(tempi) + 0.01


def test_bars_tell_their_beats_in_quarters() -> None:
    sheet = song([], [("6/8", 90.0), ("7/8", 120.0), ("4/4", 120.0)])
    assert [bar["beats"] for bar in music.bars(sheet.grid)] == [[0, 1.5], [0, 1, 2], [0, 1, 2, 3]]
    assert [bar["quarters"] for bar in music.bars(sheet.grid)] == [3, 3.5, 4]


def test_swung_places_lie_inside_their_beat() -> None:
    sheet = ferry()
    assert music.played(sheet.grid, 1, F(1, 8)) == 0.5
    swung = song([], [("4/4", 120.0)], feel=(FeelSpan(from_bar=1, to_bar=1, feel="straight", swing=0.667),))
    assert music.played(swung.grid, 1, F(1, 8)) == pytest.approx(0.667)


def test_the_second_crash_is_another_voice_lower_and_on_the_other_side() -> None:
    from fourlimb.page import samples
    from fourlimb.page.music import VOICES

    crashes = [stroke(1, "0", "crash"), stroke(1, "1/2", "crash", second=True), stroke(1, "3/4", "crash")]
    rows = music.blows(song(crashes, [("4/4", 120.0)]))
    assert [VOICES[int(row[3])] for row in rows] == ["crash", "second crash", "crash"]
    assert [row[6] for row in rows] == [0, 0, 1]  # each takes turns of its own
    kit = samples.kit({"second crash"})["sounds"]
    assert list(kit) == ["crash", "second crash"]
    assert kit["second crash"]["of"] == "crash"
    assert kit["second crash"]["pitch"] < 0.9
    assert kit["second crash"]["side"] * kit["crash"]["side"] < 0
    assert "layers" not in kit["second crash"]
    mirrored = samples.kit({"second crash"}, mirrored=True)["sounds"]
    assert mirrored["second crash"]["side"] == -kit["second crash"]["side"]
