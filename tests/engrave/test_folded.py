"""Charts with repeats, endings and jumps: every way out plays the song."""

from typing import Any

import pytest
from builder import FILL, GROOVE, sheet
from collisions import collisions
from randomly import returning_sheet

from fourlimb.engrave import Layout, chart_pdf, cursor, mei, midi, musicxml, read_musicxml, svg_pages
from fourlimb.engrave.documents import fitted
from fourlimb.engrave.folded import folded
from fourlimb.engrave.page import set_lines
from fourlimb.engrave.passes import FoldedSheet, passes_of
from fourlimb.engrave.simile import look
from fourlimb.model import FeelSpan, Sheet

FOLDED = Layout(repeats="folded")
PLAIN = Layout(repeats="folded", simile="never")
A, B, C = GROOVE, "hat every 8th; kick 1 2& 3; snare 2 4", "ride every 8th; kick 1 2&; snare 3"
TURN = "snare every 16th; kick 1 3"
VERSE = [A, B, A, B, A, B, C, FILL]
SONGS = [*range(30), 1439]
"""Songs that the random maker makes; 1439 has two passages with endings side by side, and a jump."""


def form_song(**how: Any) -> Sheet:
    """Intro, verse twice, chorus twice with two endings, bridge, verse, end."""
    chorus = [C, C, B, C, B, C, C]
    bars = [A, A, B, A, *VERSE, *VERSE, *chorus, FILL, *chorus, TURN, "", "", "", FILL, *VERSE, A, B, A, "crash 1"]
    names = [("Intro", 4), ("Verse 1", 8), ("Verse 2", 8), ("Chorus", 16), ("Bridge", 4), ("Verse 3", 8), ("Out", 4)]
    sections, at = [], 1
    for name, length in names:
        sections.append((name, at, at + length - 1))
        at += length
    return sheet(bars, sections=sections, **how)


@pytest.mark.parametrize("number", SONGS)
def test_a_folded_file_is_read_back_as_the_whole_song(number: int) -> None:
    made = returning_sheet(number)
    back = read_musicxml(musicxml(made, FOLDED), name="x")
    assert not back.notes
    assert [bar.bar for bar in back.grid.bars] == list(made.grid.numbers)
    read: dict[int, list[Any]] = {}
    for stroke in back.strokes:
        read.setdefault(stroke.bar, []).append(stroke)
    for bar in made.grid.numbers:
        assert look(read.get(bar, ())) == look(made.chart.by_bar.get(bar, ()))


def test_the_random_songs_hold_every_kind_of_return() -> None:
    marks = [
        m for n in SONGS if isinstance(f := folded(returning_sheet(n)), FoldedSheet) for m in f.bar_marks.values()
    ]
    assert {mark.jump for mark in marks} == {"", "D.S.", "D.C."}
    assert any(mark.ending for mark in marks)
    assert any(mark.end > 2 for mark in marks)
    assert any(mark.fine for mark in marks)
    assert any(mark.to_coda for mark in marks)


@pytest.mark.parametrize("number", SONGS)
def test_the_cursor_finds_every_bar_of_the_song_and_every_stroke(number: int) -> None:
    made = returning_sheet(number)
    found = cursor(svg_pages(made, PLAIN))
    assert [box.bar for box in found.bars] == list(made.grid.numbers)
    drawn = {(box.bar, box.position, box.piece) for box in found.strokes}
    assert drawn == {(s.bar, s.position, s.piece) for s in made.chart.strokes}


@pytest.mark.parametrize("layout", [FOLDED, PLAIN, Layout(repeats="folded", scale=2.0)])
def test_nothing_stands_on_anything_else(layout: Layout) -> None:
    for made in (form_song(landmarks={13: "strings in"}), *(returning_sheet(n) for n in range(6))):
        for line in set_lines(made, layout):
            assert not [(a.kind, b.kind, line.line.first) for a, b in collisions(line)]


def test_repeats_endings_and_jumps_stand_in_every_file() -> None:
    made = form_song()
    text = musicxml(made, FOLDED).decode()
    for piece in (
        '<repeat direction="forward" />', '<ending number="1" type="start" />', '<ending number="1" type="stop" />',
        '<ending number="2" type="discontinue" />', '<repeat direction="backward" after-jump="no" />', "<segno />",
        '<sound segno="1" />', '<sound tocoda="1" />', '<sound coda="1" />', '<sound dalsegno="1" />', "<coda />",
        "<words>D.S. al Coda</words>", "<words>To Coda</words>",
    ):  # fmt: skip
        assert piece in text
    score = mei(made, FOLDED).decode()
    for piece in (
        'left="rptstart"',
        'right="rptend"',
        '<ending n="1"',
        'func="segno"',
        'func="coda"',
        "D.S. al Coda",
    ):
        assert piece in score
    words = [word.text for line in set_lines(made, FOLDED) for word in line.words]
    for word in ("1.", "2.", "D.S. al Coda", "To Coda", "5, 13, 41", "Verse 1 · Verse 2 · Verse 3"):
        assert word in words


def test_how_often_a_passage_is_played_is_printed_when_it_is_more_than_twice() -> None:
    made = sheet([A, B, C, FILL] * 4, sections=[("A", 1, 16)])
    assert "4×" in [word.text for line in set_lines(made, FOLDED) for word in line.words]
    assert 'times="4"' in musicxml(made, FOLDED).decode()


def test_a_cue_of_one_pass_says_which() -> None:
    cues = [mark.what for mark in folded(form_song(landmarks={13: "strings in", 5: "voice"})).landmarks]
    assert cues == ["2nd time: strings in", "1st time: voice"] or cues == ["1st time: voice", "2nd time: strings in"]


def test_a_passage_in_another_feel_is_no_return() -> None:
    span = FeelSpan(from_bar=13, to_bar=20, feel="half-time")
    short = folded(form_song(feel=[span]))
    assert passes_of(short, 13) == (13,)
    assert passes_of(folded(form_song()), 5) == (5, 13, 41)


def test_midi_plays_the_song_whatever_the_page_folds() -> None:
    made = form_song()
    assert isinstance(folded(made), FoldedSheet)
    assert midi(made) != midi(folded(made))
    assert len(folded(made).grid.bars) < len(made.grid.bars)


def test_a_chart_stays_written_out_unless_folding_wins_a_page() -> None:
    small = sheet(VERSE * 2, sections=[("Verse 1", 1, 8), ("Verse 2", 9, 16)])
    assert isinstance(folded(small), FoldedSheet)
    assert fitted(small, Layout())[0] is small
    assert len(fitted(small, Layout())[2]) == 1
    big = sheet([*VERSE * 9], sections=[(f"Verse {n + 1}", 8 * n + 1, 8 * n + 8) for n in range(9)])
    written, _, pages = fitted(big, Layout(repeats="written out"))
    assert written is big
    short, _, fewer = fitted(big, Layout())
    assert isinstance(short, FoldedSheet)
    assert len(fewer) < len(pages)


def test_a_folded_chart_is_one_document_and_the_same_every_time() -> None:
    assert chart_pdf(form_song(), FOLDED) == chart_pdf(form_song(), FOLDED)


def test_files_and_screens_stay_written_out() -> None:
    made = form_song()
    assert musicxml(made) == musicxml(made, Layout(repeats="written out"))
    assert b"<repeat" not in musicxml(made)
    assert svg_pages(made) == svg_pages(made, Layout(repeats="written out"))
