"""Beams and rests against rules that are printed: each example names its source.

Sources as in the trade papers: S17 Berklee Online, *Imaginary barlines*, and McCormick, *Beyond the imaginary bar
line* (2008); S18 Lacerda, *Regras de grafia musical*, as quoted by Rocha; S9 Music Encoding Initiative, *MEI
Guidelines v5*; "common practice": taught everywhere, no single source. Spelling of the expected bar: value, dots, r =
rest, tN = tuplet of N, brackets round a beam.
"""

import sys
from fractions import Fraction as F
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "engrave"))
from spelled import said

from fourlimb.engrave.spell import spell

S9, S17, S18, COMMON = "S9", "S17", "S18", "common practice"

RULES = [
    # meter, places, written, source, rule
    ("4/4", "0 1/8 1/4 3/8 1/2 5/8 3/4 7/8", "[8 8 8 8] [8 8 8 8]", S17, "eighths in half bars"),
    ("4/4", "0 1/16 1/8 3/16 1/4 3/8 1/2 5/8 3/4 7/8", "[16 16 16 16] [8 8] [8 8] [8 8]", S17, "16ths: beats"),
    ("4/4", "1/8 1/4 3/8 1/2 5/8 3/4 7/8", "8r 8 [8 8] [8 8 8 8]", S17, "a rest breaks the half into beats"),
    ("4/4", "0 1/4 3/8 1/2 3/4", "4 [8 8] 4 4", COMMON, "a quarter stands alone"),
    ("4/4", "0 1/4 1/2 3/4", "4 4 4 4", COMMON, "four beats"),
    ("4/4", "", "2r 2r", S17, "two half rests at most: the middle shows"),
    ("4/4", "0", "4 4r 2r", S18, "beat 2 takes a quarter rest, the second half one half rest"),
    ("4/4", "1/4", "4r 4 2r", S18, "beat 1 rests alone"),
    ("4/4", "1/2", "2r 4 4r", S18, "the first half rests as one"),
    ("4/4", "3/4", "2r 4r 4", S18, "no half rest on beat 2 or over the middle"),
    ("4/4", "0 3/4", "4 4r 4r 4", S18, "beats 2 and 3 are two quarter rests"),
    ("4/4", "0 3/16", "[8. 16] 4r 2r", COMMON, "dotted eighth and sixteenth in one beat"),
    ("4/4", "0 1/16", "[16 8.] 4r 2r", COMMON, "sixteenth and dotted eighth"),
    ("4/4", "0 1/16 3/16", "[16 8 16] 4r 2r", COMMON, "sixteenth, eighth, sixteenth"),
    ("4/4", "0 1/8 3/16", "[8 16 16] 4r 2r", COMMON, "eighth and two sixteenths"),
    ("4/4", "0 1/16 1/8", "[16 16 8] 4r 2r", COMMON, "two sixteenths and eighth"),
    ("4/4", "1/16 1/8 3/16", "16r [16 16 16] 4r 2r", COMMON, "a rest first, the beat stays one shape"),
    ("4/4", "3/16", "8r 16r 16 4r 2r", COMMON, "rests on the halvings of the beat"),
    ("4/4", "1/8", "8r 8 4r 2r", COMMON, "an off-beat eighth"),
    ("4/4", "1/8 3/8", "8r 8 8r 8 2r", S17, "off-beats do not hide the beats"),
    ("4/4", "0 1/12 1/6", "[8t3 8t3 8t3] 4r 2r", COMMON, "a triplet beat"),
    ("4/4", "0 1/6", "4t3 8t3 4r 2r", COMMON, "quarter and eighth in a triplet"),
    ("2/4", "0 1/8 1/4 3/8", "[8 8 8 8]", S17, "four eighths in 2/4"),
    ("2/4", "0", "4 4r", COMMON, "beat 2 rests"),
    ("3/4", "0 1/8 1/4 3/8 1/2 5/8", "[8 8 8 8 8 8]", S17, "six even eighths may share a beam"),
    ("3/4", "0 1/4 3/8 1/2 5/8", "4 [8 8] [8 8]", S17, "else by beats"),
    ("3/4", "0", "4 4r 4r", S18, "no half rest in 3/4"),
    ("3/4", "1/2", "4r 4r 4", S18, "no half rest in 3/4"),
    ("6/8", "0 1/8 1/4 3/8 1/2 5/8", "[8 8 8] [8 8 8]", S17, "3 + 3"),
    ("6/8", "0 3/8", "4. 4.", S17, "two beats"),
    ("6/8", "0 1/4 3/8 5/8", "4 8 4 8", COMMON, "quarter and eighth"),
    ("6/8", "1/8 1/4 3/8", "8r [8 8] 4.", S17, "beat 2 is visible"),
    ("6/8", "0", "4. 4.r", S17, "a dotted quarter rest for a beat"),
    ("6/8", "0 1/16 1/8 3/16 1/4 5/16 3/8", "[16 16 16 16 16 16] 4.", COMMON, "sixteenths under one beat's beam"),
    ("9/8", "0 1/8 1/4 3/8 3/4", "[8 8 8] 4. 4.", S17, "threes"),
    ("12/8", "0 1/8 1/4 3/8 1/2 5/8 3/4 7/8 1 9/8 5/4 11/8", "[8 8 8] [8 8 8] [8 8 8] [8 8 8]", S17, "threes"),
    ("12/8", "0 3/4", "4. 4.r 4. 4.r", S17, "every dotted quarter shows"),
    ("5/4", "0 1/4 1/2 3/4 1", "4 4 4 4 4", COMMON, "five beats"),
    ("5/4", "0 1/8 1/4 3/8 1/2 5/8 3/4 7/8 1 9/8", "[8 8] [8 8] [8 8] [8 8] [8 8]", S17, "no beam over the split"),
    ("5/4", "0 3/4", "4 4r 4r 4 4r", S18, "beats rest one by one"),
    ("7/8", "0 1/8 1/4 3/8 1/2 5/8 3/4", "[8 8] [8 8] [8 8 8]", COMMON, "2 + 2 + 3"),
    ("7/8", "0 1/4 1/2", "4 4 4.", COMMON, "three beats, the last long"),
    ("7/8", "0 1/8 1/4 3/8 1/2 5/8", "[8 8] [8 8] 8 4", COMMON, "eighth and quarter in the long beat"),
    ("7/8", "1/8 1/2", "8r 8 4r 4.", COMMON, "every beat shows"),
    ("7/8", "0 1/16 1/8 3/16 1/2 5/8 3/4", "[16 16 16 16] 4r [8 8 8]", COMMON, "sixteenths follow the group"),
    ("3+2+2/8", "0 1/8 1/4 3/8 1/2 5/8 3/4", "[8 8 8] [8 8] [8 8]", S9, "the meter says its groups: 3 + 2 + 2"),
    ("2+3+2/8", "0 1/8 1/4 3/8 1/2 5/8 3/4", "[8 8] [8 8 8] [8 8]", S9, "2 + 3 + 2"),
    ("3+2+2/8", "0 3/8 5/8", "4. 4 4", S9, "the long beat first"),
    ("3+2/8", "0 1/8 1/4 3/8 1/2", "[8 8 8] [8 8]", S9, "3 + 2"),
    ("3+3+2/8", "0 1/8 1/4 3/8 1/2 5/8 3/4 7/8", "[8 8 8] [8 8 8] [8 8]", S9, "eight eighths in 3 + 3 + 2"),
    ("3+2/4", "0 1/4 1/2 3/4 1", "4 4 4 4 4", S9, "quarters keep their beats"),
    ("5/4", "0 1/16 1/8 3/16 1/4 1/2 3/4 1", "[16 16 16 16] 4 4 4 4", COMMON, "sixteenths by the beat"),
    ("5/4", "1/8", "8r 8 4r 4r 4r 4r", S18, "no longer rest over a beat"),
    ("12/8", "0 1/4 3/8 5/8 3/4 1 9/8 11/8", "4 8 4 8 4 8 4 8", COMMON, "the shuffle in 12/8"),
    ("12/8", "1/8 1/4 3/8", "8r [8 8] 4. 4.r 4.r", S17, "a silent beat rests as one dotted quarter"),
    ("6/8", "1/8 1/4 1/2 5/8", "8r [8 8] 8r [8 8]", S17, "off-beats do not hide beat 2"),
    ("3/4", "1/8 1/4 3/8 1/2 5/8", "8r 8 [8 8] [8 8]", S17, "a rest breaks the long beam into beats"),
    ("3/4", "0 1/16 1/8 3/16 1/4 3/8 1/2", "[16 16 16 16] [8 8] 4", S17, "sixteenths: beats"),
    ("5/8", "0 1/8 1/4 3/8 1/2", "[8 8] [8 8 8]", COMMON, "2 + 3"),
    ("3/8", "0 1/8 1/4", "[8 8 8]", COMMON, "one beam"),
    ("2/2", "0 1/8 1/4 3/8 1/2 5/8 3/4 7/8", "[8 8 8 8] [8 8 8 8]", COMMON, "4 + 4"),
]  # fmt: skip


def test_there_are_at_least_forty_printed_examples() -> None:
    assert len(RULES) >= 40
    assert {meter for meter, *_ in RULES} >= {"4/4", "3/4", "6/8", "12/8", "5/4", "7/8"}


@pytest.mark.parametrize(
    ("meter", "places", "written", "source", "rule"), RULES, ids=[f"{r[0]} {r[4]}" for r in RULES]
)
def test_a_bar_is_written_as_the_rule_prints_it(
    meter: str, places: str, written: str, source: str, rule: str
) -> None:
    assert said(spell(meter, [F(p) for p in places.split()])) == written, f"{rule} ({source})"
