"""Written values, rests, tuplets and beams."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st
from spelled import said

from fourlimb.engrave.spell import Slot, spell
from fourlimb.model import InputError
from fourlimb.model.places import bar_length, beat_lengths, beat_starts

METERS = (
    "4/4",
    "3/4",
    "2/4",
    "2/2",
    "6/8",
    "9/8",
    "12/8",
    "5/4",
    "7/8",
    "5/8",
    "3/8",
    "11/8",
    "5/16",
    "3+2+2/8",
    "3+3+2/8",
    "2+3/4",
)


def places(text: str) -> list[F]:
    return [F(word) for word in text.split()]


@st.composite
def bars(draw: st.DrawFn) -> tuple[str, list[F]]:
    meter = draw(st.sampled_from(METERS))
    found = []
    for start, length in zip(beat_starts(meter), beat_lengths(meter), strict=True):
        parts = draw(st.sampled_from((1, 2, 4, 8) if length.numerator == 1 else (1, 3, 6, 12)))
        if length == F(1, 4):
            parts = draw(st.sampled_from((1, 2, 3, 4, 5, 6, 7, 8, 9, 12)))
        found += [start + length * F(p, parts) for p in range(parts) if draw(st.booleans())]
    return meter, found


@given(bars())
def test_slots_fill_the_bar_without_gap_or_overlap_and_strike_every_place_once(bar: tuple[str, list[F]]) -> None:
    meter, onsets = bar
    slots = spell(meter, onsets)
    at = F(0)
    for slot in slots:
        assert slot.start == at
        at += slot.length
    assert at == bar_length(meter)
    assert [s.start for s in slots if s.sounds] == sorted(set(onsets))


@given(bars())
def test_written_values_last_as_long_as_they_say(bar: tuple[str, list[F]]) -> None:
    for slot in spell(*bar):
        written = F(1, slot.value) * (F(3, 2) if slot.dots else 1)
        if slot.tuplet:
            written *= F(slot.tuplet.normal, slot.tuplet.actual)
        assert written == slot.length


@given(bars())
def test_no_beam_starts_or_ends_on_a_rest_or_crosses_the_middle_of_four_four(bar: tuple[str, list[F]]) -> None:
    meter, onsets = bar
    groups: dict[int, list[Slot]] = {}
    for slot in spell(meter, onsets):
        if slot.beam is not None:
            groups.setdefault(slot.beam, []).append(slot)
    for members in groups.values():
        assert members[0].sounds
        assert members[-1].sounds
        assert len(members) > 1
        if meter == "4/4":
            assert not members[0].start < F(1, 2) <= members[-1].start


@pytest.mark.parametrize(
    ("meter", "onsets", "written"),
    [
        ("4/4", "0 1/20 1/10 3/20 1/5", "[16t5 16t5 16t5 16t5 16t5] 4r 2r"),
        ("4/4", "0 1/28 1/14 3/28 1/7 5/28 3/14", "[16t7 16t7 16t7 16t7 16t7 16t7 16t7] 4r 2r"),
        ("4/4", "0 1/24 1/12 1/8 1/6 5/24", "[16t6 16t6 16t6 16t6 16t6 16t6] 4r 2r"),
        ("4/4", "0 1/6 1/3", "4t3 4t3 4t3 2r"),
        ("4/4", "1/12 1/6", "8rt3 [8t3 8t3] 4r 2r"),
        ("6/8", "0 3/40 3/20 9/40 3/10", "[8t5 8t5 8t5 8t5 8t5] 4.r"),
    ],
)
def test_tuplets_are_written_in_the_largest_halving_below_them(meter: str, onsets: str, written: str) -> None:
    assert said(spell(meter, places(onsets))) == written


@pytest.mark.parametrize(
    ("meter", "onsets"), [("4/4", "1/1000"), ("4/4", "1"), ("4/4", "-1/4"), ("4/4", "1/12 1/1001")]
)
def test_a_place_that_cannot_be_written_is_refused_in_one_line(meter: str, onsets: str) -> None:
    with pytest.raises(InputError) as caught:
        spell(meter, places(onsets))
    assert "\n" not in str(caught.value)
