"""A kit in a teacher's words, there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.model import SOUNDS, InputError, Kit
from fourlimb.model.kit import LIMBS, STANDARD_PIECES, sorted_pieces
from fourlimb.model.kit_words import kit_in_words, kit_said


def test_words_change_what_they_name_and_nothing_else() -> None:
    kit = kit_said(Kit(), "left-handed, double pedal, second crash, no ride, with splash, no left foot")
    assert kit.handed == "left"
    assert kit.double_pedal
    assert kit.extra == {"second_crash": True}
    assert set(STANDARD_PIECES) - set(kit.pieces) == {"ride", "ride_bell"}
    assert "splash" in kit.pieces
    assert kit.limbs == ("right hand", "left hand", "right foot")
    assert not kit.open_handed
    assert kit.key == Kit().key


@pytest.mark.parametrize("text", ["", " , ;", "five-piece kit, all limbs, single pedal, one crash, right-handed"])
def test_an_ordinary_kit_stays_ordinary(text: str) -> None:
    assert kit_said(Kit(), text) == Kit()
    assert kit_in_words(kit_said(Kit(), text)) == ""


@given(
    st.builds(
        Kit,
        handed=st.sampled_from(["right", "left"]),
        open_handed=st.booleans(),
        double_pedal=st.booleans(),
        limbs=st.sets(st.sampled_from(LIMBS)).map(lambda used: tuple(limb for limb in LIMBS if limb in used)),
        pieces=st.sets(st.sampled_from(SOUNDS)).map(sorted_pieces),
        extra=st.sampled_from([{}, {"second_crash": True}]),
    )
)
def test_a_kit_said_and_read_again_is_the_same(kit: Kit) -> None:
    pairs = {"snare": "rim", "ride": "ride_bell"}
    whole = all(not ({a} - {*kit.pieces} and {b} & {*kit.pieces}) for a, b in pairs.items())
    if whole:
        assert kit_said(Kit(), kit_in_words(kit)) == kit


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("left handet", "did you mean"),
        ("purple", "says nothing about a kit"),
        ("no bassoon", "is not a piece of the kit"),
    ],
)
def test_what_is_not_understood_is_said_in_one_line(text: str, says: str) -> None:
    with pytest.raises(InputError, match=says) as error:
        kit_said(Kit(), text)
    assert "\n" not in str(error.value)
