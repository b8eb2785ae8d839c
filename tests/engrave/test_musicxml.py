"""MusicXML out and back, and parts from elsewhere."""

import io
import zipfile
from fractions import Fraction as F

import pytest
from builder import night_ferry, sheet
from hypothesis import given, settings
from hypothesis import strategies as st
from randomly import random_sheet

from fourlimb.engrave import musicxml, mxl, read_musicxml
from fourlimb.engrave.musicxml import swing_ratio
from fourlimb.model import FeelSpan, InputError


@given(st.integers(0, 100_000))
@settings(max_examples=25, deadline=None)
def test_any_chart_is_read_back_exactly(number: int) -> None:
    made = random_sheet(number)
    back = read_musicxml(musicxml(made), name="part")
    assert back.strokes == made.chart.strokes
    for bar in made.grid.bars:  # a pickup has a length, not a time signature of its own
        same = back.grid.length(0) == made.grid.length(0) if bar.bar == 0 else back.grid.meter(bar.bar) == bar.meter
        assert same
    for ours, theirs in zip(made.grid.bars, back.grid.bars, strict=True):
        assert ours.start_s == pytest.approx(theirs.start_s, abs=2e-3)


def test_facts_come_back() -> None:
    made = night_ferry()
    back = read_musicxml(mxl(made), name="part")
    assert back.title == "Night Ferry"
    assert back.credits == made.song.credits
    assert [(s.name, s.from_bar, s.to_bar, s.tacet) for s in back.sections] == [
        (s.name, s.from_bar, s.to_bar, s.tacet) for s in made.sections
    ]
    assert [(f.from_bar, f.feel) for f in back.grid.feel] == [(0, "straight"), (29, "half-time"), (33, "straight")]
    assert not back.notes


def test_swing_comes_back() -> None:
    made = sheet(["hat 1 1& 2 2&; kick 1"] * 2, feel=[FeelSpan(from_bar=1, to_bar=2, feel="straight", swing=0.667)])
    assert read_musicxml(musicxml(made), name="part").grid.feel[0].swing == pytest.approx(0.667, abs=1e-3)


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert musicxml(night_ferry()) == musicxml(night_ferry())
    assert mxl(night_ferry()) == mxl(night_ferry())


@pytest.mark.parametrize(
    ("share", "ratio"), [(0.667, (2, 1)), (0.6, (3, 2)), (0.75, (3, 1)), (0.5, (1, 1)), (0.58, (7, 5))]
)
def test_swing_is_a_ratio_of_smallest_whole_numbers(share: float, ratio: tuple[int, int]) -> None:
    assert swing_ratio(share) == ratio


def test_repeat_signs_are_styles_and_the_music_stands_under_them() -> None:
    text = musicxml(sheet(["kick 1 3; snare 2 4; hat every 8th"] * 4, sections=[("A", 1, 4)])).decode()
    assert text.count("<measure-repeat") == 1
    assert text.count("<unpitched>") == 4 * 12


# --- parts made elsewhere -------------------------------------------------------------------------------------------

HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 3.1 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="3.1"><movement-title>Elsewhere</movement-title><part-list>"""


def foreign(measures: str, instruments: str = "", *, channel: str = "10") -> bytes:
    part = f'<score-part id="P9"><part-name>Drums</part-name>{instruments}</score-part>'
    return f"{HEAD}{part}</part-list><part id='P9'>{measures}</part></score-partwise>".encode()


def one(piece_id: str, key: int, name: str) -> tuple[str, str]:
    return (
        f'<score-instrument id="{piece_id}"><instrument-name>{name}</instrument-name></score-instrument>',
        f'<midi-instrument id="{piece_id}"><midi-channel>10</midi-channel>'
        f"<midi-unpitched>{key}</midi-unpitched></midi-instrument>",
    )


def note(
    step: str, octave: int, duration: int, kind: str, *, more: str = "", instrument: str = "", chord: bool = False
) -> str:
    at = f"<display-step>{step}</display-step><display-octave>{octave}</display-octave>"
    by = f'<instrument id="{instrument}"/>' if instrument else ""
    return (
        f"<note>{'<chord/>' if chord else ''}<unpitched>{at}</unpitched><duration>{duration}</duration>{by}"
        f"<voice>1</voice><type>{kind}</type>{more}</note>"
    )


START = (
    "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time>"
    "<clef><sign>percussion</sign></clef></attributes>"
)


def test_the_midi_key_of_the_instrument_counts_from_one_and_decides() -> None:
    score, sound = one("P9-I39", 39, "Acoustic Snare")
    bar = f"<measure number='1'>{START}{note('C', 5, 2, 'quarter', instrument='P9-I39')}</measure>"
    assert [s.piece for s in read_musicxml(foreign(bar, score + sound), name="x").strokes] == ["snare"]


def test_without_instruments_place_and_head_decide() -> None:
    x = "<notehead>x</notehead>"
    bar = (
        f"<measure number='1'>{START}{note('G', 5, 2, 'quarter', more=x)}{note('F', 4, 2, 'quarter', chord=True)}"
        f"{note('C', 5, 2, 'quarter')}{note('F', 5, 2, 'quarter', more=x)}</measure>"
    )
    found = read_musicxml(foreign(bar), name="x").strokes
    assert [(s.position, s.piece) for s in found] == [
        (F(0), "kick"), (F(0), "hat_closed"), (F(1, 4), "snare"), (F(1, 2), "ride")
    ]  # fmt: skip


def test_an_instrument_name_decides_when_there_is_no_midi() -> None:
    score = '<score-instrument id="i"><instrument-name>Floor Tom</instrument-name></score-instrument>'
    bar = f"<measure number='1'>{START}{note('A', 4, 2, 'quarter', instrument='i')}</measure>"
    assert read_musicxml(foreign(bar, score), name="x").strokes[0].piece == "tom_floor"


def test_an_open_sign_opens_a_hat() -> None:
    score, sound = one("h", 43, "Hi-hat")
    more = "<notations><technical><open/></technical></notations>"
    bar = f"<measure number='1'>{START}{note('G', 5, 2, 'quarter', instrument='h', more=more)}</measure>"
    assert read_musicxml(foreign(bar, score + sound), name="x").strokes[0].piece == "hat_open"


def test_rounded_triplets_fall_on_exact_thirds() -> None:
    attributes = START.replace("<divisions>2<", "<divisions>256<")
    modification = (
        "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
    )
    notes = "".join(note("C", 5, ticks, "eighth", more=modification) for ticks in (85, 85, 86))
    found = read_musicxml(foreign(f"<measure number='1'>{attributes}{notes}</measure>"), name="x").strokes
    assert [s.position for s in found] == [F(0), F(1, 12), F(1, 6)]


def test_repeats_and_endings_are_played_out() -> None:
    def bar(number: int, step: str, inside: str = "") -> str:
        return f"<measure number='{number}'>{START if number == 1 else ''}{inside}{note(step, 5, 8, 'whole')}"

    first = bar(1, "C") + "<barline location='left'><repeat direction='forward'/></barline></measure>"
    one_ = bar(2, "E", "<barline location='left'><ending number='1' type='start'/></barline>")
    one_ += (
        "<barline location='right'><ending number='1' type='stop'/><repeat direction='backward'/></barline></measure>"
    )
    two = bar(3, "D", "<barline location='left'><ending number='2' type='start'/></barline>")
    two += "<barline location='right'><ending number='2' type='discontinue'/></barline></measure>"
    last = bar(4, "C") + "</measure>"
    found = read_musicxml(foreign(first + one_ + two + last), name="x")
    assert [s.piece for s in found.strokes] == ["snare", "tom_high", "snare", "tom_mid", "snare"]
    assert [s.bar for s in found.strokes] == [1, 2, 3, 4, 5]


def test_a_pickup_is_bar_nought() -> None:
    first = f"<measure number='0' implicit='yes'>{START}{note('C', 5, 2, 'quarter')}</measure>"
    full = f"<measure number='1'>{note('C', 5, 8, 'whole')}</measure>"
    found = read_musicxml(foreign(first + full), name="x")
    assert [bar.bar for bar in found.grid.bars] == [0, 1]
    assert found.grid.meter(0) == "1/4"
    assert [s.bar for s in found.strokes] == [0, 1]


def test_a_repeat_sign_over_an_empty_bar_brings_the_music_it_stands_for() -> None:
    first = f"<measure number='1'>{START}{note('C', 5, 8, 'whole')}</measure>"
    style = "<attributes><measure-style><measure-repeat type='start'>1</measure-repeat></measure-style></attributes>"
    found = read_musicxml(foreign(first + f"<measure number='2'>{style}</measure>"), name="x")
    assert [s.bar for s in found.strokes] == [1, 2]


def test_an_unknown_instrument_is_told_not_guessed() -> None:
    score, sound = one("w", 79, "Whistle")
    known, known_sound = one("s", 39, "Snare")
    bar = (
        f"<measure number='1'>{START}{note('C', 4, 2, 'quarter', instrument='w')}"
        f"{note('C', 5, 2, 'quarter', instrument='s')}</measure>"
    )
    found = read_musicxml(foreign(bar, score + known + sound + known_sound), name="x")
    assert len(found.strokes) == 1
    assert "Whistle" in found.notes[0]


def test_flams_ties_and_grace_notes() -> None:
    grace = (
        note("C", 5, 0, "eighth")
        .replace("<note>", "<note><grace slash='yes'/>")
        .replace("<duration>0</duration>", "")
    )
    tied = note("C", 5, 2, "quarter", more="").replace("<voice>", "<tie type='stop'/><voice>")
    bar = f"<measure number='1'>{START}{grace}{note('C', 5, 2, 'quarter')}{tied}</measure>"
    found = read_musicxml(foreign(bar), name="x").strokes
    assert [(s.position, s.grace) for s in found] == [(F(0), "flam")]


# --- bad input ------------------------------------------------------------------------------------------------------

BOMB = b"""<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><score-partwise><work><work-title>&c;</work-title></work></score-partwise>"""


def zipped(name: str, data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"   \n",
        b"not xml at all",
        b"<score-partwise><part></score-partwise>",
        b"<html><body/></html>",
        b"<score-partwise version='4.0'><part-list/></score-partwise>",
        BOMB,
        BOMB.decode().encode("utf-16"),
        b"PK\x03\x04 broken archive",
        zipped("readme.txt", b"nothing here"),
        zipped("score.xml", b"<score-partwise>" + b" " * (65 * 1024 * 1024)),
        mxl(sheet(["snare 1"]))[:-40],
        b"<a>" * 5000,
        foreign(f"<measure number='1'>{START.replace('>2<', '>two<')}{note('C', 5, 2, 'quarter')}</measure>"),
        foreign(
            f"<measure number='1'>{START.replace('<beats>4', '<beats>99')}{note('C', 5, 2, 'quarter')}</measure>"
        ),
        foreign(f"<measure number='1'>{START}</measure>"),
        b"\xff\xfe\x00\x00\x00",
    ],
    ids=range(17),
)
def test_bad_input_is_one_clear_line(data: bytes) -> None:
    with pytest.raises(InputError) as caught:
        read_musicxml(data, name="song.musicxml")
    assert "\n" not in str(caught.value)


def test_a_score_without_drums_says_so() -> None:
    plain = HEAD + (
        "<score-part id='P1'><part-name>Flute</part-name></score-part></part-list><part id='P1'><measure number='1'>"
        "<note><pitch><step>C</step><octave>5</octave></pitch><duration>1</duration></note></measure></part>"
        "</score-partwise>"
    )
    with pytest.raises(InputError, match="no percussion part"):
        read_musicxml(plain.encode(), name="flute.xml")


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    with pytest.raises(InputError, match=r"^[^\n]*$"):
        read_musicxml(b"<?xml version='1.0'?><score-partwise>" + data, name="x")
