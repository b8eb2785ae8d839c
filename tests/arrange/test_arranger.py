"""Charts from hits: what is kept, who plays it, and that nothing goes missing."""

from fractions import Fraction as F

import msgspec
import pytest
from bench.written import KIT, song

from fourlimb.arrange import arrange, check, lift
from fourlimb.model import LEVELS, Chart, Hit, InputError, Kit, Section

GROOVE = "kick 1 2& 3; snare 2 4; hat every 8th"


def written(chart: Chart, piece: str, bar: int = 1) -> list[F]:
    return [s.position for s in chart.by_bar.get(bar, ()) if s.piece == piece]


def test_a_plain_groove_is_written_as_heard_with_the_usual_hands() -> None:
    heard = song([GROOVE] * 4)
    full = arrange(heard, KIT).charts["full"]
    assert len(full.strokes) == len(heard.hits)
    assert {s.letter for s in full.strokes if s.piece == "hat_closed"} == {"R"}
    assert {s.letter for s in full.strokes if s.piece == "snare"} == {"L"}
    assert {s.limb for s in full.strokes if s.piece == "kick"} == {"right foot"}
    assert not check(full, heard.grid, KIT)


def test_a_left_handed_player_gets_the_mirror_of_a_groove() -> None:
    full = arrange(song([GROOVE]), Kit(handed="left")).charts["full"]
    assert {s.letter for s in full.strokes if s.piece == "hat_closed"} == {"L"}
    assert {s.limb for s in full.strokes if s.piece == "kick"} == {"left foot"}


def test_an_open_handed_player_keeps_the_hat_with_the_hand_on_its_side() -> None:
    full = arrange(song([GROOVE]), Kit(open_handed=True)).charts["full"]
    assert {s.letter for s in full.strokes if s.piece == "hat_closed"} == {"L"}
    assert {s.letter for s in full.strokes if s.piece == "snare"} == {"R"}


def test_bones_keep_the_skeleton_and_nothing_between_the_beats_of_the_hat() -> None:
    bones = arrange(song([GROOVE]), KIT).charts["bones"]
    assert written(bones, "hat_closed") == [F(0), F(1, 4), F(1, 2), F(3, 4)]
    assert written(bones, "snare") == [F(1, 4), F(3, 4)]
    assert written(bones, "kick") == [F(0), F(1, 2)]


def test_steady_straightens_sixteenth_hats_to_eighths() -> None:
    steady = arrange(song(["kick 1 3; snare 2 4; hat every 16th"]), KIT).charts["steady"]
    assert written(steady, "hat_closed") == [F(n, 8) for n in range(8)]


def test_a_shaker_beside_a_playing_hat_is_left_out_with_a_reason() -> None:
    heard = song([GROOVE + "; shaker every 16th"])
    made = arrange(heard, KIT)
    assert not written(made.charts["full"], "shaker")
    assert len(written(made.charts["full"], "hat_closed")) == 8
    named = {h for r in made.reasons if r.sound == "shaker" for h in r.hits}
    assert named == {h.id for h in heard.hits if h.sound == "shaker"}


def test_a_shaker_alone_becomes_the_hat() -> None:
    full = arrange(song(["kick 1 3; snare 2 4; shaker every 8th"]), KIT).charts["full"]
    assert len(written(full, "hat_closed")) == 8


def test_a_floor_tom_stacked_on_the_kick_is_written_on_the_kick() -> None:
    heard = song(["kick 1 3; snare 2 4"])
    tom = Hit(
        id=99,
        time_s=0.0,
        sound="tom_floor",
        loudness_db=-9,
        confidence=0.9,
        bar=1,
        position=F(0),
        layer="stacked kick",
    )
    made = arrange(msgspec.structs.replace(heard, hits=(*heard.hits, tom)), KIT)
    kick = next(s for s in made.charts["full"].strokes if s.piece == "kick" and s.position == 0)
    assert 99 in kick.hits
    assert any(
        r.what == "merged" and r.to == "kick" and "one foot cannot be two drums" in r.why for r in made.reasons
    )


def test_three_hand_sounds_at_once_leave_the_least_important_out() -> None:
    made = arrange(song(["crash 1; snare 1 2 4; hat every 8th"]), KIT)
    first = {s.piece for s in made.charts["full"].strokes if s.position == 0}
    assert first == {"crash", "snare"}
    assert any(r.what == "dropped" and r.sound == "hat_closed" and r.rule == "two hands" for r in made.reasons)


def test_what_the_teacher_wrote_stays_and_others_give_way() -> None:
    heard = song(["crash 1; snare 1 2 4; hat every 8th"])
    hats = tuple(msgspec.structs.replace(h, by="teacher") if h.sound == "hat_closed" else h for h in heard.hits)
    full = arrange(msgspec.structs.replace(heard, hits=hats), KIT).charts["full"]
    assert len(written(full, "hat_closed")) == 8
    assert all(s.by == "teacher" for s in full.strokes if s.piece == "hat_closed")
    assert not check(full, heard.grid, KIT)


def test_teacher_strokes_that_nobody_can_play_are_kept_and_the_checker_says_so() -> None:
    heard = song(["crash 1; snare 1; ride 1; floor tom 1"], by="teacher")
    full = arrange(heard, KIT).charts["full"]
    assert len(full.strokes) == 4
    assert any(b.limit == "two hands" for b in check(full, heard.grid, KIT))


def test_a_figure_that_returns_gets_the_same_hands() -> None:
    fill = "snare 1 1e 1& 1a; high tom 2 2e 2& 2a; mid tom 3 3e 3& 3a; floor tom 4 4e 4& 4a"
    full = arrange(song([GROOVE, fill, GROOVE, GROOVE, fill], bpm=120), KIT).charts["full"]
    assert [s.letter for s in full.by_bar[2]] == [s.letter for s in full.by_bar[5]]


def test_every_bar_of_the_grid_has_its_line_also_silent_ones() -> None:
    chart = arrange(song([GROOVE, "", GROOVE]), KIT).charts["steady"]
    assert [b.bar for b in chart.bars] == [1, 2, 3]
    assert chart.bars[1].difficulty == 0


def test_no_hits_at_all_give_empty_charts() -> None:
    made = arrange(song(["", ""]), KIT)
    assert all(not made.charts[level].strokes for level in LEVELS)
    assert made.reasons == ()


def test_a_hit_without_a_place_has_a_reason_at_every_level() -> None:
    heard = song([GROOVE])
    lost = Hit(id=77, time_s=0.5, sound="snare", loudness_db=-10, confidence=0.5)
    made = arrange(msgspec.structs.replace(heard, hits=(*heard.hits, lost)), KIT)
    (reason,) = [r for r in made.reasons if 77 in r.hits]
    assert reason.levels == LEVELS


def test_an_unknown_player_is_refused_in_one_line() -> None:
    with pytest.raises(InputError, match="use one of beginner"):
        arrange(song([GROOVE]), KIT, player="wizard")


def test_a_section_lifted_from_full_into_bones_is_that_section_and_still_playable() -> None:
    heard = song([GROOVE] * 4, sections=(Section(name="A", from_bar=1, to_bar=4),))
    charts = arrange(heard, KIT).charts
    mixed, reasons = lift(charts, "bones", [(2, 3, "full")], heard.grid, KIT)
    assert mixed.by_bar[2] == charts["full"].by_bar[2]
    assert mixed.by_bar[1] == charts["bones"].by_bar[1]
    assert not check(mixed, heard.grid, KIT)
    assert reasons == ()


def test_lifting_bars_that_do_not_exist_is_refused() -> None:
    heard = song([GROOVE])
    with pytest.raises(InputError, match="bars 7-9"):
        lift(arrange(heard, KIT).charts, "bones", [(7, 9, "full")], heard.grid, KIT)


def test_a_kit_may_bring_its_own_places_and_a_bad_one_is_named() -> None:
    far = Kit(extra={"points_cm": {"ride": [400, 34, 92]}})
    heard = song(["kick 1 3; snare 2 4; ride 1 2 3 4; hat 1& 2& 3& 4&"], bpm=160)
    assert not check(arrange(heard, far).charts["full"], heard.grid, far)
    with pytest.raises(InputError, match="three numbers in centimetres"):
        arrange(heard, Kit(extra={"points_cm": {"ride": [1, 2]}}))
