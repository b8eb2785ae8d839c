"""Bars that the teacher says are right teach the others, on the teacher's word only, and undone it is as before."""

from fractions import Fraction as F

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb import demo
from fourlimb.lesson.replay import Replayed, replay
from fourlimb.model import Correction, Hit, Listening, Possible

TRUTH = demo.truth()
GHOST = F(13, 16)
BARS = range(5, 13)


def heard() -> Listening:
    """The demo song heard with some doubt: a soft snare may be in eight bars, and nobody wrote it."""
    hits = tuple(msgspec.structs.replace(h, by="ears", confidence=0.9) for h in TRUTH.hits)
    maybe = tuple(
        Possible(time_s=round(TRUTH.grid.time_at(bar, GHOST), 4), sound="snare", loudness_db=-22.0, confidence=0.4)
        for bar in BARS
        if not any(h.bar == bar and h.sound in ("snare", "rim") and h.position == GHOST for h in hits)
    )
    return msgspec.structs.replace(TRUTH, hits=hits, possible=maybe)


HEARD = heard()


def after(*texts: str, undone: frozenset[int] = frozenset(), given: Listening = HEARD) -> Replayed:
    said = [
        Correction(n=n, what=text, state="undone" if n in undone else "applied")
        for n, text in enumerate(texts, start=1)
    ]
    return replay(given, tuple(said))


def ghosts(done: Replayed) -> set[int]:
    return {h.bar for h in done.heard.hits if h.sound == "snare" and h.position == GHOST and h.bar is not None}


def with_ghost(bar: int) -> str:
    places = sorted(
        {h.position for h in HEARD.hits if h.bar == bar and h.sound == "snare" and h.position is not None}
    )
    return f"bar {bar}: snare {' '.join(NAMES[p] for p in sorted({*places, GHOST}))}"


NAMES = {F(n, 16): f"{n // 4 + 1}{('', 'e', '&', 'a')[n % 4]}" for n in range(16)}


def test_the_song_has_bars_to_learn_in() -> None:
    assert len(HEARD.possible) >= 6
    assert not ghosts(after("title Night Ferry")) & {b for b in BARS if any(p for p in HEARD.possible)} - ghosts(
        after()
    )


def test_an_ordinary_correction_changes_only_its_bar() -> None:
    done = after(with_ghost(6))
    assert [h for h in done.heard.hits if h.bar != 6] == [h for h in HEARD.hits if h.bar != 6]


def test_learn_lets_the_other_bars_follow_and_says_where() -> None:
    done = after(with_ghost(6), with_ghost(7), "learn from bars 6-7")
    new = ghosts(done) - ghosts(after())
    assert {6, 7} < new
    assert new <= set(BARS)
    assert done.corrections[-1].state == "applied"
    assert done.heard.notes[-1].startswith("learnt from the bars that are right: ")
    assert "strokes added (snare" in done.heard.notes[-1]
    assert "in bars 5, 8" in done.heard.notes[-1]
    added = [h for h in done.heard.hits if h.by == "ears" and h.id not in {x.id for x in HEARD.hits}]
    assert len({h.id for h in done.heard.hits}) == len(done.heard.hits)
    assert all(h.confidence < 1 for h in added), "what was only learnt stays a guess"


def test_learn_alone_learns_from_the_pieces_that_were_said() -> None:
    done = after(with_ghost(6), with_ghost(7), with_ghost(9), "learn")
    assert ghosts(done) - ghosts(after()) > {6, 7, 9}


def test_undone_it_is_as_if_it_had_not_been_said() -> None:
    texts = (with_ghost(6), with_ghost(7), "learn from bars 6-7")
    assert after(*texts, undone=frozenset({3})).heard == after(*texts[:2]).heard
    assert after(*texts, undone=frozenset({1, 2, 3})).heard is HEARD
    assert after(*texts).heard == after(*texts).heard


def test_strokes_written_by_hand_stay_and_none_is_added_to_bars_that_are_right() -> None:
    texts = ("bar 10: snare 2 4", "bars 11: right", with_ghost(6), with_ghost(7), "learn from bars 6, 7")
    done = after(*texts)
    assert {h.position for h in done.heard.hits if h.bar == 10 and h.sound == "snare"} == {F(1, 4), F(3, 4)}
    kept = [(h.time_s, h.sound) for h in done.heard.hits if h.bar == 11]
    assert kept == [(h.time_s, h.sound) for h in HEARD.hits if h.bar == 11]


def test_a_bar_that_is_right_is_no_longer_doubted() -> None:
    doubted = replay(HEARD, (Correction(n=1, what="bar 2: section verse"), Correction(n=2, what="bars 1: right")))
    first = next(d.bar for d in doubted.heard.doubts)
    done = after("bar 1: right", f"bar {first}: right")
    assert first not in {d.bar for d in done.heard.doubts}
    assert all(h.confidence == 1.0 and h.by == "teacher" for h in done.heard.hits if h.bar == first)


def test_learning_survives_another_count_of_the_beats() -> None:
    done = after(with_ghost(6), with_ghost(7), "learn from bars 6-7", "tempo x2", "learn")
    assert [c.state for c in done.corrections] == ["applied"] * 5
    times = {round(HEARD.grid.time_at(b, GHOST), 2) for b in (6, 7)}
    assert times <= {round(h.time_s, 2) for h in done.heard.hits if h.sound == "snare"}


def test_what_cannot_be_learnt_is_said_in_one_line() -> None:
    nothing = after("learn")
    assert nothing.corrections[0].state == "unfit"
    assert "learn from bar 12" in nothing.corrections[0].why
    old = msgspec.structs.replace(HEARD, possible=())
    assert "listen again" in after("learn from bar 6", given=old).corrections[0].why
    assert "there is no bar 99" in after("learn from bar 99").corrections[0].why
    assert after("learn from bar 6", given=old).heard.hits == old.hits


LINES = st.lists(
    st.sampled_from([
        *(f"bar {n}: right" for n in (2, 6, 9)), "bar 6: kick 1 2& 3", "bar 8: as bar 6", "bar 9: silent", "learn",
        "learn from bars 7, 11", "bars 5-8: the crash is the ride", "bar 10: choked crash 1", "bar 6: snare 2 2a 4",
    ]),
    min_size=1, max_size=6,
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(LINES)
def test_whatever_is_said_teachers_strokes_stand_and_the_last_undone_gives_back_the_rest(texts: list[str]) -> None:
    before, done = after(*texts[:-1]), after(*texts)
    assert after(*texts, undone=frozenset({len(texts)})).heard.hits == before.heard.hits
    if texts[-1] == "learn":
        assert mine(done) == mine(before)
    assert len({h.id for h in done.heard.hits}) == len(done.heard.hits)


def mine(done: Replayed) -> list[Hit]:
    return sorted((h for h in done.heard.hits if h.by == "teacher"), key=lambda h: h.id)


@pytest.mark.parametrize("text", ["learn from", "learn from bar", "learn bars 3", "learn from chorus"])
def test_other_words_are_not_guessed(text: str) -> None:
    assert after(text).corrections[0].state == "unfit"
