"""Code points, keys and conventions against published tables (SMuFL 1.4, General MIDI, MusicXML 4.0, MEI 5)."""

import json
import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "engrave"))

from builder import sheet

from fourlimb.engrave import heads
from fourlimb.engrave import musicxml as written
from fourlimb.engrave.legend import glyph_of
from fourlimb.engrave.musicxml import swing_ratio
from fourlimb.engrave.xmlnotes import NOTEHEAD, display
from fourlimb.model import Sound
from fourlimb.model.kit import FIVE_PIECE_KEY
from fourlimb.model.sounds import GENERAL_MIDI

SMUFL = {
    "noteheadBlack": ("E0A4", glyph_of("normal")),
    "noteheadXBlack": ("E0A9", glyph_of("x")),
    "noteheadCircleX": ("E0B3", glyph_of("circle-x")),
    "noteheadDiamondBlack": ("E0DB", glyph_of("diamond")),
    "noteheadSlashedBlack1": ("E0CF", glyph_of("slash")),
    "noteheadPlusBlack": ("E0AF", glyph_of("plus")),
    "metNoteQuarterUp": ("ECA5", heads.MET_QUARTER),
}
"""W3C, SMuFL 1.4, metadata/glyphnames.json: name, code point, ours."""


@pytest.fixture(scope="module")
def facts(shared: Path) -> dict[str, Any]:
    file = shared / "trade" / "facts-for-tests.json"
    return {fact["id"]: fact for fact in json.loads(file.read_text())["facts"]}


@pytest.mark.parametrize(("name", "codes"), SMUFL.items(), ids=SMUFL)
def test_heads_use_the_code_points_of_smufl(name: str, codes: tuple[str, str]) -> None:
    assert codes[0] == codes[1]


def test_the_collected_facts_give_the_same_code_points(facts: dict[str, Any]) -> None:
    checked = 0
    for name, (_, ours) in SMUFL.items():
        if f"smufl-{name}" in facts:
            assert facts[f"smufl-{name}"]["expect"]["codepoint"] == f"U+{ours}"
            checked += 1
    assert checked >= 6


def test_the_engraver_is_never_asked_for_a_glyph_that_its_font_lacks() -> None:
    known = heads.boxes()
    for code in (*heads.ASKED, heads.MET_QUARTER, heads.MET_EIGHTH, heads.MET_HALF, heads.MET_DOT, "E069", "E5E7"):
        assert code in known
        assert heads.outline(code)
    shapes = [shape.removeprefix("#x") for shape in heads.SHAPE.values() if shape and shape.startswith("#x")]
    assert set(shapes) <= set(heads.ASKED)


def test_general_midi_keys_are_those_of_the_published_map(facts: dict[str, Any]) -> None:
    checked = 0
    for fact in facts.values():
        if fact["topic"] == "general-midi" and fact["expect"].get("sound") in GENERAL_MIDI:
            sound = fact["expect"]["sound"]
            if GENERAL_MIDI[sound] == fact["given"]["key"]:
                checked += 1
    assert checked >= 16


def test_midi_unpitched_counts_from_one() -> None:
    assert b"<midi-unpitched>39</midi-unpitched>" in written(sheet(["snare 1"]))  # W3C: General MIDI 38


def test_a_percussion_clef_reads_like_a_treble_clef() -> None:
    """W3C, MusicXML 4.0: G4 on line 2, F4 in space 1, C5 in space 3, F5 on line 5, G5 above the staff."""
    assert [display(line) for line in (2, 1, 5, 8, 9, -1, 0)] == [
        ("G", 4), ("F", 4), ("C", 5), ("F", 5), ("G", 5), ("D", 4), ("E", 4)
    ]  # fmt: skip


def test_noteheads_are_values_of_the_standard(facts: dict[str, Any]) -> None:
    assert set(facts["mx-noteheads"]["expect"]["includes"]) >= {
        NOTEHEAD[h] for h in ("x", "circle-x", "diamond", "triangle")
    }


def test_swing_uses_smallest_integers(facts: dict[str, Any]) -> None:
    expected = facts["mx-swing"]["expect"]
    assert swing_ratio(0.6) == (expected["first"], expected["second"])


TUTORIAL: tuple[Sound, ...] = ("kick", "snare", "hat_closed")


def test_kick_snare_and_hat_stand_where_the_w3c_tutorial_puts_them() -> None:
    places = {sound: display(FIVE_PIECE_KEY[sound].line) for sound in TUTORIAL}
    assert places == {"kick": ("F", 4), "snare": ("C", 5), "hat_closed": ("G", 5)}
