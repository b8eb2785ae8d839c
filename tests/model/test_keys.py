"""The key file: what it may say, and what it says when it cannot."""

import pytest

from fourlimb.model import InputError, StaffPlace
from fourlimb.model.keys import KEYS, SCHOOLS, SECOND_KEY, read_key
from fourlimb.model.kit import Kit
from fourlimb.model.sounds import GENERAL_MIDI, SECOND_GENERAL_MIDI, SOUNDS


def test_two_schools_ship_whole_and_name_their_source() -> None:
    assert set(SCHOOLS) == {"five-piece", "middle line"}
    for school in SCHOOLS.values():
        assert set(school.key) == set(SOUNDS)
        assert school.source.strip()


def test_the_table_carries_the_published_general_midi_keys() -> None:
    for key in KEYS.values():
        assert {sound: place.midi for sound, place in key.items()} == GENERAL_MIDI
    assert {sound: place.midi for sound, place in SECOND_KEY.items()} == {
        s: SECOND_GENERAL_MIDI[s] for s in SECOND_KEY
    }


@pytest.mark.parametrize("name", KEYS)
def test_no_two_sounds_of_a_school_look_alike_but_the_open_hat(name: str) -> None:
    places = [(p.line, p.head) for sound, p in KEYS[name].items() if sound != "hat_open"]
    places += [(p.line, p.head) for p in SECOND_KEY.values()]
    assert len(places) == len(set(places))


def test_a_teachers_file_changes_what_it_says_and_keeps_the_rest() -> None:
    own = read_key('[mine]\nlike = "middle line"\n[mine.key]\nsnare = { head = "slash" }\n', name="mine.toml")
    assert own.key["snare"] == StaffPlace(line=4, head="slash", voice="hands", midi=38)
    assert own.key["kick"] == KEYS["middle line"]["kick"]


def test_a_key_without_midi_keys_plays_general_midi() -> None:
    kit = Kit(key={"snare": StaffPlace(line=5)})
    assert kit.midi("snare") == 38
    assert kit.midi("crash") == 49
    assert kit.midi("crash", second=True) == 57


@pytest.mark.parametrize(
    "text",
    [
        "",
        "snare = 5",
        "[mine]\nlike = 'nobody'",
        "[mine]\ncolour = 'red'",
        "[mine.key]\nbongo = { line = 3 }",
        "[mine.key]\nsnare = 5",
        "[mine.key]\nsnare = { line = 'high' }",
        "[mine.key]\nsnare = { line = 5, head = 'star' }",
        "[mine.key]\nsnare = { line = 400 }",
        "[mine.key]\nsnare = { line = 5, midi = 200 }",
        "[mine.key]\nsnare = { line = 5, colour = 1 }",
        "[mine]\nkey = 3",
        "[[[",
        "\x00",
    ],
)
def test_what_cannot_be_a_key_is_refused_in_one_line_that_names_the_file(text: str) -> None:
    with pytest.raises(InputError, match=r"^mine\.toml[^\n]*$"):
        read_key(text, name="mine.toml")
