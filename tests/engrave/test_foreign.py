"""MusicXML drum parts as others write them: what varies between programs, one file written by hand for each."""

from fractions import Fraction as F

import msgspec
import pytest
from builder import GROOVE, sheet
from test_musicxml import START, foreign, note, one

from fourlimb.engrave import musicxml, read_musicxml
from fourlimb.engrave.reading import Score
from fourlimb.model import Kit, StaffPlace


def read(measures: str, instruments: str = "") -> Score:
    return read_musicxml(foreign(measures, instruments), name="part")


def bar(number: int | str, inside: str, *, attributes: str = "", more: str = "") -> str:
    return f"<measure number='{number}'{more}>{attributes}{inside}</measure>"


def whole(step: str, octave: int = 5) -> str:
    return note(step, octave, 8, "whole")


def words(text: str) -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def sign(kind: str) -> str:
    return f"<direction><direction-type><{kind}/></direction-type></direction>"


def sound(attributes: str) -> str:
    return f"<direction><direction-type><words>x</words></direction-type><sound {attributes}/></direction>"


BARS = {"a": "C", "b": "E", "c": "D", "d": "A4"}
SNARE, HIGH, MID, FLOOR = "snare", "tom_high", "tom_mid", "tom_floor"


def four(before: tuple[str, ...], after: tuple[str, ...]) -> Score:
    """Four bars (snare, high, mid, floor tom) with directions before and after each."""
    steps = (("C", 5), ("E", 5), ("D", 5), ("A", 4))
    made = "".join(
        bar(n, b + whole(*step) + a, attributes=START if n == 1 else "")
        for n, (step, b, a) in enumerate(zip(steps, before, after, strict=True), start=1)
    )
    return read(made)


@pytest.mark.parametrize(
    ("before", "after", "order"),
    [
        # told by sound, as the standard says
        (("", sound('segno="s"'), "", ""), ("", "", sound('dalsegno="s"'), ""), [1, 2, 3, 2, 3, 4]),
        (("", "", "", ""), ("", sound('fine="yes"'), "", sound('dacapo="yes"')), [1, 2, 3, 4, 1, 2]),
        (
            ("", sound('segno="s"'), "", sound('coda="c"')),
            ("", sound('tocoda="c"'), sound('dalsegno="s"'), ""),
            [1, 2, 3, 2, 4],
        ),
        # only printed: signs and words
        (("", sign("segno"), "", ""), ("", "", words("D.S."), ""), [1, 2, 3, 2, 3, 4]),
        (("", sign("segno"), "", sign("coda")), ("", words("To Coda"), words("D.S. al Coda"), ""), [1, 2, 3, 2, 4]),
        (("", "", "", ""), ("", words("Fine"), "", words("D.C. al Fine")), [1, 2, 3, 4, 1, 2]),
        (("", "", "", ""), ("", "", "", words("da capo")), [1, 2, 3, 4, 1, 2, 3, 4]),
        (("", "", "", ""), ("", "", "", words("dynamic, to the end")), [1, 2, 3, 4]),
    ],
)
def test_jumps_are_followed(before: tuple[str, ...], after: tuple[str, ...], order: list[int]) -> None:
    names = [SNARE, HIGH, MID, FLOOR]
    found = four(before, after)
    assert [s.piece for s in found.strokes] == [names[n - 1] for n in order]
    assert not found.notes


def test_two_passages_with_endings_side_by_side_keep_their_own_count() -> None:
    left, right = "<barline location='left'>{}</barline>", "<barline location='right'>{}</barline>"
    start, back = "<repeat direction='forward'/>", "<repeat direction='backward'/>"

    def ending(numbers: str, kind: str) -> str:
        return f"<ending number='{numbers}' type='{kind}'/>"

    bars = [
        left.format(start) + whole("C"),
        left.format(ending("1", "start")) + whole("E") + right.format(ending("1", "stop") + back),
        left.format(ending("2", "start")) + whole("D") + right.format(ending("2", "discontinue")),
        left.format(start) + whole("C"),
        left.format(ending("1,2", "start")) + whole("A", 4) + right.format(ending("1,2", "stop") + back),
        left.format(ending("3", "start")) + whole("D") + right.format(ending("3", "discontinue")),
    ]
    found = read("".join(bar(n, one_, attributes=START if n == 1 else "") for n, one_ in enumerate(bars, start=1)))
    assert [s.piece for s in found.strokes] == [
        SNARE, HIGH, SNARE, MID, SNARE, FLOOR, SNARE, FLOOR, SNARE, MID
    ]  # fmt: skip


def test_a_jump_without_its_sign_is_told_and_not_followed() -> None:
    found = four(("", "", "", ""), ("", "", sound('dalsegno="s"'), ""))
    assert len(found.grid.bars) == 4
    assert len(found.notes) == 1
    assert "segno" in found.notes[0]


def test_signs_that_never_end_are_refused() -> None:
    left = "<barline location='left'><repeat direction='forward'/></barline>"
    right = "<barline location='right'><repeat direction='backward' times='99'/></barline>"
    many = "".join(bar(n, left + whole("C") + right, attributes=START if n == 1 else "") for n in range(1, 80))
    with pytest.raises(Exception, match="repeats make more than"):
        read(many)


def test_a_timewise_file_is_read() -> None:
    inside = f"{START}{whole('C')}"
    text = (
        "<?xml version='1.0'?><score-timewise version='4.0'><part-list><score-part id='P1'><part-name>Drums</part-name>"
        f"</score-part></part-list><measure number='1'><part id='P1'>{inside}</part></measure>"
        f"<measure number='2'><part id='P1'>{whole('F', 4)}</part></measure></score-timewise>"
    )
    assert [(s.bar, s.piece) for s in read_musicxml(text.encode(), name="x").strokes] == [(1, "snare"), (2, "kick")]


def test_two_drum_parts_become_one_and_what_both_have_is_struck_once() -> None:
    head = foreign("").decode().partition("<score-part ")[0]
    parts = "".join(f'<score-part id="P{n}"><part-name>Drums {n}</part-name></score-part>' for n in (1, 2))
    upper = bar(1, START + note("C", 5, 4, "half") + note("F", 4, 4, "half"))
    lower = bar(1, START + note("F", 4, 4, "half") + note("F", 4, 4, "half"))
    text = f'{head}{parts}</part-list><part id="P1">{upper}</part><part id="P2">{lower}</part></score-partwise>'
    found = read_musicxml(text.encode(), name="x").strokes
    assert [(s.position, s.piece) for s in found] == [(F(0), "kick"), (F(0), "snare"), (F(1, 2), "kick")]


def test_a_piano_beside_the_drums_is_left_alone() -> None:
    head = foreign("").decode().partition("<score-part ")[0]
    parts = '<score-part id="P1"><part-name>Piano</part-name></score-part><score-part id="P2"><part-name>D</part-name></score-part>'
    keys = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>8</duration><type>whole</type></note>"
    piano = bar(1, START.replace("percussion", "G") + keys)
    text = f'{head}{parts}</part-list><part id="P1">{piano}</part><part id="P2">{bar(1, START + whole("C"))}</part></score-partwise>'
    assert [s.piece for s in read_musicxml(text.encode(), name="x").strokes] == ["snare"]


def test_a_pitched_note_in_a_drum_part_is_a_general_midi_key() -> None:
    def key(step: str, octave: int, alter: int = 0) -> str:
        pitch = f"<step>{step}</step><alter>{alter}</alter><octave>{octave}</octave>"
        return f"<note><pitch>{pitch}</pitch><duration>2</duration><type>quarter</type></note>"

    found = read(bar(1, START + key("C", 2) + key("D", 2) + key("F", 2, 1) + key("A", 2, 1))).strokes
    assert [s.piece for s in found] == ["kick", "snare", "hat_closed", "hat_open"]  # 36, 38, 42, 46


def test_voices_by_backup_and_forward() -> None:
    inside = (
        f"{START}{note('G', 5, 4, 'half', more='<notehead>x</notehead>') * 2}<backup><duration>8</duration></backup>"
        f"<forward><duration>2</duration></forward>{note('C', 5, 2, 'quarter')}<forward><duration>2</duration></forward>"
        f"{note('C', 5, 2, 'quarter')}"
    )
    found = [(s.position, s.piece) for s in read(bar(1, inside)).strokes]
    assert found == [(F(0), "hat_closed"), (F(1, 4), "snare"), (F(1, 2), "hat_closed"), (F(3, 4), "snare")]


def test_percussion_keys_that_count_from_nought_are_seen_by_their_names_and_told() -> None:
    pieces = [("k", 36, "Bass Drum 1"), ("s", 38, "Acoustic Snare"), ("h", 42, "Closed Hi-Hat")]
    declared = [one(*piece) for piece in pieces]
    inside = START + "".join(note("C", 5, 2, "quarter", instrument=name) for name, *_ in pieces)
    found = read(bar(1, inside), "".join(a for a, _ in declared) + "".join(b for _, b in declared))
    assert [s.piece for s in found.strokes] == ["kick", "snare", "hat_closed"]
    assert len(found.notes) == 1
    assert "from 0" in found.notes[0]


def test_the_standards_count_is_believed_when_names_agree_with_it() -> None:
    pieces = [("k", 37, "Bass Drum 1"), ("s", 39, "Acoustic Snare"), ("h", 43, "Closed Hi-Hat")]
    declared = [one(*piece) for piece in pieces]
    inside = START + "".join(note("C", 5, 2, "quarter", instrument=name) for name, *_ in pieces)
    found = read(bar(1, inside), "".join(a for a, _ in declared) + "".join(b for _, b in declared))
    assert [s.piece for s in found.strokes] == ["kick", "snare", "hat_closed"]
    assert not found.notes


@pytest.mark.parametrize(
    ("name", "piece"),
    [
        ("Bass Drum 1", "kick"), ("Kick", "kick"), ("Grosse Caisse", "kick"), ("Acoustic Snare", "snare"),
        ("Caisse claire", "snare"), ("Side Stick", "rim"), ("Cross-stick", "rim"), ("Closed Hi-Hat", "hat_closed"),
        ("Open Hi-Hat", "hat_open"), ("Pedal Hi-Hat", "hat_pedal"), ("Hi Tom", "tom_high"), ("Low-Mid Tom", "tom_mid"),
        ("Low Floor Tom", "tom_floor"), ("Crash Cymbal 1", "crash"), ("Ride Cymbal 1", "ride"), ("Ride Bell", "ride_bell"),
        ("Chinese Cymbal", "china"), ("Splash Cymbal", "splash"), ("Cowbell", "cowbell"), ("Tambourine", "tambourine"),
        ("Maracas", "shaker"), ("Hand Clap", "clap"),
    ],
)  # fmt: skip
def test_an_instruments_name_is_enough(name: str, piece: str) -> None:
    declared = f'<score-instrument id="i"><instrument-name>{name}</instrument-name></score-instrument>'
    inside = f"{START}<note><unpitched/><duration>8</duration><instrument id='i'/><type>whole</type></note>"
    found = read(bar(1, inside), declared)
    assert [s.piece for s in found.strokes] == [piece]


def test_a_standard_sound_is_enough() -> None:
    declared = (
        '<score-instrument id="i"><instrument-name>x</instrument-name><instrument-sound>metal.cymbal.splash'
        "</instrument-sound></score-instrument>"
    )
    inside = f"{START}<note><unpitched/><duration>8</duration><instrument id='i'/><type>whole</type></note>"
    assert read(bar(1, inside), declared).strokes[0].piece == "splash"


def test_two_crashes_struck_in_one_part_stay_two_and_a_lone_second_is_a_crash() -> None:
    declared = [one("c1", 50, "Crash Cymbal 1"), one("c2", 58, "Crash Cymbal 2")]
    instruments = "".join(a for a, _ in declared) + "".join(b for _, b in declared)
    both = START + note("A", 5, 4, "half", instrument="c1") + note("B", 5, 4, "half", instrument="c2")
    assert [s.second for s in read(bar(1, both), instruments).strokes] == [False, True]
    alone = START + note("B", 5, 8, "whole", instrument="c2")
    assert [s.second for s in read(bar(1, alone), instruments).strokes] == [False]


@pytest.mark.parametrize(
    ("more", "field", "value"),
    [
        ("<notations><ornaments><tremolo type='single'>2</tremolo></ornaments></notations>", "roll", 16),
        ("<notations><ornaments><tremolo>3</tremolo></ornaments></notations>", "roll", 32),
        ("<notations><ornaments><tremolo type='unmeasured'>0</tremolo></ornaments></notations>", "struck", "buzz"),
        ("<notations><tied type='let-ring'/></notations>", "struck", "let_ring"),
        ("<notations><articulations><accent/></articulations></notations>", "accent", True),
        ("<notations><articulations><strong-accent type='up'/></articulations></notations>", "accent", True),
        ("<notehead parentheses='yes'>normal</notehead>", "ghost", True),
        ("<notehead>slashed</notehead>", "struck", "rimshot"),
        ("<notehead>x</notehead>", "piece", "rim"),
        ("<notations><technical><fingering>L</fingering></technical></notations>", "letter", "L"),
        ("<lyric><text>R</text></lyric>", "letter", "R"),
        ("<lyric name='words'><text>ferry</text></lyric>", "word", "ferry"),
        ("<lyric name='count'><text>1</text></lyric>", "word", ""),
    ],
)
def test_signs_on_a_snare(more: str, field: str, value: object) -> None:
    score, sounds = one("s", 39, "Snare")
    inside = START + note("C", 5, 2, "quarter", instrument="s", more=more)
    stroke = read(bar(1, inside), score + sounds).strokes[0]
    assert getattr(stroke, field) == value


def test_a_graces_count_is_its_small_notes() -> None:
    small = note("C", 5, 0, "16th").replace("<note>", "<note><grace/>").replace("<duration>0</duration>", "")
    found = [read(bar(1, START + small * count + note("C", 5, 8, "whole"))).strokes[0].grace for count in range(6)]
    assert found == [None, "flam", "drag", "ruff", "long_ruff", "long_ruff"]


def test_meters_written_in_groups_are_kept() -> None:
    attributes = START.replace("<beats>4</beats><beat-type>4<", "<beats>3+2+2</beats><beat-type>8<")
    found = read(bar(1, attributes + note("C", 5, 7, "half")))
    assert found.grid.bars[0].meter == "3+2+2/8"
    assert len(found.grid.beats) == 3


def test_an_unmeasured_bar_numbers_that_are_no_numbers_and_cue_notes() -> None:
    cue = note("F", 4, 4, "half").replace("<note>", "<note><cue/>")
    found = read(bar("X1", START + note("C", 5, 4, "half") + cue) + bar("12a", whole("E")))
    assert [(s.bar, s.piece) for s in found.strokes] == [(1, "snare"), (2, "tom_high")]


def test_a_tempo_that_is_only_printed_is_read() -> None:
    mark = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>80</per-minute>"
        "</metronome></direction-type></direction>"
    )
    attributes = START.replace("<beats>4</beats><beat-type>4<", "<beats>6</beats><beat-type>8<")
    assert read(bar(1, attributes + mark + note("C", 5, 6, "half"))).grid.bars[0].tempo_bpm == 80


def test_a_note_equality_is_no_tempo() -> None:
    mark = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit>eighth</beat-unit></metronome>"
        "</direction-type></direction>"
    )
    assert read(bar(1, START + mark + whole("C"))).grid.bars[0].tempo_bpm == 120


def test_our_own_files_are_read_whatever_key_they_were_written_with() -> None:
    """The teacher's key gives the snare the number of a cross-stick and the place of the kick."""
    kit = Kit(key={"snare": StaffPlace(line=1, head="x", midi=37)})
    made = msgspec.structs.replace(sheet([GROOVE, "crash [second] 1; rim 2"]), kit=kit)
    assert read_musicxml(musicxml(made), name="x").strokes == made.chart.strokes
