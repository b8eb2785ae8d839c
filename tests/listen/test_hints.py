"""The teacher's word on the grid: what was said holds, the rest is solved again, and nothing is lost."""

from fractions import Fraction as F

import pytest
from listen_material import SONG, TellingEars, performance, sound_of

from fourlimb.listen import Hints, listen, regrid
from fourlimb.model import InputError, Listening


@pytest.fixture(scope="module")
def heard() -> Listening:
    truth = performance(16, 110, spread_s=0.006, start_s=0.3)
    return listen(sound_of(truth, truth[-1].time_s + 1), song=SONG, ears=TellingEars(truth))


def ones(heard: Listening) -> list[float]:
    return [b.time_s for b in heard.grid.beats if b.beat == 1 and b.bar > 0]


def test_no_hint_changes_nothing_that_matters(heard: Listening) -> None:
    again = regrid(heard, Hints())
    assert [b.start_s for b in again.grid.bars] == pytest.approx([b.start_s for b in heard.grid.bars], abs=2e-4)
    assert [(h.bar, h.position) for h in again.hits] == [(h.bar, h.position) for h in heard.hits]


def test_twice_and_half_are_inverse(heard: Listening) -> None:
    twice = regrid(heard, Hints(tempo_factor=F(2)))
    assert twice.grid.bars[3].tempo_bpm == pytest.approx(220, rel=0.03)
    back = regrid(twice, Hints(tempo_factor=F(1, 2)))
    assert [b.start_s for b in back.grid.bars] == pytest.approx([b.start_s for b in heard.grid.bars], abs=0.002)
    assert [(h.bar, h.position) for h in back.hits] == [(h.bar, h.position) for h in heard.hits]


def test_halving_keeps_the_one(heard: Listening) -> None:
    half = regrid(heard, Hints(tempo_factor=F(1, 2)))
    assert half.grid.bars[1].tempo_bpm == pytest.approx(55, rel=0.03)
    assert all(min(abs(t - one) for one in ones(heard)) < 0.02 for t in ones(half))


def test_this_is_the_one_moves_every_bar_line(heard: Listening) -> None:
    second = next(b.time_s for b in heard.grid.beats if b.bar == 5 and b.beat == 2)
    moved = regrid(heard, Hints(ones_s=(second,)))
    seconds = [b.time_s for b in heard.grid.beats if b.beat == 2]
    inner = ones(moved)[1:-1]
    assert inner
    assert all(min(abs(t - s) for s in seconds) < 0.002 for t in inner)
    assert {b.meter for b in moved.grid.bars if b.bar > 0} == {"4/4"}


def test_a_bar_line_here_cuts_only_the_bar_before(heard: Listening) -> None:
    third = next(b.time_s for b in heard.grid.beats if b.bar == 5 and b.beat == 3)
    cut = regrid(heard, Hints(bar_lines_s=(third,)))
    assert cut.grid.meter(5) == "2/4"
    assert cut.grid.at(6).start_s == pytest.approx(third, abs=2e-4)
    assert cut.grid.at(5).start_s == pytest.approx(heard.grid.at(5).start_s, abs=2e-4)
    assert cut.grid.meter(6) == "4/4"


def test_what_was_said_before_still_holds(heard: Listening) -> None:
    third = next(b.time_s for b in heard.grid.beats if b.bar == 5 and b.beat == 3)
    cut = regrid(heard, Hints(bar_lines_s=(third,)))
    later = next(b.time_s for b in cut.grid.beats if b.bar == 9 and b.beat == 2)
    both = regrid(cut, Hints(ones_s=(later,)))
    assert any(abs(t - third) < 1e-3 for t in ones(both))
    assert any(abs(t - later) < 1e-3 for t in ones(both))


@pytest.mark.parametrize("meter", ["3/4", "2/4", "6/8", "12/8", "5/4", "7/8"])
def test_a_meter_for_the_whole_song_is_laid_from_the_first_bar(heard: Listening, meter: str) -> None:
    changed = regrid(heard, Hints(meters=((None, meter),)))
    assert {b.meter for b in changed.grid.bars if b.bar > 0} == {meter}
    assert len(changed.hits) == len(heard.hits)


def test_a_meter_for_some_bars_leaves_the_others(heard: Listening) -> None:
    changed = regrid(heard, Hints(meters=(((3, 4), "3/4"),)))
    assert [changed.grid.meter(n) for n in range(2, 7)] == ["4/4", "3/4", "3/4", "4/4", "4/4"]
    assert changed.grid.at(3).start_s == pytest.approx(heard.grid.at(3).start_s, abs=2e-4)


def test_hits_keep_id_time_and_sound(heard: Listening) -> None:
    for hints in (Hints(tempo_factor=F(2)), Hints(ones_s=(3.0,)), Hints(meters=((None, "3/4"),))):
        changed = regrid(heard, hints)
        assert [(h.id, h.time_s, h.sound) for h in changed.hits] == [(h.id, h.time_s, h.sound) for h in heard.hits]


def test_impossible_hints_are_refused(heard: Listening) -> None:
    with pytest.raises(InputError):
        regrid(heard, Hints(meters=((None, "4/5"),)))
    with pytest.raises(InputError):
        regrid(heard, Hints(tempo_factor=F(0)))


def test_no_stroke_falls_off_the_end_when_bar_lines_move(heard: Listening) -> None:
    for beat in (2, 3, 4):
        at = next(b.time_s for b in heard.grid.beats if b.bar == 15 and b.beat == beat)
        for hints in (Hints(ones_s=(at,)), Hints(bar_lines_s=(at,))):
            assert all(hit.position is not None for hit in regrid(heard, hints).hits)
