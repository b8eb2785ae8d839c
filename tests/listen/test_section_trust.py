"""How far sections can be trusted."""

import numpy as np

from fourlimb.listen.form import sections
from fourlimb.listen.section_trust import trust
from fourlimb.model.grid import regular


def bars(*kinds: str) -> np.ndarray:
    """Sixteen places a bar: a kind of music is struck on places of its own."""
    made = np.zeros((len(kinds), 16))
    for row, kind in enumerate(kinds):
        made[row, (ord(kind) * 3) % 16 :: 5] = 1.0
    return made


def test_a_section_with_other_music_on_both_sides_is_trusted() -> None:
    middle = trust(bars(*"AAAAAAAABBBBBBBBAAAAAAAA"), [0, 8, 16, 24])[1]
    assert middle > 0.9


def test_a_line_drawn_through_the_same_music_is_not() -> None:
    first, second = trust(bars(*"AAAAAAAAAAAAA"), [0, 5, 13])
    assert max(first, second) < 0.3


def test_a_section_that_swallows_two_is_trusted_less() -> None:
    music = bars(*"AAAAAAAABBBBBBBBCCCCCCCC")
    assert trust(music, [0, 16, 24])[0] < trust(music, [0, 8, 16, 24])[0] - 0.2


def test_sections_carry_their_confidence() -> None:
    found = sections(regular(["4/4"] * 24, 100), bars(*"AAAAAAAABBBBBBBBAAAAAAAA"), np.zeros(24))
    assert [section.name for section in found] == ["A", "B", "A'"]
    assert all(0.5 < float(str(section.extra["confidence"])) <= 1 for section in found)
