"""Our files in the hands of others: the W3C schema, music21, verovio, mido, pretty_midi.

What each reader loses (music21: which piece a note is; verovio: music under repeat signs, swing) is left out of its
comparison; nothing else is.
"""

import io
import sys
import warnings
import xml.etree.ElementTree as ElementTree
from fractions import Fraction as F
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "engrave"))

from builder import night_ferry
from randomly import random_sheet, returning_sheet
from test_page import features, more_features

from fourlimb.engrave import Layout, mei, midi, musicxml
from fourlimb.engrave.midi import TICKS, bar_ticks, tick_at
from fourlimb.engrave.words import GRACE_NOTES
from fourlimb.model import Sheet
from fourlimb.model.sounds import midi_key

CORPUS = [night_ferry(), features(), more_features(), *(random_sheet(number) for number in range(40, 75))]
NAMES = ["night ferry", "features", "more features", *map(str, range(40, 75))]
RETURNING = [returning_sheet(number) for number in range(20)]
CHARTS = pytest.mark.parametrize("chart", CORPUS, ids=NAMES)


@pytest.fixture(scope="module")
def schema() -> Any:
    """W3C MusicXML 4.0 XSD (as packaged by `musicxml`), with the xml and xlink schemas of `xmlschema` beside it."""
    import musicxml as package
    import xmlschema
    from lxml import etree

    folder = Path(package.__file__).parent / "generate_classes"
    text = next(folder.rglob("musicxml_4_0.xsd")).read_text()
    schemas = Path(xmlschema.__file__).parent / "schemas"
    text = text.replace("http://www.musicxml.org/xsd/xml.xsd", next(schemas.rglob("xml.xsd")).as_uri())
    text = text.replace("http://www.musicxml.org/xsd/xlink.xsd", next(schemas.rglob("xlink.xsd")).as_uri())
    return etree.XMLSchema(etree.fromstring(text.encode()))


@CHARTS
def test_musicxml_is_valid_by_the_w3c_schema(chart: Sheet, schema: Any) -> None:
    from lxml import etree

    document = etree.fromstring(musicxml(chart), etree.XMLParser(load_dtd=False, no_network=True))
    assert schema.validate(document), schema.error_log


@pytest.mark.parametrize("chart", [*RETURNING, *CORPUS[:8]])
def test_charts_with_repeats_and_with_their_count_are_valid_too(chart: Sheet, schema: Any) -> None:
    from lxml import etree

    data = musicxml(chart, Layout(repeats="folded", show_count=True))
    document = etree.fromstring(data, etree.XMLParser(load_dtd=False, no_network=True))
    assert schema.validate(document), schema.error_log


def test_the_schema_refuses_what_is_wrong(schema: Any) -> None:
    from lxml import etree

    broken = musicxml(night_ferry()).replace(b"<voice>1</voice>", b"<voice>1</voice><colour>red</colour>", 1)
    assert not schema.validate(etree.fromstring(broken, etree.XMLParser(load_dtd=False)))


@CHARTS
def test_music21_finds_every_onset(chart: Sheet) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import converter, note, percussion

        score = converter.parseData(musicxml(chart).decode(), format="musicxml")
    bars = {bar.number: bar for bar in score.parts[0].getElementsByClass("Measure")}
    found: dict[tuple[int, F], int] = {}
    for number, bar in bars.items():
        for element in bar.recurse().notes:
            if element.duration.isGrace:
                continue
            assert isinstance(element, note.GeneralNote)
            parts = element.notes if isinstance(element, percussion.PercussionChord) else [element]
            heads = sum(part.tie is None or part.tie.type == "start" for part in parts)
            at = F(element.getOffsetInHierarchy(bar)).limit_denominator(5000) / 4
            if heads:  # a head that a tie leads to is not struck
                found[number, at] = found.get((number, at), 0) + heads
    ours: dict[tuple[int, F], int] = {}
    for stroke in chart.chart.strokes:
        key = stroke.bar, stroke.position
        if stroke.tied:
            continue
        ours[key] = ours.get(key, 0) + 1
    short = chart.grid.length(0) if 0 in chart.grid.numbers else None
    assert short is None or short > 0
    assert found == ours


@CHARTS
def test_verovio_reads_our_musicxml_and_plays_the_right_drums(chart: Sheet) -> None:
    import base64

    import mido
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"inputFrom": "musicxml"})
    plain = _without_signs(musicxml(chart))
    assert toolkit.loadData(plain)
    file = mido.MidiFile(file=io.BytesIO(base64.b64decode(toolkit.renderToMIDI())))
    found = {m.note for track in file.tracks for m in track if m.type == "note_on" and m.velocity}
    assert found == {midi_key(s.piece, second=s.second) for s in chart.chart.strokes}


def _without_signs(data: bytes) -> str:
    """Our document without its repeat and long-rest styles, under which verovio falls silent."""
    root = ElementTree.fromstring(data)
    for attributes in root.iter("attributes"):
        for style in attributes.findall("measure-style"):
            attributes.remove(style)
    return ElementTree.tostring(root, encoding="unicode")


@CHARTS
def test_verovio_loads_our_mei_whole(chart: Sheet) -> None:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "encoded", "font": "Bravura"})
    data = mei(chart, Layout(simile="never")).decode()
    assert toolkit.loadData(data)
    drawn = "".join(toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1))
    written = [e.get("{http://www.w3.org/XML/1998/namespace}id") for e in ElementTree.fromstring(data).iter()]
    lost = [name for name in written if name and f'id="{name}"' not in drawn and not _silent(data, name)]
    assert not lost


def _silent(data: str, name: str) -> bool:
    return f'<space xml:id="{name}"' in data


@CHARTS
def test_mido_finds_every_onset_to_the_tick(chart: Sheet) -> None:
    import mido

    file = mido.MidiFile(file=io.BytesIO(midi(chart)))
    assert file.type == 1
    assert file.ticks_per_beat == TICKS >= 480
    starts = bar_ticks(chart)
    expected = {(tick_at(chart, starts, s), midi_key(s.piece, second=s.second)) for s in chart.chart.strokes}
    found, at = set(), 0
    for message in file.tracks[1]:
        at += message.time
        if message.type == "note_on" and message.velocity:
            found.add((at, message.note))
    small = sum(GRACE_NOTES[s.grace] for s in chart.chart.strokes if s.grace)
    rolled = sum(s.roll for s in chart.chart.strokes)  # at most a whole note of each
    assert expected <= found
    assert len(found - expected) <= small + rolled


@pytest.mark.parametrize("chart", CORPUS[:12], ids=NAMES[:12])
def test_pretty_midi_hears_each_stroke_when_the_grid_says(chart: Sheet) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pretty_midi

        heard = pretty_midi.PrettyMIDI(io.BytesIO(midi(chart)))
    notes = sorted((n.start, n.pitch) for i in heard.instruments for n in i.notes)
    assert all(instrument.is_drum for instrument in heard.instruments)
    first = chart.grid.bars[0].start_s
    for stroke in chart.chart.strokes:
        seconds = chart.grid.time_at(stroke.bar, stroke.position, swung=True) - first
        near = [start for start, pitch in notes if pitch == midi_key(stroke.piece, second=stroke.second)]
        assert min(abs(start - seconds) for start in near) < 2e-3


def test_a_drum_part_made_by_another_program_is_read() -> None:
    """music21's corpus, demos/drum_sample.xml: two bars exported elsewhere, with one instrument per piece."""
    import music21

    from fourlimb.engrave import read_musicxml

    file = Path(music21.__file__).parent / "corpus" / "demos" / "drum_sample.xml"
    found = read_musicxml(file.read_bytes(), name=file.name)
    assert not found.notes
    groove = {(s.position, s.piece) for s in found.strokes if s.bar == 1}
    assert {
        (F(0), "kick"),
        (F(0), "crash"),
        (F(1, 8), "hat_closed"),
        (F(1, 4), "snare"),
        (F(3, 4), "snare"),
    } <= groove
    assert sum(s.piece == "cowbell" for s in found.strokes if s.bar == 1) == 4
