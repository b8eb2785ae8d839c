"""A teacher who corrects bar after bar: only what changed is arranged again, and the lesson is the same."""

from bench.written import song

from fourlimb.arrange import Memory
from fourlimb.lesson import build
from fourlimb.model import Correction
from fourlimb.model.codec import encode

BARS = ("kick 1 2& 3; snare 2 4; hat every 8th", "kick 1 2& 3 4&; snare 2 4; hat every 8th")
WORDS = (
    "bar 12: kick 1 2a 3",
    "bar 12: rimshot 4",
    "bar 20: silent",
    "bars 5-6: as bar 2",
    "bar 9: no snare",
    "steady bar 3: kick 1",
    "bones bars 13-14: as full",
)


def test_a_lesson_corrected_with_a_memory_is_the_lesson_made_anew() -> None:
    heard, memory = song([BARS[n % 2] for n in range(40)], bpm=120), Memory()
    build(heard, memory=memory)
    everything = memory.made
    given: tuple[Correction, ...] = ()
    for number, what in enumerate(WORDS, 1):
        given = (*given, Correction(n=number, what=what))
        quick = build(heard, corrections=given, memory=memory)
        assert all(item.state == "applied" for item in quick.corrections)
        assert encode(quick) == encode(build(heard, corrections=given))
        assert memory.made < everything
