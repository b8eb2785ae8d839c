"""A song that players count two ways is told to be one, in words of what falls where; a clear one is not."""

from fractions import Fraction

import msgspec
import numpy as np
import pytest
from listen_material import SONG, TellingEars, performance, sound_of

from fourlimb.listen import Hints, listen, regrid
from fourlimb.listen.bars import Counted
from fourlimb.listen.beats import Pulse
from fourlimb.listen.evidence import from_hits
from fourlimb.listen.layout import Line
from fourlimb.listen.other_tempo import OPEN, SAID, drums_in_words, other_tempo, other_way
from fourlimb.model import Hit, Sound
from fourlimb.model.grid import regular

BARS = 8
EVIDENT = float(np.log(OPEN / (1 - OPEN)))
"""Log-odds from which the other tempo is told."""


def struck(sound: Sound, beats: list[float], bpm: float) -> list[Hit]:
    """Strokes on these beats of every bar of 4/4 at a tempo."""
    times = [(4 * bar + beat) * 60 / bpm for bar in range(BARS) for beat in beats]
    return [Hit(id=0, time_s=t, sound=sound, loudness_db=-6.0, confidence=0.9) for t in times]


def offbeats(bpm: float) -> tuple[Hit, ...]:
    """The snare on every &, hats in sixteenths: the same as the snare on 2 and 4 and eighths at twice the tempo."""
    hits = struck("snare", [0.5, 1.5, 2.5, 3.5], bpm) + struck("hat_closed", [n / 4 for n in range(16)], bpm)
    return tuple(sorted(hits, key=lambda hit: hit.time_s))


def way(bpm: float, score: float, beats: int = 4 * BARS) -> Counted:
    pulse = Pulse(np.arange(beats + 1) * 60 / bpm, np.ones(beats + 1))
    return Counted(pulse, "4/4", (Line(Fraction(0), "4/4"),), score, np.zeros(1))


def ways(score_of_other: float, bpm: float = 177.0) -> list[Counted]:
    return [way(88.5, 0.0), way(bpm, score_of_other, 8 * BARS)]


def test_both_tempi_are_told_with_what_falls_where() -> None:
    evidence = from_hits(offbeats(88.5), BARS * 240 / 88.5)
    said = other_tempo(ways(EVIDENT + 0.1), evidence)
    assert said == (
        f"{SAID} 177 beats a minute, with the snare on 2 and 4 and the hats in eighths; now it is 88, with the snare "
        "on every & and the hats in sixteenths; to change it say: tempo x2"
    )


def test_half_the_tempo_is_told_too() -> None:
    evidence = from_hits(offbeats(88.5), BARS * 240 / 88.5)
    said = other_tempo([way(177.0, 0.0, 8 * BARS), way(88.5, 0.0)], evidence)
    assert said is not None
    assert said.endswith("tempo /2")


@pytest.mark.parametrize("found", [ways(EVIDENT - 0.1), ways(0.0, bpm=132.75), [], [way(88.5, 0.0)]])
def test_a_clear_tempo_is_not_questioned(found: list[Counted]) -> None:
    assert other_way(found) is None


def test_ways_of_one_tempo_count_together() -> None:
    """Two meters at the other tempo, each too unlikely alone, are likely enough together."""
    found = ways(EVIDENT - 0.3)
    assert other_way([*found, found[1]]) is found[1]


def test_words_leave_out_what_has_no_pattern() -> None:
    grid = regular(["4/4"] * BARS, 100)
    few = struck("snare", [1.0], 100)[:2] + struck("kick", [0.0, 2.0], 100)
    assert drums_in_words(grid, few) == "the snare on 2"
    assert drums_in_words(grid, struck("kick", [0.0], 100)) == ""
    assert drums_in_words(regular([], 100), few) == ""
    one_hat = struck("hat_closed", [0.0], 100)[:1] + struck("ride", [1.0], 100)[:1]
    assert drums_in_words(regular(["4/4"], 100), one_hat) == "", "two sounds once each keep no time"
    assert drums_in_words(regular(["6/8"] * BARS, 100), struck("snare", [1.5], 100)).startswith("the snare on")


def test_the_teachers_tempo_ends_the_question() -> None:
    truth = performance(12, 110, spread_s=0.006, start_s=0.3)
    heard = listen(sound_of(truth, truth[-1].time_s + 1), song=SONG, ears=TellingEars(truth))
    asked = msgspec.structs.replace(heard, notes=(f"{SAID} 220 beats a minute", "another note"))
    assert regrid(asked, Hints(tempo_factor=Fraction(2))).notes == ("another note",)
    assert regrid(asked, Hints(ones_s=(heard.grid.beats[4].time_s,))).notes == asked.notes
