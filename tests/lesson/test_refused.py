"""What the teacher writes and nobody can play is said with the correction."""

from bench.written import song

from fourlimb.lesson import build
from fourlimb.lesson.refused import MOST, not_as_written
from fourlimb.model import Correction, Lesson

HEARD = song(["kick 1 2& 3; snare 2 4; hat every 8th"] * 12, bpm=120)


def _corrected(*what: str) -> Lesson:
    return build(HEARD, corrections=tuple(Correction(n=n, what=text) for n, text in enumerate(what, 1)))


def test_a_flam_without_a_free_hand_is_said_and_one_with_it_is_not() -> None:
    before = _corrected()
    said = not_as_written(before, _corrected("bar 5: flam 4"))
    assert len(said) == 1
    assert said[0].startswith("bar 5 on 4, snare, not quite so: flam")
    assert not_as_written(before, _corrected("bar 5: flam 4; no hat")) == ()


def test_places_nobody_can_play_are_said_once_and_not_again_for_another_bar() -> None:
    before, odd = _corrected(), "bar 5: crash 1; ride 1; snare 1 2 4"
    after = _corrected(odd)
    said = not_as_written(before, after)
    assert said
    assert all(line.startswith("nobody can play bar 5 on 1: ") for line in said)
    assert not_as_written(after, _corrected(odd, "bar 9: kick 1")) == ()


def test_many_are_counted() -> None:
    said = not_as_written(_corrected(), _corrected("bars 3-10: flam 2 4"))
    assert len(said) == MOST + 1
    assert said[-1].startswith("and 12 more")
