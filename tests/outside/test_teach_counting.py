"""Counting, the ladder and the cautions against published tables and independent statements.

Each row names where it stands. Basis "read": found in the source named; "memory": usual knowledge, a soft check only.
"""

from fractions import Fraction as F
from itertools import pairwise

import pytest

from fourlimb.teach.cautions import caution
from fourlimb.teach.count import TRADITIONS, count_line
from fourlimb.teach.ladder import ladder

BISHOP = "Bishop T., Counting system overhaul 01, 2022; A review of rhythm counting systems, 2014"
EASTMAN = (
    "Barlow C., rev. Leinberger C., The 'Eastman' counting system (University of Texas at El Paso); Feezell M., 2010"
)
TAKADIMI = "Hoffman R., Pelto W., White J.W., Takadimi, J. Music Theory Pedagogy 10 (1996) 7-30; Takadimi short guide"
SYLLABLES = "A review of rhythm syllable systems, 2014"

ONE_BEAT = [
    ("num-en", 2, "1 &", BISHOP),
    ("num-en", 4, "1 e & a", BISHOP),
    ("eastman", 2, "1 te", EASTMAN),
    ("eastman", 4, "1 ti te ta", EASTMAN),
    ("eastman", 3, "1 la li", EASTMAN),
    ("eastman", 6, "1 ta la ta li ta", EASTMAN),
    ("takadimi", 2, "ta di", TAKADIMI),
    ("takadimi", 4, "ta ka di mi", TAKADIMI),
    ("takadimi", 3, "ta ki da", TAKADIMI),
    ("takadimi", 6, "ta va ki di da ma", TAKADIMI),
    ("takadimi", 5, "ta ka di mi ti", "bassic.de thread 463; summaries of Takadimi"),
    ("kodaly", 2, "ti ti", SYLLABLES),
    ("kodaly", 3, "tri o la", SYLLABLES),
    ("de", 2, "1 und", "drumtreff.de, Schlagzeug Beats Two"),
    ("fr", 2, "1 et", "batteurextreme.com; cajondrum.fr"),
    ("fr", 4, "1 2 3 4", "batteurextreme.com, Savez-vous compter ? (1 2 3 4, 2 2 3 4, 3 2 3 4)"),
    ("es", 2, "1 y", "oleosymusica.blog"),
    ("es", 3, "1 y a", "oleosymusica.blog"),
]


def _beat(tradition: str, parts: int) -> str:
    return count_line("1/4", [F(1, 4) * F(n, parts) for n in range(parts)], tradition)


@pytest.mark.parametrize(("tradition", "parts", "said", "source"), ONE_BEAT)
def test_a_beat_in_even_parts_is_counted_as_published(tradition: str, parts: int, said: str, source: str) -> None:
    assert _beat(tradition, parts) == said, source


@pytest.mark.parametrize(
    ("tradition", "parts", "any_of", "source"),
    [
        ("num-en", 3, {"1 trip let", "1 & a", "1 la li"}, BISHOP),
        ("de", 4, {"1 e und e", "1 e un de", "1 e un te"}, "bassic.de thread 463; gitarrenlinks.de (first: memory)"),
    ],
)
def test_where_several_words_are_in_use_ours_is_one_of_them(
    tradition: str, parts: int, any_of: set[str], source: str
) -> None:
    assert _beat(tradition, parts) in any_of, source


@pytest.mark.parametrize("parts", [2, 4, 6])
def test_the_half_of_the_beat_is_di_in_every_division(parts: int) -> None:
    """A place keeps its syllable however the beat is divided (Hoffman, Pelto and White 1996)."""
    assert _beat("takadimi", parts).split()[parts // 2] == "di"


def test_a_numbered_beat_two_carries_its_own_number_in_french() -> None:
    """2 2 3 4: the first number is the beat (batteurextreme.com)."""
    sixteenths = [F(1, 4) + F(n, 16) for n in range(4)]
    assert count_line("2/4", sixteenths, "fr") == "(1) 2 2 3 4"


@pytest.mark.parametrize(
    ("meter", "tradition", "said", "source"),
    [
        ("6/8", "num-en", "1 & a 2 & a", "Counting (music), Wikipedia"),
        ("6/8", "eastman", "1 la li 2 la li", "Counting (music), Wikipedia: one la lee; " + EASTMAN),
        ("6/8", "takadimi", "ta ki da ta ki da", TAKADIMI),
        ("12/8", "num-en", "1 & a 2 & a 3 & a 4 & a", "common practice, no source: 12/8 by the beat, 1 to 4"),
        ("5/4", "num-en", "1 & 2 & 3 & 4 & 5 &", "common practice, no source"),
        ("7/8", "num-en", "1 & 2 & 3 & a", "common practice, no source: by group 2+2+3"),
        ("5/8", "num-en", "1 & 2 & a", "common practice, no source: by group 2+3"),
    ],
)
def test_eighths_in_compound_and_odd_meters(meter: str, tradition: str, said: str, source: str) -> None:
    count, unit = meter.split("/")
    assert count_line(meter, [F(n, 8) for n in range(int(F(int(count), int(unit)) * 8))], tradition) == said, source


def test_sixteenths_in_six_eight_have_six_syllables_a_beat() -> None:
    """Compound beats in six parts: ta va ki di da ma (Hoffman and others); 1 ta la ta li ta (Barlow, Leinberger)."""
    sixteenths = [F(n, 16) for n in range(12)]
    assert count_line("6/8", sixteenths, "takadimi") == " ".join(["ta va ki di da ma"] * 2)
    assert count_line("6/8", sixteenths, "eastman") == "1 ta la ta li ta 2 ta la ta li ta"


def test_the_canonical_traditions_are_there_and_no_other() -> None:
    assert set(TRADITIONS) == {"num-en", "eastman", "takadimi", "kodaly", "de", "fr", "es", "pt"}


def test_the_ladder_is_what_teachers_commonly_set() -> None:
    """Common practice, no source for the start (50-60 % of the goal); steps of 2-5 bpm or 5 % (study guides on
    metronome use; a metronome lesson at urbanpro for +8/-4 and back after two failures); last rung goal + 5 %."""
    for goal in (60, 92, 120, 152, 200):
        rungs = [rung.bpm for rung in ladder(goal)]
        assert 0.5 <= rungs[0] / goal <= 0.61
        assert all(2 <= b - a <= 0.055 * goal + 0.5 for a, b in pairwise(rungs))
        assert rungs[-1] == pytest.approx(1.05 * goal, abs=0.51)
    zigzag = [rung.bpm for rung in ladder(100, shape="zigzag")]
    assert (zigzag[1] - zigzag[0], zigzag[2] - zigzag[1]) == (8, -4)


def test_the_sentence_on_loudness_says_what_the_exchange_rate_says() -> None:
    """NIOSH 98-126 (1998): minutes = 480 / 2 ** ((L - 85) / 3), so 3 dB more is half the time."""

    def minutes(level_dba: float) -> float:
        return 480 / 2 ** ((level_dba - 85) / 3)

    assert [minutes(level) for level in (85, 88, 91, 94, 97, 100)] == [480, 240, 120, 60, 30, 15]
    assert "every 3 dB louder halves the time" in caution("dose")
