"""Titles and words in any script: shown, or replaced by a visible sign, never dropped, in every way out."""

import io
import unicodedata
import xml.etree.ElementTree as ElementTree

import mido
import msgspec
import pypdfium2
import pytest
from builder import GROOVE, sheet

from fourlimb.engrave import Layout, chart_pdf, mei, midi, musicxml, read_musicxml, svg_pages
from fourlimb.engrave.typeface import MISSING, drawn_text, shown, width
from fourlimb.engrave.words import printable
from fourlimb.model import Sheet

SCRIPTS = {
    "greek": "Νυχτερινό πλοίο",
    "cyrillic": "Ночной паром",
    "chinese": "夜间渡轮",
    "japanese": "夜のフェリー",
    "korean": "야간 여객선",
    "arabic": "عبارة الليل",
    "hebrew": "מעבורת לילה",
    "hindi": "रात की नौका",
    "thai": "เรือข้ามฟาก",
    "emoji": "ferry 🚢🌙",
    "family": "👩‍👩‍👧",
    "combining": "Fe\u0301rry de nu\u0302it",
    "stacked": "a\u0301\u0302\u0303\u0323b",
    "controls": "night\x00\x07\x1bferry",
    "surrogate": "night\ud800ferry",
    "lines": "night\nferry\u2028now",
    "markup": "<b>&amp;\"'</b>",
    "polish": "Zażółć gęślą jaźń",
    "vietnamese": "Phà đêm ở Huế",
    "private": "a\ue000b",
    "stress": "Паро\u0301м",
    "pointed hebrew": "\u05de\u05b7\u05e2\u05b0\u05d1",
    "vowelled arabic": "\u0628\u064e\u0651\u0627",
    "circled": "x\u20dd",
}


def everywhere(text: str) -> Sheet:
    """A sheet with the text as title, section, cue, credit and syllable."""
    bars = [GROOVE, "snare 1", GROOVE, "snare 2"]
    made = sheet(bars, title=text, sections=[(text, 1, 4)], landmarks={3: text}, credits=[text])
    strokes = [msgspec.structs.replace(made.chart.strokes[0], word=text), *made.chart.strokes[1:]]
    return msgspec.structs.replace(made, chart=msgspec.structs.replace(made.chart, strokes=tuple(strokes)))


@pytest.mark.parametrize("text", SCRIPTS.values(), ids=SCRIPTS)
def test_no_letter_is_dropped_and_what_no_face_has_is_a_square(text: str) -> None:
    seen = shown(printable(text))
    assert len(seen) == len(text)
    for before, after in zip(text, seen, strict=True):
        assert after in (before, MISSING, "\ufffd", " ")
        assert after != " " or before.isspace()


@pytest.mark.parametrize("text", SCRIPTS.values(), ids=SCRIPTS)
def test_the_page_shows_section_cue_and_syllable(text: str) -> None:
    page = ElementTree.fromstring(svg_pages(everywhere(text))[0])
    words = [element.text for element in page.iter("{http://www.w3.org/2000/svg}text")]
    assert words.count(drawn_text(printable(text))) == 3
    assert width(drawn_text(printable(text)), 10.0) > 0


@pytest.mark.parametrize("text", SCRIPTS.values(), ids=SCRIPTS)
def test_a_picture_leaves_out_only_what_shows_nothing(text: str) -> None:
    whole = unicodedata.normalize("NFC", printable(text))
    signs = [c for c in whole if c not in "\u200c\u200d\u2060\ufe0e\ufe0f"]
    kept = drawn_text(printable(text))
    assert len(kept) == len(signs)
    assert all(after in (before, MISSING) for before, after in zip(signs, kept, strict=True))


@pytest.mark.parametrize("text", SCRIPTS.values(), ids=SCRIPTS)
def test_the_document_holds_every_letter(text: str) -> None:
    document = pypdfium2.PdfDocument(chart_pdf(everywhere(text), Layout(show_sticking=True)))
    printed = set("".join(document[n].get_textpage().get_text_bounded() for n in range(len(document))))
    wanted = {c for c in shown(printable(text)) if not c.isspace() and c not in "\u200d\ufffd"}
    ligature = {"\u0627", "\u0644"}  # lam and alef are one sign
    composed = {c for c in wanted if 0x300 <= ord(c) < 0x370} | set(
        "e\u00e9u\u00fba\u00e1"
    )  # a letter and its mark are one
    assert wanted - ligature - composed <= printed


@pytest.mark.parametrize("text", SCRIPTS.values(), ids=SCRIPTS)
def test_files_keep_the_text_itself(text: str) -> None:
    made, kept = everywhere(text), printable(text)
    score = ElementTree.fromstring(musicxml(made))
    assert score.findtext("work/work-title") == kept
    assert score.findtext(".//rehearsal") == kept
    assert score.findtext(".//lyric/text") == kept
    back = read_musicxml(musicxml(made), name="x")
    assert back.sections[0].name == " ".join(kept.split()) or back.sections[0].name == kept.strip()
    assert kept in [element.text for element in ElementTree.fromstring(mei(made)).iter()]
    file = mido.MidiFile(file=io.BytesIO(midi(made)), charset="utf-8")
    assert kept in [message.text for message in file.tracks[0] if message.type == "marker"]
