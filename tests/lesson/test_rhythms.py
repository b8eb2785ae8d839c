"""Rolls and words that the teacher writes: read, replayed, undone, and seen in the files of the lesson."""

from fractions import Fraction as F

import pytest
from bench.written import song

from fourlimb.lesson import build
from fourlimb.lesson import corrections as c
from fourlimb.lesson import orders as o
from fourlimb.lesson import rhythm_orders as r
from fourlimb.model import Correction, CorrectionError, Lesson, Level, Stroke
from fourlimb.model.codec import decode, encode
from fourlimb.model.grid import regular

GRID = regular(["4/4"] * 16 + ["3/4", "6/8"], 100.0)
HEARD = song(["kick 1 2& 3; snare 2 4; hat every 8th"] * 8, bpm=120)


def corrected(*texts: str, undone: tuple[int, ...] = ()) -> Lesson:
    given = [
        Correction(n=n, what=text, state="undone" if n in undone else "applied") for n, text in enumerate(texts, 1)
    ]
    return build(HEARD, corrections=tuple(given))


def bar(lesson: Lesson, number: int, level: Level = "full") -> tuple[Stroke, ...]:
    return lesson.charts[level].by_bar.get(number, ())


def rolls(lesson: Lesson, number: int, level: Level = "full") -> list[tuple[F, str, F, int]]:
    return [(s.position, s.piece, s.lasts, s.roll) for s in bar(lesson, number, level) if s.rolls]


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("bar 12: snare roll 1-2", r.Rolled((12,), "snare", F(0), F(1, 2))),
        ("bar 12: roll 1", r.Rolled((12,), "snare", F(0), F(1, 4))),
        ("bar 12: floor tom roll 2&", r.Rolled((12,), "tom_floor", F(3, 8), F(1, 2))),
        ("bar 12: snare roll 3 until 4&", r.Rolled((12,), "snare", F(1, 2), F(7, 8))),
        ("bar 12: snare roll in 16ths 1-4", r.Rolled((12,), "snare", F(0), F(1), 16)),
        ("bars 12-13: buzz roll 1-4", r.Rolled((12, 13), "snare", F(0), F(1), 0)),
        ("bar 13: tied snare roll 1", r.Rolled((13,), "snare", F(0), F(1, 4), 32, True)),
        ("bar 18: snare roll 1-2", r.Rolled((18,), "snare", F(0), F(3, 4))),
        ("bones bar 12: snare roll 1-2", r.Rolled((12,), "snare", F(0), F(1, 2), level="bones")),
        ("bar 12: no roll", r.NotRolled((12,))),
        ("bar 12: snare no rolls", r.NotRolled((12,), "snare")),
        ('bars 9-12: words "fer-ry at night"', r.Words((9, 10, 11, 12), ("fer-", "ry", "at", "night"))),
        ("bar 9: snare words “夜 船”", r.Words((9,), ("夜", "船"), "snare")),
        ("bars 9-12: no words", r.Words((9, 10, 11, 12), ())),
        ("bars 9-12: section roll in", o.SectionIs((9, 10, 11, 12), "roll in")),
    ],
)
def test_rolls_and_words_are_understood(text: str, order: o.Order) -> None:
    assert c.read(text, GRID) == order


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("bar 12: snare roll", "write a roll by itself"),
        ("bar 12: snare roll 1-2; kick 1", "write a roll by itself"),
        ("bar 12: snare roll 1-2&", "until 2&"),
        ("bar 12: snare roll 3-2", "before it begins"),
        ("bar 12: snare roll 3 until 3", "before it begins"),
        ("bar 12: snare roll 1-9", "beats 1 to 4"),
        ("bar 12: snair roll 1", "did you mean"),
        ("bars 16-17: snare roll 1", "different meters"),
        ("bar 12: words night", "quotation marks"),
    ],
)
def test_what_is_not_understood_is_said_in_one_line(text: str, part: str) -> None:
    with pytest.raises(CorrectionError, match=part) as found:
        c.read(text, GRID)
    assert "\n" not in str(found.value)


def test_a_roll_stands_in_every_level_and_takes_both_hands() -> None:
    lesson = corrected("bar 3: snare roll 1-2")
    for level in lesson.charts:
        assert rolls(lesson, 3, level) == [(F(0), "snare", F(1, 2), 32)]
        assert not [s for s in bar(lesson, 3, level) if s.position < F(1, 2) and s.piece == "hat_closed"]
    assert [s.position for s in bar(lesson, 3) if s.piece == "kick"] == [F(0), F(3, 8), F(1, 2)]
    assert any(r.rule == "a roll takes both hands" and r.bar == 3 for r in lesson.reasons)
    assert bar(lesson, 4) == bar(corrected(), 4)


def test_a_roll_over_the_bar_line_is_tied() -> None:
    lesson = corrected("bar 3: snare roll 3-4", "bar 4: tied snare roll 1")
    assert [s.tied for number in (3, 4) for s in bar(lesson, number) if s.rolls] == [False, True]


def test_an_undone_roll_leaves_no_trace_and_no_roll_takes_it_back() -> None:
    assert corrected("bar 3: snare roll 1-2", undone=(1,)).charts == corrected().charts
    lesson = corrected("bar 3: snare roll 1-2", "bar 3: buzz roll 4", "bar 3: no roll")
    assert rolls(lesson, 3) == []
    assert all(s.struck is None for s in bar(lesson, 3))


def test_one_level_may_roll_alone() -> None:
    lesson = corrected("bones bar 3: snare roll 4")
    assert rolls(lesson, 3, "bones") == [(F(3, 4), "snare", F(1, 4), 32)]
    assert rolls(lesson, 3) == []


def test_words_go_to_the_places_struck_in_order_at_every_level() -> None:
    lesson = corrected('bars 3-4: snare words "fer-ry at night"')
    said = [(s.bar, s.position, s.word) for s in lesson.charts["full"].strokes if s.word]
    assert said == [(3, F(1, 4), "fer-"), (3, F(3, 4), "ry"), (4, F(1, 4), "at"), (4, F(3, 4), "night")]
    for chart in lesson.charts.values():
        assert {(s.bar, s.position, s.word) for s in chart.strokes if s.word} <= set(said)
    assert not [s for s in corrected('bar 3: words "all"', "bar 3: no words").charts["full"].strokes if s.word]


def test_each_place_has_one_syllable_though_several_pieces_are_struck() -> None:
    lesson = corrected('bar 3: words "one and two and"')
    assert [(s.position, s.word) for s in bar(lesson, 3) if s.word] == [
        (F(0), "one"), (F(1, 8), "and"), (F(1, 4), "two"), (F(3, 8), "and"),
    ]  # fmt: skip


def test_words_that_do_not_fit_are_kept_and_said() -> None:
    (one,) = corrected('bar 3: snare words "far too many words"').corrections
    assert (one.state, "only 2 places" in one.why) == ("unfit", True)


def test_a_lesson_with_rolls_and_words_is_the_same_after_writing_and_reading() -> None:
    lesson = corrected("bar 3: buzz roll 1-4", 'bar 4: words "night"')
    assert decode(encode(lesson), Lesson) == lesson
