"""Every sign of a drum chart, in the three ways out: MEI, MusicXML, and on the page."""

import io
from collections.abc import Callable
from fractions import Fraction as F
from typing import Any

import mido
import msgspec
import pytest
from builder import GROOVE, sheet

from fourlimb import teach
from fourlimb.engrave import Layout, mei, midi, musicxml, read_musicxml, svg_pages
from fourlimb.engrave.documents import signs
from fourlimb.engrave.page import set_lines
from fourlimb.model import FeelSpan, Kit, Plan, Sheet
from fourlimb.model.tempo import tempo_marks
from fourlimb.teach.count import TRADITIONS

SHOWN = Layout(show_count=True, show_sticking=True)


def bars(text: str, **how: Any) -> Sheet:
    return sheet([text], **how)


def worded() -> Sheet:
    made = sheet(["snare 1 2 2& 3 4"])
    said = ("night", "fer-", "ry", "sails", "夜")
    strokes = [msgspec.structs.replace(s, word=w) for s, w in zip(made.chart.strokes, said, strict=True)]
    return msgspec.structs.replace(made, chart=msgspec.structs.replace(made.chart, strokes=tuple(strokes)))


def double_pedal() -> Sheet:
    made = sheet(["kick 1 1& 2 2&; snare 2 4"], kit=Kit(double_pedal=True))
    strokes = [
        msgspec.structs.replace(s, limb="left foot") if s.piece == "kick" and s.position in (F(1, 8), F(3, 8)) else s
        for s in made.chart.strokes
    ]
    return msgspec.structs.replace(made, chart=msgspec.structs.replace(made.chart, strokes=tuple(strokes)))


PAIR = [GROOVE, "hat every 8th; kick 1 2& 3; snare 2 4"] * 4
FEATURES: dict[str, tuple[Callable[[], Sheet], str, str, str]] = {
    # what it is: the chart, and a piece of the MEI, of the MusicXML and of the page that shows it
    "ghost": (lambda: bars("snare [ghost] 1"), 'head.mod="paren"', 'parentheses="yes"', "gE26A|gE26B|gE0F5"),
    "accent": (lambda: bars("snare [accent] 1"), 'artic="acc"', "<accent />", "gE4A0"),
    "flam": (lambda: bars("snare [flam] 1"), 'stem.mod="1slash"', '<grace slash="yes" />', 'id="s1.0.snare"'),
    "drag": (lambda: bars("snare [drag] 1"), 'grace="unacc"', "<grace />", 'id="s1.0.snare"'),
    "ruff": (lambda: bars("snare [ruff] 1"), "h0.g2", "<grace />", 'id="s1.0.snare"'),
    "long ruff": (lambda: bars("snare [long ruff] 1"), "h0.g3", "<grace />", 'id="s1.0.snare"'),
    "buzz": (lambda: bars("snare [buzz] 1"), 'stem.mod="z"', '<tremolo type="unmeasured">0<', "gE22A"),
    "roll in 16ths": (lambda: bars("snare [roll 16] 1"), '"2slash"', '<tremolo type="single">2<', "gE221"),
    "roll in 32nds": (lambda: bars("snare [roll 32] 1"), '"3slash"', '<tremolo type="single">3<', "gE222"),
    "cross-stick": (lambda: bars("rim 1"), 'head.shape="x"', "<notehead>x<", "gE0A9"),
    "rimshot": (lambda: bars("snare [rimshot] 1"), 'head.shape="#xE0CF"', "<notehead>slashed<", "gE0CF"),
    "open hat": (lambda: bars("open hat 1; hat 2"), 'artic="open"', "<open />", "gE5E7"),
    "where it closes": (lambda: bars("open hat 1; hat 2"), 'artic="stop"', "<stopped />", "gE5E5"),
    "half-open hat": (lambda: bars("hat [half open] 1"), 'type="half-open"', "<half-muted />", "ghalf-open"),
    "foot hat": (lambda: bars("foot hat 2"), 'loc="-1"', "<display-step>D</display-step>", 'id="s1.1-4.hat_pedal"'),
    "foot splash": (lambda: bars("foot hat [foot splash] 2"), 'artic="open"', "<open />", "gE5E7"),
    "choke": (lambda: bars("crash [choke] 1"), 'artic="stacc"', "<staccato />", ">choke<"),
    "let ring": (lambda: bars("crash [let ring] 1"), "let-ring", '<tied type="let-ring" />', "C"),
    "second crash": (lambda: bars("crash 1; crash [second] 3"), 'loc="11"', ">58<", 'id="s1.1-2.crash.2"'),
    "second kick drum": (lambda: bars("kick 1; kick [second] 3"), 'loc="0"', ">36<", 'id="s1.1-2.kick.2"'),
    "double pedal": (double_pedal, ">L</dir>", "left foot", ">L<"),
    "hand percussion": (lambda: bars("tambourine 1; shaker 2; cowbell 3; clap 4"), "triangle", ">55<", "gtriangle"),
    "hands": (lambda: bars("snare [R] 1"), ">R</dir>", "<fingering>R<", ">R<"),
    "count": (lambda: bars("snare 1 2", counts={1: "1 2 3 4"}), ">3</dir>", 'name="count"', ">3<"),
    "words to the rhythm": (worded, "<syl>fer-</syl>", 'name="words"', ">fer-<"),
    "one-bar repeat": (lambda: sheet([GROOVE] * 3), "<mRpt", '"start">1</measure-repeat>', ">(3)<"),
    "two-bar repeat": (lambda: sheet(PAIR), "<multiRpt", 'slashes="2">2</measure-repeat>', "gE501"),
    "long rest": (lambda: sheet(["kick 1", "", "", "", ""]), '<multiRest xml:id="bar2.r" num="4"', ">4</mul", "gE084"),
    "pickup": (lambda: sheet(["snare 4", GROOVE], first_bar=0), 'type="pickup"', 'implicit="yes"', 'data-bars="0-0"'),
    "section": (lambda: sheet([GROOVE], sections=[("Coda", 1, 1)]), ">Coda</reh>", "<rehearsal", ">Coda<"),
    "tempo": (lambda: bars(GROOVE), 'midi.bpm="112.000"', "<per-minute>112<", "gECA5"),
    "meter change": (lambda: sheet([GROOVE, "snare 1"], meters=["4/4", "6/8"]), 'meter.count="6"', "<beats>6<", "gE086"),
    "half-time feel": (
        lambda: sheet([GROOVE] * 2, feel=[FeelSpan(from_bar=2, to_bar=2, feel="half-time")]),
        ">half-time feel</dir>", "<words>half-time feel<", ">half-time feel<",
    ),
    "double-time feel": (
        lambda: sheet([GROOVE] * 2, feel=[FeelSpan(from_bar=2, to_bar=2, feel="double-time")]),
        ">double-time feel</dir>", "<words>double-time feel<", ">double-time feel<",
    ),
    "swing on": (
        lambda: sheet([GROOVE] * 2, feel=[FeelSpan(from_bar=2, to_bar=2, feel="straight", swing=0.667)]),
        ">swing</dir>", "<first>2</first><second>1</second>", ">swing<",
    ),
    "swing off": (
        lambda: sheet([GROOVE] * 2, feel=[FeelSpan(from_bar=1, to_bar=1, feel="straight", swing=0.667)]),
        ">straight</dir>", "<straight />", ">straight<",
    ),
    "cue": (lambda: sheet([GROOVE], landmarks={1: "band stops"}), ">band stops</dir>", "band stops</words>", "band stops"),
    "note equality": (
        lambda: sheet([GROOVE] * 10, tempo=[132.0] * 5 + [88.0] * 5),
        ">dotted quarter = quarter</tempo>", "<beat-unit-dot /><beat-unit>quarter<", "gECB7",
    ),
    "triplet": (lambda: bars("snare 1 1trip 1let"), '<tuplet num="3" numbase="2"', "<actual-notes>3<", "gE883"),
}  # fmt: skip


@pytest.mark.parametrize("name", FEATURES)
def test_a_sign_stands_in_every_way_out(name: str) -> None:
    make, in_mei, in_xml, on_page = FEATURES[name]
    made = make()
    assert in_mei in mei(made, SHOWN).decode()
    text = musicxml(made, SHOWN).decode()
    assert in_xml in text
    page = svg_pages(made, SHOWN)[0]
    assert any(piece in page for piece in on_page.split("|"))
    back = read_musicxml(text.encode(), name="x")
    assert back.strokes == made.chart.strokes
    assert not back.notes


def test_a_let_ring_tie_is_drawn_after_the_head() -> None:
    ringing = set_lines(bars("crash [let ring] 1"), Layout())[0].boxes
    plain = set_lines(bars("crash 1"), Layout())[0].boxes
    ties = [box for box in ringing if box.kind == "lv"]
    head = next(box for box in ringing if box.kind == "notehead")
    assert len(ties) == 1
    assert ties[0].left >= head.right - 12
    assert not [box for box in plain if box.kind == "lv"]


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("snare [roll 16] 1; snare 2", [F(0), F(1, 4), F(1, 2), F(3, 4), F(1)]),
        ("snare [roll 32] 1 ; snare 1& 2", [F(n, 8) for n in range(4)] + [F(1, 2), F(1)]),
    ],
)
def test_a_measured_roll_sounds_as_long_as_it_is_written(text: str, times: list[F]) -> None:
    at, found = 0, []
    for message in mido.MidiFile(file=io.BytesIO(midi(bars(text)))).tracks[1]:
        at += message.time
        if message.type == "note_on":
            found.append(F(at, 3360))
    assert found == times


@pytest.mark.parametrize("tradition", TRADITIONS)
def test_every_counting_tradition_reaches_the_page_and_the_lyrics(tradition: str) -> None:
    """A bar of sixteenths, a bar of triplets and a bar of 6/8."""
    made = sheet(
        ["hat every 16th; kick 1", "snare 1 1trip 1let 2 3 4", "snare 1 1& 1a 2"], meters=["4/4", "4/4", "6/8"]
    )
    counts = teach.plan(made.chart, made.grid, made.kit, tradition=tradition).counts
    made = msgspec.structs.replace(made, plan=Plan(figures=(), differences=(), running_order=(), counts=counts))
    said = [word.text for line in set_lines(made, SHOWN) for word in line.words if word.kind == "count"]
    assert said == " ".join(counts[bar] for bar in (1, 2, 3)).split()
    text = musicxml(made, SHOWN).decode()
    lyrics = text.split('<lyric number="1" name="count">')[1:]
    sung = [lyric.partition("<text>")[2].partition("</text>")[0].replace("&amp;", "&") for lyric in lyrics]
    aloud = [word for word in said if not word.startswith("(")]
    assert [word for word in sung if not word.startswith("(")] == aloud
    assert len(aloud) == 16 + 6 + 4
    assert 'name="count"' not in musicxml(made).decode()


def test_rests_and_repeat_runs_break_at_sections_in_every_way_out() -> None:
    made = sheet(["kick 1", *[""] * 8], sections=[("A", 1, 5), ("B", 6, 9)])
    assert mei(made).decode().count("<multiRest") == 2
    assert musicxml(made).decode().count("<multiple-rest>4<") == 2
    assert svg_pages(made)[0].count('data-bars="2-5"') == svg_pages(made)[0].count('data-bars="6-9"') == 1
    runs = sheet([GROOVE] * 8, sections=[("A", 1, 4), ("B", 5, 8)])
    assert mei(runs).decode().count("<mRpt") == 6
    assert musicxml(runs).decode().count('type="start">1</measure-repeat>') == 2


def test_the_chart_says_what_its_rolls_and_ties_mean() -> None:
    said = signs(sheet(["snare [roll 16] 1; crash [let ring] 3"]))
    assert "slashes on the stem: roll" in said
    assert "short tie: let ring" in said
    assert not signs(sheet(["snare 1"]))


def test_a_band_that_drifts_has_one_tempo_the_middle_one_and_one_that_jumps_has_two() -> None:
    drifting = [110.0, 111.0, 111.5, 111.0, 108.0, 108.4, 108.1, 108.0, 108.2, 107.9, 108.0, 108.1]
    assert set(tempo_marks(sheet([GROOVE] * 12, tempo=drifting).grid).values()) == {108.2}
    assert len(tempo_marks(sheet([GROOVE] * 16, tempo=[110.0] * 8 + [140.0] * 8).grid)) == 2
