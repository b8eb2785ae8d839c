"""Takes with one known fault each: it is found, and nothing else is."""

from fractions import Fraction as F

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.mark import mark
from fourlimb.model import Chart, Grid, Hit, InputError, MarkedStroke, Marking, Stroke
from fourlimb.model.codec import encode, from_plain, to_plain

from .takes import FILL, GROOVE, LANDING, OTHER, chart_of, joined, play

SONG = [GROOVE] * 7 + [FILL, LANDING] + [GROOVE] * 7
CHART, GRID = chart_of(SONG)


def _count(marking: Marking, verdict: str) -> int:
    return sum(stroke.verdict == verdict for stroke in marking.strokes)


def _said(marking: Marking) -> str:
    return " ".join(marking.summary.say)


def _rush(stroke: Stroke) -> float:
    """A fill that gains 18 ms with every 16th, and lands early."""
    if stroke.bar == 8 and stroke.position >= F(1, 2):
        return -18.0 * float((stroke.position - F(1, 2)) * 16) / 2
    return -65.0 if stroke.bar == 9 and stroke.position < F(1, 4) else 0.0


@pytest.mark.parametrize("ratio", [0.4, 0.5, 0.62, 0.8, 1.0, 1.1])
def test_a_good_take_is_good_at_any_tempo(ratio: float) -> None:
    marking = mark(play(CHART, GRID, ratio=ratio), CHART, GRID)
    assert _count(marking, "played") == len(marking.strokes) == len(CHART.strokes)
    assert marking.summary.score > 0.98
    assert marking.take.tempo_bpm == pytest.approx(120 * ratio, rel=0.01)
    assert marking.take.offset_s == pytest.approx(3.0, abs=0.02)
    if ratio <= 1:
        assert marking.summary.practise_next[0].rung_bpm > marking.take.tempo_bpm
    assert "early" not in _said(marking)


def test_lateness_is_that_of_the_player_to_a_few_milliseconds() -> None:
    def late(stroke: Stroke) -> float:
        return 45.0 if stroke.piece == "snare" and stroke.bar % 4 == 2 else 0.0

    marking = mark(play(CHART, GRID, jitter_ms=0.0, late_ms=late), CHART, GRID)
    off = [s.late_ms for s in marking.strokes if s.piece == "snare" and s.bar % 4 == 2 and s.late_ms is not None]
    on = [s.late_ms for s in marking.strokes if s.piece == "kick" and s.late_ms is not None]
    assert off == pytest.approx([45.0] * len(off), abs=6.0)
    assert on == pytest.approx([0.0] * len(on), abs=6.0)


def test_a_rushed_fill_is_named_and_practised_with_bar_before_and_landing() -> None:
    marking = mark(play(CHART, GRID, late_ms=_rush), CHART, GRID)
    assert "The fill in bar 8 rushes" in _said(marking)
    first = marking.summary.practise_next[0]
    assert (first.from_bar, first.to_bar >= 9) == (7, True)
    assert _count(marking, "missed") == 0


def test_missing_ghosts_are_named() -> None:
    chart, grid = chart_of(["hat every 8th; snare 2 4; ghost snare 2a 3e; kick 1 3"] * 8)
    marking = mark(play(chart, grid, leave=lambda s: s.ghost), chart, grid)
    assert "16 of 16 ghost notes are missing" in _said(marking)
    assert _count(marking, "missed") == 16


def test_ghosts_as_loud_as_backbeats_are_named_and_right_ones_are_not() -> None:
    chart, grid = chart_of(["hat every 8th; snare 2 4; ghost snare 2a 3e; kick 1 3"] * 8)
    take = play(chart, grid)
    assert "ghost" not in _said(mark(take, chart, grid))
    loud = [msgspec.structs.replace(hit, loudness_db=-6.0) for hit in take]
    marking = mark(loud, chart, grid)
    assert "ghost notes are nearly as loud" in _said(marking)
    ghosts = {(s.bar, s.position) for s in chart.strokes if s.ghost}
    dynamics = [s.dynamic for s in marking.strokes if s.piece == "snare" and (s.bar, s.position) in ghosts]
    assert dynamics == pytest.approx([0.6] * 16)  # 12 dB too loud, 2 dB to 0.1


def test_a_stop_and_restart_is_named_and_costs_nothing_when_the_second_try_is_clean() -> None:
    first = play(CHART, GRID, to_bar=6)
    again = play(CHART, GRID, from_bar=5, start_s=first[-1].time_s + 2.3, seed=2)
    marking = mark(joined(first, again), CHART, GRID)
    assert "You stop in bar 6 and start again in bar 5" in _said(marking)
    assert _count(marking, "played") == len(CHART.strokes)
    assert _count(marking, "extra") == 0


def test_a_pause_in_the_middle_of_a_bar_loses_no_stroke() -> None:
    take = play(CHART, GRID)
    cut = GRID.time_at(6, F(1, 2)) + 3.0 - 0.05
    late = [msgspec.structs.replace(hit, time_s=hit.time_s + (1.9 if hit.time_s > cut else 0.0)) for hit in take]
    marking = mark(late, CHART, GRID)
    assert _count(marking, "played") >= len(CHART.strokes) - 2
    assert "You stop in bar 6 and start again in bar 6" in _said(marking)


def test_one_stroke_a_little_off_in_a_bar_with_doubts_is_not_told_and_several_are() -> None:
    """Cymbals that may not have been heard cost a bar some of its score; that says nothing of a snare 30 ms late."""

    def told(places: tuple[F, ...]) -> str:
        take = play(
            CHART,
            GRID,
            jitter_ms=0.0,
            late_ms=lambda s: 30.0 if s.bar == 4 and s.position in places and s.piece != "kick" else 0.0,
            leave=lambda s: s.bar == 4 and s.piece == "hat_closed" and s.position in (F(3, 8), F(5, 8)),
        )
        marking = mark(take, CHART, GRID, heights=lambda sound, time_s: 0.45)
        assert marking.bars[3].score < 0.95
        return marking.bars[3].say

    assert told((F(1, 4),)) == ""
    assert "ms late" in told((F(1, 4), F(1, 2), F(3, 4)))


def test_a_bar_left_out_after_a_silent_one_is_named_as_two_things() -> None:
    """The bar between is the first of two nearly alike; that one was silent before it draws no jump there."""
    kicks = ("2&", "3", "3&", "2", "1&", "4", "3", "3 4&")
    grooves = [f"hat every 8th; snare 2 4; kick 1 {kick}" for kick in kicks]
    chart, grid = chart_of(grooves * 2)
    first = play(chart, grid, to_bar=7, leave=lambda s: s.bar == 6)
    again = play(chart, grid, from_bar=9, start_s=3.0 + 7 * 2.0, seed=2)
    marking = mark(joined(first, again), chart, grid)
    assert [bar.bar for bar in marking.bars if bar.say == "nothing of this bar was played"] == [6, 8]


def test_a_bar_left_out_is_named_and_only_that_bar_is_missing() -> None:
    bars = [GROOVE, GROOVE, OTHER, OTHER, FILL, LANDING] * 3
    chart, grid = chart_of(bars)
    first = play(chart, grid, to_bar=8)
    again = play(chart, grid, from_bar=10, start_s=3.0 + 8 * 2.0, seed=2)
    marking = mark(joined(first, again), chart, grid)
    assert "You leave out bar 9. " in _said(marking)
    assert {s.bar for s in marking.strokes if s.verdict != "played"} == {9}
    assert [bar.bar for bar in marking.bars if bar.say] == [9]
    assert (marking.summary.practise_next[0].from_bar, marking.summary.practise_next[0].to_bar) == (8, 10)


def test_silent_bars_beside_one_left_out_are_neither_left_out_nor_clean() -> None:
    song = [GROOVE] * 7 + [FILL, "", "", LANDING, *[GROOVE] * 7]
    chart, grid = chart_of(song)
    take = joined(play(chart, grid, to_bar=7), play(chart, grid, start_s=3.0 + 2.0 * 9, from_bar=11))
    marking = mark(take, chart, grid)
    assert "You leave out bar 8. " in _said(marking)
    assert not any(bar.say for bar in marking.bars if bar.bar != 8)
    one = mark(
        play(chart, grid, leave=lambda s: s.bar in (1, 2, 3, 5, 12, 14, 16) and s.piece == "kick"), chart, grid
    )
    assert "Bars 6-8 are clean." in _said(one)


def test_places_that_share_a_bar_are_practised_as_one() -> None:
    marking = mark(play(CHART, GRID, leave=lambda s: s.bar in (3, 5)), CHART, GRID)
    places = marking.summary.practise_next
    assert [(one.from_bar, one.to_bar) for one in places] == [(2, 6)]
    assert "bar 3: " in places[0].why
    assert "bar 5: " in places[0].why


def test_one_mistake_in_a_bar_is_told_even_when_the_bar_is_otherwise_clean() -> None:
    early = play(CHART, GRID, late_ms=lambda s: -60.0 if _key(s) == (5, F(1, 4), "snare") else 0.0)
    marking = mark(early, CHART, GRID)
    assert {bar.bar: bar.say for bar in marking.bars if bar.say}.keys() == {5}
    assert "snare on 2" in marking.bars[4].say
    assert marking.bars[4].score > 0.95
    assert "one rung up" not in marking.summary.practise_next[0].why


def test_what_ears_may_have_missed_is_not_told_as_missing_and_costs_little() -> None:
    gone = {(5, F(3, 8), "kick"), (9, F(0), "crash")}
    take = play(CHART, GRID, leave=lambda s: _key(s) in gone)

    def heard(piece: str, time_s: float) -> float:
        return 0.4 if piece == "crash" else 0.001

    marking = mark(take, CHART, GRID, heights=heard)
    sure = {_key(s): s.confidence for s in marking.strokes if s.verdict == "missed"}
    assert sure.keys() == gone
    assert sure[5, F(3, 8), "kick"] > 0.8 > 0.2 > sure[9, F(0), "crash"]
    assert [bar.bar for bar in marking.bars if bar.say] == [5]
    known = mark(take, CHART, GRID)
    assert [bar.bar for bar in known.bars if bar.say] == [5, 9]
    assert known.bars[8].score < 0.95 < marking.bars[8].score
    assert {s.confidence for s in known.strokes} == {1.0}


def test_a_name_that_ears_mix_up_is_not_told_as_another_piece() -> None:
    chart, grid = chart_of(["ride bell every 8th; snare 2 4; kick 1 3"] * 8)
    take = [
        msgspec.structs.replace(h, sound="ride" if h.sound == "ride_bell" else h.sound) for h in play(chart, grid)
    ]
    assert "you play the ride" in _said(mark(take, chart, grid))
    heard = mark(take, chart, grid, heights=lambda piece, time_s: 0.5)
    assert "you play" not in _said(heard)
    assert not any(bar.say for bar in heard.bars)
    assert heard.summary.score > 0.9


def test_another_cymbal_is_another_piece_and_not_missing() -> None:
    take = [
        msgspec.structs.replace(h, sound="ride" if h.sound == "hat_closed" else h.sound) for h in play(CHART, GRID)
    ]
    marking = mark(take, CHART, GRID)
    hats = sum(s.piece == "hat_closed" for s in CHART.strokes)
    assert _count(marking, "other_piece") >= hats - 1
    assert "Where the hat is written you play the ride" in _said(marking)
    assert {s.played for s in marking.strokes if s.verdict == "other_piece"} == {"ride"}


def test_time_kept_on_another_cymbal_does_not_move_a_take_to_where_that_one_is_written() -> None:
    ridden = GROOVE.replace("hat", "ride")
    chart, grid = chart_of([GROOVE] * 8 + [ridden] * 8 + [OTHER] * 4)
    take = [
        msgspec.structs.replace(hit, confidence=0.9, sound="hat_closed" if hit.sound == "ride" else hit.sound)
        for hit in play(chart, grid, from_bar=9)
    ]
    marking = mark(take, chart, grid)
    kicks = {s.bar for s in marking.strokes if s.piece == "kick" and s.verdict == "played"}
    assert kicks == set(range(9, 21))


def test_a_kick_left_out_is_named_with_its_count() -> None:
    marking = mark(play(CHART, GRID, leave=lambda s: s.piece == "kick"), CHART, GRID)
    assert "The kick is mostly missing (47 of 47)" in _said(marking)
    assert marking.bars[0].say == "the kick on 1 is missing, and 2 more"


def test_limbs_that_flam_are_named_once() -> None:
    marking = mark(play(CHART, GRID, late_ms=lambda s: 38.0 if s.piece == "kick" else 0.0), CHART, GRID)
    assert "Hat and kick fall apart" in _said(marking)
    assert "habit" not in _said(marking)


def test_a_hat_that_runs_away_is_named() -> None:
    marking = mark(play(CHART, GRID, late_ms=lambda s: -4.0 * s.bar if s.piece == "hat_closed" else 0.0), CHART, GRID)
    assert "The hat runs away" in _said(marking)


def test_a_hand_that_follows_the_foot_is_named() -> None:
    chart, grid = chart_of(["hat every 4th; snare 2 4; kick 1 2& 3"] * 8)
    take = play(chart, grid)
    kicks = [h for h in take if h.sound == "kick"]
    offbeat = [h for n, h in enumerate(kicks) if n % 3 == 1]
    more = [msgspec.structs.replace(h, sound="hat_closed", id=1000 + h.id) for h in offbeat]
    marking = mark([*take, *more], chart, grid)
    assert "The hand follows the foot" in _said(marking)
    assert {(s.position, s.piece) for s in marking.strokes if s.verdict == "extra"} == {(F(3, 8), "hat_closed")}


def test_a_tempo_that_creeps_is_the_players_tempo_and_is_told() -> None:
    take = [
        msgspec.structs.replace(h, time_s=3 + (h.time_s - 3) * (1 - 0.0015 * (h.time_s - 3)))
        for h in play(CHART, GRID)
    ]
    marking = mark(take, CHART, GRID)
    assert "You speed up" in _said(marking)
    assert marking.summary.score > 0.95


def test_another_song_is_told_to_be_one() -> None:
    other, _ = chart_of([OTHER] * 16)
    marking = mark(play(other, GRID), CHART, GRID)
    assert "Is it this song" in _said(marking)
    assert marking.summary.score < 0.4
    assert marking.summary.practise_next == ()


def test_some_bars_are_found_without_being_named() -> None:
    marking = mark(play(CHART, GRID, from_bar=5, to_bar=9), CHART, GRID)
    assert (marking.take.from_bar, marking.take.to_bar) == (5, 9)
    assert marking.summary.score > 0.98


def test_a_longer_take_is_marked_in_the_bars_asked_and_what_lies_round_them_is_no_stop() -> None:
    alone = mark(play(CHART, GRID, from_bar=5, to_bar=12), CHART, GRID, from_bar=5, to_bar=12)
    longer = mark(play(CHART, GRID), CHART, GRID, from_bar=5, to_bar=12)
    assert [(bar.bar, bar.say) for bar in longer.bars] == [(bar.bar, bar.say) for bar in alone.bars]
    assert _count(longer, "played") == len(longer.strokes)
    assert "stop" not in _said(longer)


def test_bars_that_are_asked_and_played_twice_are_all_listened_to() -> None:
    def left_out(stroke: Stroke) -> bool:
        return stroke.piece == "kick" and stroke.bar == 8

    once = play(CHART, GRID, from_bar=7, to_bar=10, leave=left_out)
    again = [msgspec.structs.replace(hit, id=hit.id + 1000, time_s=hit.time_s + 8.0)
             for hit in play(CHART, GRID, from_bar=7, to_bar=10)]  # fmt: skip
    marking = mark([*once, *again], CHART, GRID, from_bar=7, to_bar=10)
    assert _count(marking, "played") == len(marking.strokes)


def test_a_count_in_is_no_mistake() -> None:
    sticks = [Hit(id=9000 + n, time_s=1.0 + n / 2, sound="rim", loudness_db=-9.0, confidence=1.0) for n in range(4)]
    marking = mark([*sticks, *play(CHART, GRID)], CHART, GRID)
    assert _count(marking, "extra") == 0
    assert marking.summary.score > 0.98


def test_an_unsure_hit_is_never_called_extra() -> None:
    ghosts = [
        Hit(id=9000 + n, time_s=5.06 + n, sound="tom_high", loudness_db=-30.0, confidence=0.2) for n in range(5)
    ]
    assert _count(mark([*play(CHART, GRID), *ghosts], CHART, GRID), "extra") == 0


def test_silence_and_bad_input_are_told_in_one_line() -> None:
    marking = mark([], CHART, GRID)
    assert marking.summary.score == 0.0
    assert "No drums were heard" in _said(marking)
    with pytest.raises(InputError, match="not in this song"):
        mark([], CHART, GRID, from_bar=3, to_bar=99)
    with pytest.raises(InputError, match="no usable time"):
        mark([Hit(id=1, time_s=float("nan"), sound="kick", loudness_db=0.0, confidence=1.0)], CHART, GRID)
    with pytest.raises(InputError, match="hold no strokes"):
        mark([], Chart(strokes=(), bars=(), grade=0.0), GRID)
    with pytest.raises(InputError, match="no bars"):
        mark([], CHART, Grid(beats=(), bars=()))


HITS = st.lists(
    st.builds(
        Hit,
        id=st.integers(0, 99),
        time_s=st.floats(0, 40),
        sound=st.sampled_from(["kick", "snare", "hat_closed", "hat_open", "crash", "tom_floor", "shaker"]),
        loudness_db=st.floats(-60, 0),
        confidence=st.floats(0, 1),
    ),
    max_size=60,
)


@settings(max_examples=40, deadline=None)
@given(HITS)
def test_any_take_has_a_marking_that_is_one_to_one(take: list[Hit]) -> None:
    marking = mark(take, CHART, GRID, from_bar=1, to_bar=16)
    written = [s for s in marking.strokes if s.verdict != "extra"]
    assert sorted((s.bar, s.position, s.piece) for s in written) == sorted(
        (s.bar, s.position, s.piece) for s in CHART.strokes
    )
    used = [s.time_s for s in marking.strokes if s.time_s is not None]
    assert len(used) <= len(take)
    assert [bar.bar for bar in marking.bars] == list(range(1, 17))
    assert all(0 <= bar.score <= 1 for bar in marking.bars)
    assert 0 <= marking.summary.score <= 1
    assert from_plain(to_plain(marking), Marking) == marking


@settings(max_examples=15, deadline=None)
@given(st.sets(st.integers(0, len(CHART.strokes) - 1), max_size=40), st.floats(0.45, 1.2))
def test_strokes_left_out_are_the_ones_missed(gone: set[int], ratio: float) -> None:
    left = {(CHART.strokes[n].bar, CHART.strokes[n].position, CHART.strokes[n].piece) for n in gone}
    take = play(CHART, GRID, ratio=ratio, leave=lambda s: (s.bar, s.position, s.piece) in left)
    marking = mark(take, CHART, GRID, from_bar=1, to_bar=16)
    assert {_key(s) for s in marking.strokes if s.verdict == "missed"} == left
    assert _count(marking, "extra") == 0


def _key(stroke: MarkedStroke) -> tuple[int, F, str]:
    return stroke.bar, stroke.position, stroke.piece


def test_a_better_take_has_a_better_mark() -> None:
    scores = []
    for spoiled in (0, 20, 60, 120):
        keys = (
            {(s.bar, s.position, s.piece) for s in CHART.strokes[:: max(len(CHART.strokes) // spoiled, 1)]}
            if spoiled
            else set()
        )
        take = play(CHART, GRID, leave=lambda s, keys=keys: (s.bar, s.position, s.piece) in keys)
        scores.append(mark(take, CHART, GRID, from_bar=1, to_bar=16).summary.score)
    assert scores == sorted(scores, reverse=True)
    assert len(set(scores)) == len(scores)


def test_the_same_take_has_the_same_marking_byte_for_byte() -> None:
    take = play(CHART, GRID, late_ms=_rush)
    assert encode(mark(take, CHART, GRID)) == encode(mark(list(reversed(take)), CHART, GRID))
