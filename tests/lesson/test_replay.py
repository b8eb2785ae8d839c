"""Corrections replayed over what was heard."""

import base64
from fractions import Fraction as F

import msgspec
import numpy as np
import pytest

from fourlimb import demo
from fourlimb.lesson.replay import Replayed, replay
from fourlimb.model import Correction, Listening

HEARD = demo.truth()


def after(*texts: str) -> Replayed:
    return replay(HEARD, tuple(Correction(n=n, what=text) for n, text in enumerate(texts, start=1)))


def places(heard: Listening, bar: int, sound: str) -> list[F]:
    return sorted(h.position for h in heard.hits if h.bar == bar and h.sound == sound and h.position is not None)


def test_nothing_said_changes_nothing() -> None:
    assert replay(HEARD, ()).heard is HEARD


def test_a_line_sets_a_piece_exactly_and_leaves_the_others() -> None:
    done = after("bar 6: kick 1 2& 3")
    assert places(done.heard, 6, "kick") == [F(0), F(3, 8), F(1, 2)]
    assert places(done.heard, 6, "snare") == places(HEARD, 6, "snare")
    assert all(h.by == "teacher" for h in done.heard.hits if h.bar == 6 and h.sound == "kick")
    assert len({h.id for h in done.heard.hits}) == len(done.heard.hits)


def test_what_was_heard_there_keeps_its_id() -> None:
    old = {h.position: h.id for h in HEARD.hits if h.bar == 6 and h.sound == "kick"}
    assert F(0) in old
    done = after("bar 6: kick 1 2&")
    assert {h.position: h.id for h in done.heard.hits if h.bar == 6 and h.sound == "kick"}[F(0)] == old[F(0)]


def test_a_bar_can_be_as_another() -> None:
    done = after("bar 8: as bar 6")
    assert places(done.heard, 8, "kick") == places(HEARD, 6, "kick")
    assert places(done.heard, 8, "snare") == places(HEARD, 6, "snare")


def test_silence_and_other_names() -> None:
    done = after("bar 6: silent", "bars 17-24: the crash is the ride")
    assert not [h for h in done.heard.hits if h.bar == 6]
    assert not [h for h in done.heard.hits if h.bar in range(17, 25) and h.sound == "crash"]


def test_the_title_and_a_section() -> None:
    done = after("title Evening Boat", "bars 5-8: section harbour")
    assert done.heard.song.title == "Evening Boat"
    assert ("harbour", 5, 8) in [(s.name, s.from_bar, s.to_bar) for s in done.heard.sections]
    covered = sorted(b for s in done.heard.sections for b in range(s.from_bar, s.to_bar + 1))
    assert covered == sorted(set(covered)), "no bar may stand in two sections"


def test_names_of_sections_survive_later_corrections() -> None:
    done = after("bars 5-8: section harbour", "bar 6: kick 1")
    assert ("harbour", 5, 8) in [(s.name, s.from_bar, s.to_bar) for s in done.heard.sections]


def test_tempo_twice_keeps_every_bar_line_and_half_keeps_half_the_beats() -> None:
    twice = [b.start_s for b in after("tempo x2").heard.grid.bars]
    for bar in HEARD.grid.bars:
        if bar.bar > 0:
            assert min(abs(start - bar.start_s) for start in twice) < 0.03
    half = after("tempo /2").heard.grid.beats
    assert len(half) == pytest.approx(len(HEARD.grid.beats) / 2, abs=2)


def test_a_bar_number_means_what_it_meant_when_it_was_said() -> None:
    said_before = after("bar 6: kick 1 2& 3", "tempo x2")
    times = sorted(h.time_s for h in said_before.heard.hits if h.by == "teacher")
    expected = [HEARD.grid.time_at(6, p, swung=True) for p in (F(0), F(3, 8), F(1, 2))]
    assert times == pytest.approx(expected, abs=0.03)


def test_feel_is_said_for_bars() -> None:
    done = after("bars 5-8: half-time", "bars 6-6: swing 0.6")
    assert done.heard.grid.feel_of(5).feel == "half-time"
    assert done.heard.grid.feel_of(6).swing == pytest.approx(0.6)
    assert done.heard.grid.feel_of(9).feel == HEARD.grid.feel_of(9).feel


def test_what_no_longer_fits_is_kept_with_the_reason() -> None:
    done = after("bar 44: kick 1", "tempo /2", "bar 44: kick 1 3")
    states = [(c.n, c.state) for c in done.corrections]
    assert states == [(1, "applied"), (2, "applied"), (3, "unfit")]
    assert "no bar 44" in done.corrections[2].why


def test_what_was_undone_is_kept_and_not_applied() -> None:
    corrections = (Correction(n=1, what="bar 6: silent", state="undone"),)
    done = replay(HEARD, corrections)
    assert done.corrections == list(corrections)
    assert done.heard is HEARD


def test_the_same_corrections_give_the_same_answer() -> None:
    texts = ("bar 6: kick 1 2& 3", "bars 9-12: hat every 8th", "tempo x2")
    assert after(*texts).heard == after(*texts).heard


def test_strokes_that_sound_like_those_put_right_change_too() -> None:
    rng = np.random.default_rng(3)
    ride, crash = rng.integers(90, 110, 32), rng.integers(150, 170, 32)
    crashes = [h.id for h in HEARD.hits if h.sound == "crash"]
    assert len(crashes) >= 4
    false = crashes[::2]
    rides = {*false, *(h.id for h in HEARD.hits if h.sound == "ride")}

    def colour(number: int) -> str:
        bands = (ride if number in rides else crash) + rng.integers(-4, 5, 32)
        return base64.b64encode(np.concatenate([np.full(18, 128), bands]).astype(np.uint8).tobytes()).decode()

    heard = msgspec.structs.replace(HEARD, colours=tuple((h.id, colour(h.id)) for h in HEARD.hits))
    bar = next(h.bar for h in heard.hits if h.id == false[0])
    texts = (f"bar {bar}: the crash is the ride", "alike: the crash is the ride")
    done = replay(heard, tuple(Correction(n=n, what=text) for n, text in enumerate(texts, start=1)))
    sounds = {h.id: h.sound for h in done.heard.hits}
    assert [c.state for c in done.corrections] == ["applied", "applied"]
    assert all(sounds[n] == ("ride" if n in false else "crash") for n in crashes)
    assert "strokes changed" in done.heard.notes[-1]


def test_alike_without_an_example_says_what_to_do_first() -> None:
    done = after("alike: the crash is the ride")
    assert done.corrections[0].state == "unfit"
    assert "put two or three right first" in done.corrections[0].why
