"""How a stroke is struck is kept where a limb has the time for it, from whatever source it came."""

import io
from fractions import Fraction as F
from typing import Any

import msgspec
import pytest
from bench.impossible import HAT, KICK, LEFT, RIGHT, Row, chart, limits
from bench.written import KIT, song

from fourlimb.arrange import arrange, check
from fourlimb.arrange.layout import travel_table
from fourlimb.lesson import corrections
from fourlimb.lesson.replay import replay
from fourlimb.model import LEVELS, Correction, Kit, Listening, Sound, Stroke

GROOVE = "crash 1; kick 1 3; snare 2 4; hat 1& 2 2& 3 3& 4 4&; foot hat 3"
TWO_CRASHES = Kit(extra={"seconds": ["crash"]})


def struck(heard: Listening, sound: Sound, position: F, **way: Any) -> Listening:
    hits = tuple(
        msgspec.structs.replace(h, **way) if h.sound == sound and h.position == position else h for h in heard.hits
    )
    return msgspec.structs.replace(heard, hits=hits)


def stroke(heard: Listening, sound: Sound, position: F, kit: Kit = KIT, level: Any = "full") -> Stroke:
    made = arrange(heard, kit).charts[level]
    return next(s for s in made.by_bar[1] if s.piece == sound and s.position == position)


@pytest.mark.parametrize(
    ("sound", "position", "way"),
    [
        ("snare", F(1, 4), "rimshot"),
        ("snare", F(3, 4), "buzz"),
        ("crash", F(0), "choke"),
        ("crash", F(0), "let_ring"),
        ("hat_closed", F(7, 8), "half_open"),
        ("hat_pedal", F(1, 2), "foot_splash"),
    ],
)
def test_a_way_of_striking_that_the_input_names_is_written_and_playable(sound: Sound, position: F, way: Any) -> None:
    heard = struck(song([GROOVE]), sound, position, struck=way)
    assert stroke(heard, sound, position).struck == way
    assert not check(arrange(heard, KIT).charts["full"], heard.grid, KIT)


def test_steady_plays_rimshots_and_buzzes_plainly_and_says_so() -> None:
    heard = struck(song([GROOVE]), "snare", F(1, 4), struck="rimshot")
    assert stroke(heard, "snare", F(1, 4), level="steady").struck is None
    assert any("rimshot played as one plain stroke" in r.why for r in arrange(heard, KIT).reasons)


def test_a_way_that_the_piece_does_not_have_is_not_written() -> None:
    assert stroke(struck(song([GROOVE]), "crash", F(0), struck="buzz"), "crash", F(0)).struck is None


def test_a_buzz_whose_hand_is_wanted_at_once_is_a_plain_stroke_with_a_reason() -> None:
    heard = struck(song(["snare 1 1+1/4 2 2+1/4; floor tom 1 2"], bpm=180), "snare", F(0), struck="buzz")
    made = arrange(heard, KIT)
    assert not check(made.charts["full"], heard.grid, KIT)
    assert stroke(heard, "snare", F(0)).struck is None
    assert any(r.rule == "way of striking" and r.why.startswith("buzz") for r in made.reasons)


def test_a_half_open_hat_needs_a_foot_on_it() -> None:
    heard = struck(song([GROOVE]), "hat_closed", F(7, 8), struck="half_open")
    one_foot = Kit(limbs=("right hand", "left hand", "right foot"))
    assert stroke(heard, "hat_closed", F(7, 8), one_foot).struck is None
    rows: tuple[Row, ...] = ((0, "hat_closed", RIGHT), (0, "hat_pedal", HAT))
    assert "half_open" in limits(chart(rows, struck="half_open"))
    assert "half_open" not in limits(chart(rows))


def test_a_buzzing_hand_is_not_free_at_once() -> None:
    rows: tuple[Row, ...] = ((0, "snare", LEFT), (90, "snare", LEFT), (0, "kick", KICK))
    assert "buzz" in limits(chart(rows, struck="buzz"))
    assert "buzz" not in limits(chart(rows))


def test_a_second_crash_is_struck_where_the_kit_has_one_and_told_where_it_has_none() -> None:
    heard = struck(song([GROOVE]), "crash", F(0), second=True)
    assert stroke(heard, "crash", F(0), TWO_CRASHES).second
    assert not stroke(heard, "crash", F(0)).second
    assert any("no second crash on this kit" in r.why for r in arrange(heard, KIT).reasons)


def test_quick_crashes_take_two_crashes_in_turn_by_both_hands() -> None:
    heard = song(["kick 1 1& 2; crash 1 1e 1& 1a"], bpm=100)
    strokes = [s for s in arrange(heard, TWO_CRASHES).charts["full"].by_bar[1] if s.piece == "crash"]
    assert [s.second for s in strokes] == [False, True, False, True]
    assert [s.letter for s in strokes] in (["L", "R", "L", "R"], ["R", "L", "R", "L"])
    assert not check(arrange(heard, TWO_CRASHES).charts["full"], heard.grid, TWO_CRASHES)


def test_two_crashes_at_once_are_two_hands() -> None:
    heard = song([GROOVE])
    other = msgspec.structs.replace(heard.hits[0], id=900, second=True)
    heard = msgspec.structs.replace(heard, hits=(*heard.hits, other))
    first = [
        s for s in arrange(heard, TWO_CRASHES).charts["full"].by_bar[1] if s.position == 0 and s.piece == "crash"
    ]
    assert {s.second for s in first} == {False, True}
    assert {s.letter for s in first} == {"L", "R"}


def test_the_second_crash_is_a_place_of_its_own_for_hands_and_checker() -> None:
    table = travel_table(TWO_CRASHES, "ceiling")
    assert table["crash", "second crash"] > 0
    assert table["ride", "second crash"] < table["ride", "crash"]


@pytest.mark.parametrize(
    ("text", "sound", "position", "way", "second"),
    [
        ("bar 1: rimshot 2", "snare", F(1, 4), "rimshot", False),
        ("bar 1: choked crash 1", "crash", F(0), "choke", False),
        ("bar 1: half-open hat 4&", "hat_open", F(7, 8), "half_open", False),
        ("bar 1: foot splash 3", "hat_pedal", F(1, 2), "foot_splash", False),
        ("bar 1: second crash 1", "crash", F(0), None, True),
        ("bar 1: buzz 3&", "snare", F(5, 8), "buzz", False),
    ],
)
def test_a_teacher_may_say_how_it_is_struck(text: str, sound: Sound, position: F, way: Any, second: bool) -> None:
    heard = replay(song([GROOVE]), (Correction(n=1, what=text),)).heard
    found = stroke(heard, sound, position, TWO_CRASHES)
    assert (found.struck, found.second, found.by) == (way, second, "teacher")
    assert len([h for h in heard.hits if h.sound == "kick"]) == 2


def test_a_line_with_a_way_leaves_the_other_strokes_of_its_piece_alone() -> None:
    heard = replay(song([GROOVE]), (Correction(n=1, what="bar 1: rimshot 2"),)).heard
    assert {h.position for h in heard.hits if h.sound == "snare"} == {F(1, 4), F(3, 4)}
    assert corrections.read("bar 1: rimshot 2 4", heard.grid) != corrections.read("bar 1: snare 2 4", heard.grid)


def test_a_part_read_back_from_musicxml_keeps_how_it_is_struck(tmp_path: Any) -> None:
    from fourlimb import engrave, teach
    from fourlimb.lesson.source import hear_song
    from fourlimb.model import Sheet

    heard = song([GROOVE] * 2)
    ways: tuple[tuple[Sound, F, str], ...] = (
        ("snare", F(1, 4), "rimshot"),
        ("crash", F(0), "choke"),
        ("snare", F(3, 4), "buzz"),
    )
    for sound, position, way in ways:
        heard = struck(heard, sound, position, struck=way)
    full = arrange(heard, KIT).charts["full"]
    sheet = Sheet(
        song=heard.song, level="full", chart=full, grid=heard.grid, kit=KIT, plan=teach.plan(full, heard.grid, KIT)
    )
    path = tmp_path / "part.musicxml"
    path.write_bytes(engrave.musicxml(sheet))
    again = arrange(hear_song(path), KIT).charts["full"]
    assert [(s.position, s.piece, s.struck) for s in again.strokes] == [
        (s.position, s.piece, s.struck) for s in full.strokes
    ]


def test_a_midi_file_that_uses_both_crashes_tells_them_apart() -> None:
    import mido

    from fourlimb import listen

    file = mido.MidiFile()
    track = mido.MidiTrack()
    file.tracks.append(track)
    for key in (49, 57) * 8:
        track.append(mido.Message("note_on", channel=9, note=key, velocity=90, time=0))
        track.append(mido.Message("note_off", channel=9, note=key, velocity=0, time=480))
    data = io.BytesIO()
    file.save(file=data)
    heard = listen.read_midi(data.getvalue(), name="two.mid")
    assert [h.second for h in heard.hits] == [False, True] * 8
    charts = arrange(heard, TWO_CRASHES).charts
    assert all(len(charts[level].strokes) for level in LEVELS)
    assert {s.second for s in charts["full"].strokes} == {False, True}
