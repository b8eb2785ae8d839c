"""Standard MIDI Files: onsets to the tick, tempo and meter maps, markers, swing as played."""

import io
from fractions import Fraction as F

import mido
import pytest
from builder import night_ferry, sheet
from randomly import random_sheet

from fourlimb.engrave import midi
from fourlimb.engrave.midi import TICKS, bar_ticks
from fourlimb.model import FeelSpan, Sheet
from fourlimb.model.sounds import midi_key


def read(made: Sheet) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(midi(made)))


def ons(file: mido.MidiFile) -> list[tuple[int, int]]:
    at, found = 0, []
    for message in file.tracks[1]:
        at += message.time
        if message.type == "note_on" and message.velocity:
            assert message.channel == 9
            found.append((at, message.note))
    return found


@pytest.mark.parametrize("number", range(8))
def test_every_stroke_is_struck_at_its_own_tick(number: int) -> None:
    made = random_sheet(number)
    plain = [s for s in made.chart.strokes if not made.grid.feel_of(s.bar).swing > 0.5]
    starts = bar_ticks(made)
    struck = set(ons(read(made)))
    for stroke in plain:
        tick = starts[stroke.bar] + stroke.position * 4 * TICKS
        assert tick.denominator == 1
        assert (int(tick), midi_key(stroke.piece, second=stroke.second)) in struck


def test_swing_is_written_as_played() -> None:
    made = sheet(["hat 1 1&"], feel=[FeelSpan(from_bar=1, to_bar=1, feel="straight", swing=2 / 3)])
    assert [at for at, _ in ons(read(made))] == [0, TICKS * 2 // 3]


def test_tempo_and_meter_change_where_the_song_does() -> None:
    made = sheet(["snare 1"] * 3, meters=["4/4", "6/8", "4/4"], tempo=[120, 120, 60])
    file, at, found = read(made), 0, []
    for message in file.tracks[0]:
        at += message.time
        if message.type in ("set_tempo", "time_signature"):
            found.append((at, message.type, getattr(message, "tempo", None) or message.numerator))
    assert found == [
        (0, "time_signature", 4), (0, "set_tempo", 500_000), (4 * TICKS, "time_signature", 6),
        (7 * TICKS, "time_signature", 4), (7 * TICKS, "set_tempo", 1_000_000),
    ]  # fmt: skip


def test_sections_are_markers() -> None:
    names = [m.text for m in read(night_ferry()).tracks[0] if m.type == "marker"]
    assert names == [s.name for s in night_ferry().sections]


def test_a_title_in_any_script_survives() -> None:
    file = mido.MidiFile(file=io.BytesIO(midi(sheet(["snare 1"], title="夜 🚢"))), charset="utf-8")
    assert file.tracks[0].name == "夜 🚢"


def test_grace_notes_come_before_and_ghosts_are_softer() -> None:
    made = sheet(["snare [flam] 2; snare [ghost] 3; snare [accent] 4"])
    loud = {}
    at = 0
    for message in read(made).tracks[1]:
        at += message.time
        if message.type == "note_on":
            loud[F(at, TICKS)] = message.velocity
    assert len(loud) == 4
    assert min(loud) < 1
    assert loud[F(2)] < loud[F(1)] < loud[F(3)]


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert midi(night_ferry()) == midi(night_ferry())
