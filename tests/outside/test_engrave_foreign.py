"""Drum parts that another program wrote: built and exported by music21, read by our reader."""

import warnings
from fractions import Fraction as F
from typing import Any

import pytest

from fourlimb.engrave import read_musicxml
from fourlimb.engrave.reading import Score


def exported(part: Any) -> Score:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import stream
        from music21.musicxml.m21ToXml import GeneralObjectExporter

        score = stream.Score()
        score.insert(0, part)
        data = GeneralObjectExporter(score).parse()
    return read_musicxml(data, name="made by music21")


def struck(place: str, length: float, *, head: str = "normal", chord: tuple[tuple[str, str], ...] = ()) -> Any:
    from music21 import note, percussion

    notes = []
    for where, shape in ((place, head), *chord):
        one = note.Unpitched(displayName=where)
        one.notehead = shape
        one.duration.quarterLength = length
        notes.append(one)
    if len(notes) == 1:
        return notes[0]
    made = percussion.PercussionChord(notes)
    made.duration.quarterLength = length
    return made


def part_of(*measures: list[Any], meter: str = "4/4", before: tuple[Any, ...] = ()) -> Any:
    from music21 import clef, stream
    from music21 import meter as meters

    part = stream.Part()
    part.partName = "Drum set"
    for number, content in enumerate(measures, start=1):
        measure = stream.Measure(number=number)
        if number == 1:
            for element in (clef.PercussionClef(), meters.TimeSignature(meter), *before):
                measure.append(element)
        for element in content:
            measure.append(element)
        part.append(measure)
    return part


SNARE, KICK, HAT = "C5", "F4", ("G5", "x")


def groove() -> list[Any]:
    out = []
    for eighth in range(8):
        more = {0: ((KICK, "normal"),), 4: ((KICK, "normal"),), 2: ((SNARE, "normal"),), 6: ((SNARE, "normal"),)}
        out.append(struck("G5", 0.5, head="x", chord=more.get(eighth, ())))
    return out


def places(found: Score, bar: int) -> dict[str, list[F]]:
    out: dict[str, list[F]] = {}
    for stroke in found.strokes:
        if stroke.bar == bar:
            out.setdefault(stroke.piece, []).append(stroke.position)
    return out


def test_a_groove_of_chords() -> None:
    from music21 import tempo

    found = exported(part_of(groove(), groove(), before=(tempo.MetronomeMark(number=132),)))
    assert not found.notes
    assert found.grid.bars[0].tempo_bpm == pytest.approx(132, abs=0.01)
    for bar in (1, 2):
        assert places(found, bar) == {
            "hat_closed": [F(n, 8) for n in range(8)], "kick": [F(0), F(1, 2)], "snare": [F(1, 4), F(3, 4)]
        }  # fmt: skip


@pytest.mark.parametrize(("parts", "in_time_of"), [(3, 2), (5, 4), (6, 4), (7, 4)])
def test_tuplets_fall_on_exact_places(parts: int, in_time_of: int) -> None:
    from music21 import duration, note

    made = []
    for _ in range(parts):
        one = struck(SNARE, 1.0)
        one.duration = duration.Duration("eighth" if in_time_of == 2 else "16th")
        one.duration.appendTuplet(duration.Tuplet(parts, in_time_of))
        made.append(one)
    found = exported(part_of([*made, note.Rest(quarterLength=3)]))
    assert places(found, 1) == {"snare": [F(n, 4 * parts) for n in range(parts)]}


def test_two_voices_accents_ghosts_graces_and_rolls() -> None:
    from music21 import articulations, clef, expressions, meter, note, stream

    measure = stream.Measure(number=1)
    measure.append([clef.PercussionClef(), meter.TimeSignature("4/4")])
    hands, feet = stream.Voice(id="1"), stream.Voice(id="2")
    loud, soft, rolled, flammed = (struck(SNARE, 1.0) for _ in range(4))
    loud.articulations.append(articulations.Accent())
    soft.noteheadParenthesis = True
    tremolo = expressions.Tremolo()
    tremolo.numberOfMarks = 2
    rolled.expressions.append(tremolo)
    small = struck(SNARE, 0.5).getGrace()
    for one in (loud, soft, rolled, small, flammed):
        hands.append(one)
    for one in (struck(KICK, 2.0), note.Rest(quarterLength=1), struck(KICK, 1.0)):
        feet.append(one)
    measure.insert(0, hands)
    measure.insert(0, feet)
    part = stream.Part()
    part.append(measure)
    found = exported(part)
    assert places(found, 1) == {"snare": [F(0), F(1, 4), F(1, 2), F(3, 4)], "kick": [F(0), F(3, 4)]}
    hand = [s for s in found.strokes if s.piece == "snare"]
    assert [(s.accent, s.ghost, s.roll, s.grace) for s in hand] == [
        (True, False, 0, None), (False, True, 0, None), (False, False, 16, None), (False, False, 0, "flam")
    ]  # fmt: skip


def test_repeats_endings_and_jumps_of_another_program_are_played_out() -> None:
    from music21 import bar, repeat, spanner

    bars = [[struck(place, 4.0)] for place in (SNARE, "E5", "D5", "A4", KICK)]
    part = part_of(*bars)
    measures = list(part.getElementsByClass("Measure"))
    measures[0].leftBarline = bar.Repeat(direction="start")
    measures[1].rightBarline = bar.Repeat(direction="end")
    part.insert(0, spanner.RepeatBracket([measures[1]], number=1))
    part.insert(0, spanner.RepeatBracket([measures[2]], number=2))
    measures[2].append(repeat.Fine())
    measures[4].append(repeat.DaCapoAlFine())
    found = exported(part)
    order = [s.piece for s in found.strokes]
    assert order[:6] == ["snare", "tom_high", "snare", "tom_mid", "tom_floor", "kick"]
    assert order[6:] == ["snare", "tom_mid"]  # after the jump repeats are not taken: the second ending


def test_compound_and_changing_meters() -> None:
    from music21 import meter

    first = [struck(SNARE, 1.5), struck(KICK, 1.5)]
    second = [meter.TimeSignature("3/4"), struck(SNARE, 3.0)]
    found = exported(part_of(first, second, meter="6/8"))
    assert [bar.meter for bar in found.grid.bars] == ["6/8", "3/4"]
    assert places(found, 1) == {"snare": [F(0)], "kick": [F(3, 8)]}
