"""One line of the key file is edited: the chart, its printed key, MusicXML, MIDI and the practice page all follow."""

import io
from importlib import resources

import mido
import msgspec
from builder import GROOVE, sheet

from fourlimb.engrave import Layout, cursor, midi, musicxml, svg_pages
from fourlimb.engrave.legend import legend_svg
from fourlimb.model import Kit, Sheet
from fourlimb.model.keys import read_schools
from fourlimb.page import pictures

SHIPPED = resources.files("fourlimb.model").joinpath("keys.toml").read_text(encoding="utf-8")
ROW = 'snare       = { line =  5, head = "normal", voice = "hands", midi = 38 }'
EDITED = 'snare       = { line =  4, head = "diamond", voice = "hands", midi = 40 }'


def with_key(text: str) -> Sheet:
    school = read_schools(text)["five-piece"]
    made = sheet([GROOVE])
    return msgspec.structs.replace(made, kit=Kit(key=school.key, second_key=school.second))


def test_one_edited_line_changes_every_output() -> None:
    assert SHIPPED.count(ROW) == 1
    before, after = with_key(SHIPPED), with_key(SHIPPED.replace(ROW, EDITED))
    heights = [{box.piece: box.y for box in cursor(svg_pages(made)).strokes} for made in (before, after)]
    assert heights[1]["snare"] > heights[0]["snare"]
    assert "gE0DB" not in svg_pages(before)[0]
    assert "gE0DB" in svg_pages(after)[0]
    assert "gE0DB" in legend_svg(after, Layout())
    assert legend_svg(before, Layout()) != legend_svg(after, Layout())
    text = musicxml(after).decode()
    assert "<display-step>B</display-step><display-octave>4</display-octave>" in text
    assert "<notehead>diamond</notehead>" in text
    assert "<midi-unpitched>41</midi-unpitched>" in text
    assert {40} == _keys(after) - _keys(before)
    assert pictures.engraved(before).svg != pictures.engraved(after).svg


def _keys(made: Sheet) -> set[int]:
    file = mido.MidiFile(file=io.BytesIO(midi(made)))
    return {message.note for message in file.tracks[1] if message.type == "note_on"}
