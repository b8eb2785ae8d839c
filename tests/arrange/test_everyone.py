"""Players and input of every kind: fewer limbs, fewer pieces, odd files, odd times. Always a chart, or a clear word."""

import io
from fractions import Fraction as F

import msgspec
import pytest
from bench.survival import broken_promises
from bench.written import song

from fourlimb import listen
from fourlimb.arrange import arrange, check, why
from fourlimb.model import LEVELS, Hit, InputError, Kit, Listening, Song
from fourlimb.model.grid import from_tempi, regular
from fourlimb.model.kit import STANDARD_PIECES
from fourlimb.model.sounds import HATS

GROOVE = "kick 1 2& 3; snare 2 4; hat every 8th; crash 1; high tom 4a"
KITS = {
    "no snare": Kit(pieces=tuple(p for p in STANDARD_PIECES if p not in ("snare", "rim"))),
    "no kick": Kit(pieces=tuple(p for p in STANDARD_PIECES if p != "kick")),
    "no hat": Kit(pieces=tuple(p for p in STANDARD_PIECES if p not in HATS)),
    "right hand alone": Kit(limbs=("right hand", "right foot", "left foot")),
    "left hand alone": Kit(limbs=("left hand", "right foot", "left foot")),
    "hands alone": Kit(limbs=("right hand", "left hand")),
    "one hand and nothing else": Kit(limbs=("right hand",)),
    "feet alone": Kit(limbs=("right foot", "left foot")),
    "one foot": Kit(limbs=("right hand", "left hand", "left foot")),
    "only a snare": Kit(pieces=("snare",)),
}


@pytest.mark.parametrize("name", KITS)
def test_every_player_and_kit_gets_playable_charts_with_every_hit_accounted_for(name: str) -> None:
    heard, kit = song([GROOVE] * 4), KITS[name]
    assert broken_promises(heard, kit, "intermediate") == []
    assert arrange(heard, kit).charts["full"].strokes


def test_a_player_without_feet_has_the_kick_by_hand_or_is_told() -> None:
    made = arrange(song([GROOVE] * 2), KITS["hands alone"])
    kicks = [r for r in made.reasons if r.sound == "kick" and "full" in r.levels]
    assert kicks
    assert {r.what for r in kicks} <= {"moved", "dropped", "merged"}
    assert any("no foot or no kick: the lowest drum by hand" in r.why for r in kicks)


def test_one_hand_keeps_the_backbeat_and_says_what_it_cannot_play() -> None:
    heard = song([GROOVE] * 2)
    made = arrange(heard, KITS["left hand alone"])
    full = made.charts["full"]
    assert {s.position for s in full.by_bar[1] if s.piece == "snare"} == {F(1, 4), F(3, 4)}
    assert {s.letter for s in full.strokes if s.letter} == {"L"}
    assert any("one hand already plays" in r.why or "one hand already play" in r.why for r in made.reasons)


def test_a_kit_without_snare_has_its_backbeat_on_the_highest_drum() -> None:
    made = arrange(song([GROOVE] * 2), KITS["no snare"])
    assert (F(1, 4), "tom_high") in {(s.position, s.piece) for s in made.charts["full"].by_bar[1]}
    assert any(r.sound == "snare" and r.to == "tom_high" for r in made.reasons)


def test_a_kit_with_nothing_that_can_be_struck_gives_rests_and_says_why_of_every_hit() -> None:
    heard = song([GROOVE])
    made = arrange(heard, Kit(pieces=()))
    assert not any(made.charts[level].strokes for level in LEVELS)
    assert {h for r in made.reasons for h in r.hits} == {h.id for h in heard.hits}
    assert all(r.rule == "missing piece" for r in made.reasons)


def test_a_song_without_a_hit_gives_rests_and_one_hit_gives_one_stroke() -> None:
    one = song(["snare 2", ""])
    none = msgspec.structs.replace(one, hits=())
    assert not arrange(none, Kit()).charts["full"].strokes
    for level in LEVELS:
        (stroke,) = arrange(one, Kit()).charts[level].strokes
        assert (stroke.bar, stroke.position, stroke.piece) == (1, F(1, 4), "snare")


def test_a_song_without_a_bar_gives_empty_charts_and_a_reason_for_every_hit() -> None:
    lost = Hit(id=1, time_s=0.5, sound="snare", loudness_db=-10, confidence=0.9)
    empty = Listening(song=Song(duration_s=1.0, sample_rate_hz=0, sha256=""), grid=regular([], 100), hits=(lost,))
    made = arrange(empty, Kit())
    assert [made.charts[level].bars for level in LEVELS] == [(), (), ()]
    assert [r.hits for r in made.reasons] == [(1,)]


def test_a_bar_longer_than_a_minute_is_a_bar() -> None:
    grid = from_tempi([("4/4", 3.0), ("4/4", 120)])
    assert grid.length(1) == 1
    assert grid.end(1) - grid.at(1).start_s > 60
    short = song([GROOVE] * 2)
    heard = msgspec.structs.replace(short, grid=grid)
    assert broken_promises(heard, Kit(), "beginner") == []
    assert len(arrange(heard, Kit()).charts["full"].by_bar[1]) == len(arrange(short, Kit()).charts["full"].by_bar[1])


@pytest.mark.parametrize("bpm", [20, 400])
def test_the_slowest_and_the_fastest_tempo_have_charts_that_can_be_played(bpm: float) -> None:
    heard = song(["kick 1 1a 2& 3; snare 2 4; soft snare 2a; hat every 16th", GROOVE] * 2, bpm=bpm)
    for kit in (Kit(), KITS["right hand alone"], Kit(double_pedal=True)):
        assert broken_promises(heard, kit, "advanced") == []
    made = arrange(heard, Kit())
    slow = len(made.charts["full"].strokes) == len(heard.hits)
    assert slow == (bpm == 20)


def test_a_double_pedal_plays_at_400_what_one_foot_must_leave_out() -> None:
    heard = song(["kick every 16th"], bpm=200)
    kicks = [len(arrange(heard, kit).charts["full"].strokes) for kit in (Kit(), Kit(double_pedal=True))]
    assert kicks[1] > kicks[0]


def test_percussion_that_is_not_of_a_drum_set_is_told_by_key_and_the_rest_is_mapped_by_the_table() -> None:
    import mido

    file = mido.MidiFile()
    track = mido.MidiTrack()
    file.tracks.append(track)
    for key in (35, 40, 42, 60, 60, 75, 82, 59) * 4:
        track.append(mido.Message("note_on", channel=9, note=key, velocity=90, time=0))
        track.append(mido.Message("note_off", channel=9, note=key, velocity=0, time=240))
    data = io.BytesIO()
    file.save(file=data)
    heard = listen.read_midi(data.getvalue(), name="odd.mid")
    assert any("60 (8 times), 75 (4 times)" in note for note in heard.notes)
    assert {h.sound for h in heard.hits} == {"kick", "snare", "hat_closed", "shaker", "ride"}
    made = arrange(heard, Kit())
    for hit in (h for h in heard.hits if h.sound == "shaker"):
        assert hit.bar is not None
        assert hit.position is not None
        lines = why(heard.hits, made.charts, made.reasons, hit.bar, hit.position, sound="shaker")
        assert "heard shaker" in lines[0]
        assert any("shaker" in line and "[" in line for line in lines[4:])
    assert not check(made.charts["full"], heard.grid, Kit())


def test_a_midi_file_with_only_strange_percussion_is_refused_in_one_line() -> None:
    import mido

    file = mido.MidiFile()
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.Message("note_on", channel=9, note=60, velocity=90, time=0))
    data = io.BytesIO()
    file.save(file=data)
    with pytest.raises(InputError, match="no known drum sounds"):
        listen.read_midi(data.getvalue(), name="odd.mid")
