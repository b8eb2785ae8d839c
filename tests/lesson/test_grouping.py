"""Groups of 7/8 and the like: found from the part where it tells them, as usual where it does not."""

from fractions import Fraction as F
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.engrave import musicxml
from fourlimb.lesson.build import build
from fourlimb.lesson.grouping import groupings, groups_of, usual, vote_of, with_groups
from fourlimb.lesson.source import hear_song
from fourlimb.model import Chart, Correction, Hit, Kit, Listening, Section, Sheet, Song, Sound, Stroke
from fourlimb.model.grid import regular
from fourlimb.model.places import beat_lengths
from fourlimb.teach import plan

Placed = list[tuple[F, Sound, float]]


def _heard(meter: str, bars: list[Placed], sections: tuple[Section, ...] = ()) -> Listening:
    grid = regular([meter] * len(bars), 120.0)
    hits = [
        Hit(
            id=0,
            time_s=grid.time_at(number, at),
            sound=sound,
            loudness_db=loud,
            confidence=1.0,
            bar=number,
            position=at,
        )
        for number, bar in enumerate(bars, start=1)
        for at, sound, loud in bar
    ]
    hits = [msgspec.structs.replace(hit, id=n) for n, hit in enumerate(hits)]
    return Listening(
        song=Song(duration_s=grid.end_s, sample_rate_hz=0, sha256=""), grid=grid, hits=tuple(hits), sections=sections
    )


def _groove(groups: tuple[int, ...], unit: int = 8) -> Placed:
    """Hats on every unit, kick on the one, snare or kick in turn where groups begin."""
    starts = [sum(groups[:n]) for n in range(len(groups))]
    hats: Placed = [(F(n, unit), "hat_closed", -12.0) for n in range(sum(groups))]
    return [*hats, *((F(at, unit), "snare" if n % 2 else "kick", -6.0) for n, at in enumerate(starts))]


def _hats(count: int, unit: int = 8, accents: tuple[int, ...] = ()) -> Placed:
    return [(F(n, unit), "hat_closed", -6.0 if n in accents else -14.0) for n in range(count)]


CASES = [(count, unit, groups) for count in (5, 7, 8, 9, 10, 11) for unit in (8, 16) for groups in groupings(count)]


@pytest.mark.parametrize(("count", "unit", "groups"), CASES, ids=str)
def test_kick_and_snare_on_group_starts_tell_the_groups(count: int, unit: int, groups: tuple[int, ...]) -> None:
    heard = with_groups(_heard(f"{count}/{unit}", [_groove(groups, unit)] * 8))
    meter = heard.grid.meter(3)
    if groups == usual(f"{count}/{unit}"):
        assert meter == f"{count}/{unit}"
    else:
        assert meter == f"{'+'.join(map(str, groups))}/{unit}"
        assert [int(length * unit) for length in beat_lengths(meter)] == list(groups)


def test_accents_of_the_running_hand_alone_tell_the_groups() -> None:
    heard = with_groups(_heard("7/8", [_hats(7, accents=(0, 3, 5))] * 8))
    assert {bar.meter for bar in heard.grid.bars} == {"3+2+2/8"}
    assert with_groups(_heard("8/8", [_hats(8, accents=(0, 3, 6))] * 8)).grid.meter(1) == "3+3+2/8"


def test_in_doubt_the_usual_groups_stay() -> None:
    everything: Placed = [(F(n, 8), "snare", -6.0) for n in range(7)]
    for bars in ([_hats(7)] * 8, [everything] * 8, [[]] * 8, [_groove((3, 2, 2))] * 2 + [_hats(7)] * 6):
        assert not groups_of(_heard("7/8", bars))
    half = [_groove((3, 2, 2)), _groove((2, 2, 3))] * 4
    assert not groups_of(_heard("7/8", half))


@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "12/8", "5/4", "2+2+3/8", "2+3+2/8"])
def test_a_meter_that_says_its_groups_or_has_none_is_left_alone(meter: str) -> None:
    heard = _heard(meter, [[(F(0), "kick", -6.0), (F(3, 8), "snare", -6.0), (F(5, 8), "snare", -6.0)]] * 8)
    assert with_groups(heard) == heard


def test_each_section_has_its_own_groups_and_a_fill_follows_its_section() -> None:
    fill: Placed = [(F(n, 16), "tom_high", -6.0) for n in range(14)]
    bars = [_groove((3, 2, 2))] * 7 + [fill] + [_groove((2, 2, 3))] * 8
    sections = (Section(name="A", from_bar=1, to_bar=8), Section(name="B", from_bar=9, to_bar=16))
    heard = with_groups(_heard("7/8", bars, sections))
    assert [bar.meter for bar in heard.grid.bars] == ["3+2+2/8"] * 8 + ["7/8"] * 8


def test_ghosts_and_programmed_layers_do_not_vote() -> None:
    ghosts: Placed = [(F(n, 8), "snare", -24.0) for n in (2, 4)]
    loud: Placed = [(F(n, 8), "snare", -6.0) for n in (3, 5)] + [(F(0), "snare", -6.0)]
    assert set(groups_of(_heard("7/8", [[*ghosts, *loud]] * 8)).values()) == {(3, 2, 2)}
    heard = _heard("7/8", [_groove((3, 2, 2))] * 8)
    layered = msgspec.structs.replace(
        heard, hits=tuple(msgspec.structs.replace(hit, layer="programmed") for hit in heard.hits)
    )
    assert not groups_of(layered)


def test_time_runs_as_before_and_every_group_has_its_beat() -> None:
    before = _heard("7/8", [_groove((3, 2, 2))] * 8)
    after = with_groups(before).grid
    for number in after.numbers:
        for n in range(14):
            at = F(n, 16)
            assert after.time_at(number, at) == pytest.approx(before.grid.time_at(number, at), abs=1e-5)
        beats = [beat for beat in after.beats if beat.bar == number]
        assert [beat.beat for beat in beats] == [1, 2, 3]
        assert beats[1].time_s == pytest.approx(before.grid.time_at(number, F(3, 8)), abs=1e-5)
        assert after.at(number).tempo_bpm == pytest.approx(before.grid.at(number).tempo_bpm * 2 / 3, abs=0.01)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from([0.0, 0.2, 0.7, 1.0, 1.6]), min_size=5, max_size=13))
def test_a_bar_votes_for_twos_and_threes_that_fill_it_or_for_nothing(strength: list[float]) -> None:
    vote = vote_of(strength)
    if vote is not None:
        assert sum(vote) == len(strength)
        assert set(vote) <= {2, 3}
    louder = vote_of([2.0 * value for value in strength])
    assert vote is None or louder == vote  # playing louder changes no vote


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_what_stands_on_the_one_changes_nothing(data: st.DataObject) -> None:
    strength = data.draw(st.lists(st.floats(0.0, 2.0), min_size=7, max_size=7))
    assert vote_of(strength) == vote_of([strength[0] + 1.0, *strength[1:]])


def test_a_score_that_names_no_groups_becomes_a_lesson_that_does(tmp_path: Path) -> None:
    grid = regular(["7/8"] * 8, 120.0)
    strokes = tuple(
        Stroke(bar=bar, position=at, piece=sound, limb="right foot" if sound == "kick" else "left hand")
        for bar in grid.numbers
        for at, sound, _ in sorted(_groove((3, 2, 2)), key=lambda one: (one[0], one[1]))
    )
    song = Song(duration_s=grid.end_s, sample_rate_hz=0, sha256="", title="Seven", kind="musicxml")
    chart = Chart(strokes=tuple(sorted(strokes, key=lambda s: s.sort_key)), bars=(), grade=1.0)
    score = tmp_path / "seven.musicxml"
    made = Sheet(song=song, level="full", chart=chart, grid=grid, kit=Kit(), plan=plan(chart, grid, Kit()))
    score.write_bytes(musicxml(made))
    heard = hear_song(score)
    assert {bar.meter for bar in heard.grid.bars} == {"3+2+2/8"}
    assert {hit.position for hit in heard.hits if hit.sound != "hat_closed"} == {F(0), F(3, 8), F(5, 8)}
    made = build(heard)
    assert made.charts["full"].bars[0].count == "1 & a 2 & 3 &"
    taught = build(heard, corrections=(Correction(n=1, what="meter 2+2+3/8"),))
    assert {bar.meter for bar in taught.grid.bars} == {"2+2+3/8"}
    assert taught.charts["full"].bars[0].count == "1 & 2 & 3 & a"
