"""MIDI performances and parts: exact ones stay exact, played ones are placed, broken ones give one line."""

from fractions import Fraction as F

import mido
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from listen_material import midi_bytes, notes_of, performance

from fourlimb.listen import read_midi
from fourlimb.model import InputError

TEMPO = mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(92))


@pytest.mark.parametrize("kind", [0, 1])
def test_notes_on_their_ticks_are_exact(kind: int) -> None:
    written = [(0, 36, 100), (240, 42, 60), (480, 38, 110), (640, 38, 60), (800, 38, 60), (960 + 1800, 36, 90)]
    heard = read_midi(midi_bytes(written, kind=kind, before=[TEMPO]), name="part.mid")
    places = [(h.bar, h.position, h.sound) for h in heard.hits]
    assert places == [
        (1, F(0), "kick"), (1, F(1, 8), "hat_closed"), (1, F(1, 4), "snare"),
        (1, F(1, 3), "snare"), (1, F(5, 12), "snare"), (2, F(7, 16), "kick"),
    ]  # fmt: skip
    assert heard.grid.bars[0].tempo_bpm == pytest.approx(92, abs=0.01)
    assert heard.song.kind == "midi"
    assert heard.hits[3].time_s == pytest.approx(640 / 480 * 60 / 92, abs=1e-4)


def test_tempo_and_meter_changes_are_followed() -> None:
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("time_signature", numerator=7, denominator=8))
    track.append(mido.Message("note_on", channel=9, note=36, velocity=80, time=0))
    track.append(mido.MetaMessage("time_signature", numerator=6, denominator=8, time=1680))
    track.append(mido.MetaMessage("set_tempo", tempo=250_000))
    track.append(mido.Message("note_on", channel=9, note=38, velocity=80, time=240))
    file = mido.MidiFile(type=0, ticks_per_beat=480)
    file.tracks.append(track)
    import io

    out = io.BytesIO()
    file.save(file=out)
    heard = read_midi(out.getvalue(), name="odd.mid")
    assert [b.meter for b in heard.grid.bars] == ["7/8", "6/8"]
    assert heard.grid.bars[1].start_s == pytest.approx(1.75)
    assert (heard.hits[1].bar, heard.hits[1].position) == (2, F(1, 8))
    assert heard.hits[1].time_s == pytest.approx(1.75 + 0.125)


def test_a_performance_against_the_click_is_placed_on_the_files_bars() -> None:
    truth = performance(8, 92, spread_s=0.008)
    heard = read_midi(midi_bytes(notes_of(truth, 480 * 92 / 60), before=[TEMPO]), name="take.mid")
    right = sum((a.bar, a.position) == (b.bar, b.position) for a, b in zip(heard.hits, truth, strict=True))
    assert right / len(truth) > 0.98


def test_free_playing_without_a_click_gets_beats_from_its_strokes() -> None:
    truth = performance(12, 103.7, spread_s=0.006, start_s=0.37)
    heard = read_midi(midi_bytes(notes_of(truth, 960)), name="free.mid")
    assert heard.grid.bars[2].tempo_bpm == pytest.approx(103.7, rel=0.02)
    assert any("beats were found" in note for note in heard.notes)


def test_unknown_percussion_is_said_not_guessed() -> None:
    heard = read_midi(midi_bytes([(0, 36, 90), (480, 81, 90), (960, 81, 90)]), name="bells.mid")
    assert len(heard.hits) == 1
    assert "81 (2 times)" in heard.notes[0]


def test_a_file_without_drums_says_where_the_notes_are() -> None:
    with pytest.raises(InputError, match=r"nothing is on channel 10 \(notes are on channel 1\)"):
        read_midi(midi_bytes([(0, 60, 90)], channel=0), name="piano.mid")


@pytest.mark.parametrize(
    "data", [b"", b"MThd", b"RIFF", b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x00MTrk\x00\x00\x00\x00"]
)
def test_what_is_no_midi_gives_one_line(data: bytes) -> None:
    with pytest.raises(InputError) as caught:
        read_midi(data, name="x.mid")
    assert "x.mid" in str(caught.value)
    assert "\n" not in str(caught.value)


GOOD = midi_bytes(notes_of(performance(2, 120), 960), before=[TEMPO])


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, len(GOOD) - 1), st.integers(0, 255)), max_size=12), st.integers(4, len(GOOD))
)
def test_damaged_midi_never_does_worse_than_one_line(changes: list[tuple[int, int]], length: int) -> None:
    data = bytearray(GOOD)
    for at, value in changes:
        data[at] = value
    said = ""
    try:
        read_midi(bytes(data[:length]), name="bad.mid")
    except InputError as error:
        said = str(error)
    assert "\n" not in said


def test_loudness_follows_velocity() -> None:
    heard = read_midi(midi_bytes([(0, 36, 127), (480, 38, 64), (960, 38, 16)]), name="d.mid")
    levels = [h.loudness_db for h in heard.hits]
    assert levels[0] == 0
    assert np.all(np.diff(levels) < -6)
