"""Rolls that are kept up: tied notes with slashes that fill exactly their time, in every file and on the page."""

import re
import xml.etree.ElementTree as ElementTree
from fractions import Fraction as F
from io import BytesIO

import mido
import pytest
from builder import sheet, stroke
from hypothesis import given, settings
from hypothesis import strategies as st
from randomly import METERS

from fourlimb.engrave.layout import ORDINARY
from fourlimb.engrave.meidoc import mei, write_bars
from fourlimb.engrave.midi import TICKS, midi
from fourlimb.engrave.musicxml import musicxml
from fourlimb.engrave.notate import Event
from fourlimb.engrave.reading import read_musicxml
from fourlimb.model import InputError, Sheet, Stroke
from fourlimb.model.places import bar_length

SIXTEENTH = F(1, 16)


@st.composite
def rolled_bars(draw: st.DrawFn) -> Sheet:
    """Two bars in any meter: a roll from any sixteenth to any later one, hats and kicks anywhere, perhaps tied on."""
    meter = draw(st.sampled_from(METERS))
    parts = int(bar_length(meter) / SIXTEENTH)
    start = draw(st.integers(0, parts - 1))
    length = draw(st.integers(1, parts - start)) * SIXTEENTH
    how = draw(st.sampled_from([{"roll": 16}, {"roll": 32}, {"struck": "buzz"}]))
    strokes = [stroke(1, start * SIXTEENTH, "snare", lasts=length, letter=draw(st.sampled_from("RL")), **how)]
    for piece in ("kick", "hat_closed"):
        places = draw(st.sets(st.integers(0, parts - 1), max_size=5))
        strokes += [stroke(1, place * SIXTEENTH, piece) for place in places]
    if start * SIXTEENTH + length == bar_length(meter) and draw(st.booleans()):
        more = draw(st.integers(1, parts)) * SIXTEENTH
        strokes.append(stroke(2, F(0), "snare", lasts=more, tied=True, **how))
    strokes.append(stroke(2, (parts - 1) * SIXTEENTH, "tom_floor"))
    return sheet(["", ""], meters=meter, extra_strokes=strokes)


def rolled(events: list[Event]) -> list[tuple[F, F]]:
    """Start and end of each chain of tied snare heads."""
    chains: list[tuple[F, F]] = []
    for event in events:
        if any(s.piece == "snare" for s in event.heads):
            start, end = event.slot.start, event.slot.start + event.slot.length
            if ("snare", False) in event.held and start:
                assert chains[-1][1] == start, "a tie bridges a silence"
                chains[-1] = chains[-1][0], end
            else:
                chains.append((start, end))
    return chains


@settings(max_examples=150, deadline=None)
@given(rolled_bars())
def test_a_roll_fills_exactly_its_time_in_every_meter(made: Sheet) -> None:
    for bar, written in write_bars(made, ORDINARY).items():
        rolls = [s for s in made.chart.by_bar[bar] if s.rolls]
        events = [event for voice in written.voices for event in voice.events]
        assert rolled(events) == [(s.position, s.position + s.lasts) for s in rolls]
        for voice in written.voices:
            assert sum((e.slot.length for e in voice.events), F(0)) == bar_length(written.meter)


@settings(max_examples=100, deadline=None)
@given(rolled_bars())
def test_a_roll_of_any_length_comes_back_from_musicxml(made: Sheet) -> None:
    read = read_musicxml(musicxml(made), name="rolls.musicxml")

    def said(strokes: tuple[Stroke, ...]) -> list[tuple[object, ...]]:
        return [(s.bar, s.position, s.piece, s.roll, s.struck, s.lasts, s.tied, s.letter) for s in strokes]

    assert said(read.strokes) == said(made.chart.strokes)


@settings(max_examples=100, deadline=None)
@given(rolled_bars())
def test_ties_alone_say_how_long_a_roll_lasts(made: Sheet) -> None:
    """Another writer's file has the ties and none of our own words."""
    foreign = re.sub(rb"<play>.*?</play>", b"", musicxml(made), flags=re.S)
    back = {(s.bar, s.position): s for s in read_musicxml(foreign, name="x.musicxml").strokes if s.piece == "snare"}
    for one in (s for s in made.chart.strokes if s.rolls):
        found = back.get((one.bar, one.position))
        if one.roll == 16 and (found is None or not found.rolls):
            continue  # its first note is as short as its own strokes: no slash says that it is a roll
        assert found is not None
        assert (found.lasts, found.tied) == (one.lasts, one.tied)


@settings(max_examples=60, deadline=None)
@given(rolled_bars())
def test_a_roll_sounds_for_its_length_in_midi(made: Sheet) -> None:
    at, ons = 0, []
    for message in mido.MidiFile(file=BytesIO(midi(made))).tracks[1]:
        at += message.time
        if message.type == "note_on" and message.note == 38:
            ons.append(F(at, 4 * TICKS))
    expected = []
    for one in (s for s in made.chart.strokes if s.rolls):
        step = F(1, one.roll or 32)
        start = (one.bar - 1) * bar_length(made.grid.meter(1)) + one.position
        expected += [start + n * step for n in range(-(-one.lasts // step))]
    assert ons == expected


def test_a_two_beat_roll_is_two_tied_notes_with_slashes() -> None:
    made = sheet(["snare [roll 32] [lasts 1/2] 1; snare 3; kick 1 2 3 4"])
    root = ElementTree.fromstring(musicxml(made))
    notes = [n for n in root.iter("note") if n.find("tie") is not None]
    assert [[t.get("type") for t in n.findall("tie")] for n in notes] == [["start"], ["stop"]]
    assert [n.findtext("notations/ornaments/tremolo") for n in notes] == ["3", "3"]
    assert mei(made).count(b"<tie ") == 1
    assert mei(made).count(b'"3slash"') == 2


def test_a_roll_over_the_bar_line_is_tied_there() -> None:
    made = sheet(["snare [roll 32] [lasts 1/2] 3", "snare [roll 32] [lasts 1/4] [tied] 1; snare 2"])
    assert mei(made).count(b"<tie ") == 2
    assert musicxml(made).count(b'<tie type="start" />') == musicxml(made).count(b'<tie type="stop" />') == 2


def test_the_next_stroke_on_the_same_piece_ends_a_roll() -> None:
    made = sheet(["snare [roll 32] [lasts 1] 1; snare 3"])
    (voice,) = write_bars(made, ORDINARY)[1].voices
    assert [(e.slot.start, bool(e.held)) for e in voice.events if e.heads] == [
        (F(0), False),
        (F(1, 4), True),
        (F(1, 2), False),
    ]


def test_an_end_that_cannot_be_written_is_said_in_one_line() -> None:
    with pytest.raises(InputError, match=r"cannot be written|share no division") as found:
        musicxml(sheet(["snare [roll 32] [lasts 1/1000] 1"]))
    assert "\n" not in str(found.value)


def test_a_half_note_with_slashes_from_elsewhere_lasts_two_beats() -> None:
    note = (
        "<note><unpitched><display-step>C</display-step><display-octave>5</display-octave></unpitched>"
        "<duration>2</duration><type>half</type><notations><ornaments><tremolo>3</tremolo></ornaments></notations></note>"
    )
    text = (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Drums</part-name></score-part>'
        '</part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats>'
        "<beat-type>4</beat-type></time><clef><sign>percussion</sign></clef></attributes>"
        f"{note}{note}</measure></part></score-partwise>"
    )
    found = read_musicxml(text.encode(), name="halves.musicxml").strokes
    assert [(s.position, s.piece, s.lasts) for s in found] == [(F(0), "snare", F(1, 2)), (F(1, 2), "snare", F(1, 2))]
