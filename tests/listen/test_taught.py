"""Bars put right teach the others; what the teacher wrote never changes; which bars are worth checking."""

from fractions import Fraction as F
from random import Random

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from listen_material import SONG, performance

from fourlimb.listen import Spoken, learn, still_possible
from fourlimb.listen.chances import USUAL, chances, latent, moderated
from fourlimb.listen.chances import given as odds_given
from fourlimb.listen.chances import shared as covariance
from fourlimb.listen.network import Answer
from fourlimb.listen.odds import probability
from fourlimb.listen.trained import NO_BEATS, NetworkEars
from fourlimb.listen.worth import worth
from fourlimb.model import SOUNDS, Hit, Listening, Possible, Sound
from fourlimb.model.codec import decode, encode
from fourlimb.model.grid import regular

BARS = 16
GRID = regular(["4/4"] * BARS, 120.0)
HITS = tuple(msgspec.structs.replace(h, confidence=0.97) for h in performance(BARS, 120.0))
GHOST = F(7, 16)


def possible(bar: int, place: F, sound: Sound = "snare", confidence: float = 0.3) -> Possible:
    return Possible(time_s=GRID.time_at(bar, place), sound=sound, loudness_db=-20.0, confidence=confidence)


def stretch(bar: int, sounds: frozenset[Sound] = frozenset(SOUNDS)) -> Spoken:
    return Spoken(GRID.at(bar).start_s - 0.03, GRID.end(bar) - 0.03, sounds)


def wrote(number: int, bar: int, place: F, sound: Sound) -> Hit:
    return Hit(
        id=number, time_s=GRID.time_at(bar, place), sound=sound, loudness_db=-9.0, confidence=1.0, bar=bar,
        position=place, by="teacher",
    )  # fmt: skip


def at(hits: tuple[Hit, ...], place: F, sound: Sound) -> set[int]:
    return {h.bar for h in hits if h.position == place and h.sound == sound and h.bar is not None}


GHOSTS = tuple(possible(bar, GHOST, confidence=0.45) for bar in range(1, BARS + 1))


def test_a_soft_stroke_put_right_in_one_bar_is_found_in_the_bars_like_it() -> None:
    taught = (*HITS, wrote(900, 2, GHOST, "snare"))
    learnt = learn(GRID, HITS, taught, GHOSTS, [stretch(2)])
    assert at(learnt.hits, GHOST, "snare") == set(range(1, BARS + 1))
    assert len(learnt.added) == BARS - 1
    assert not learnt.gone
    assert all(h.by == "ears" and 0.5 < h.confidence < 1 for h in learnt.added)
    assert len({h.id for h in learnt.hits}) == len(learnt.hits)


def test_the_fainter_the_more_bars_must_say_so() -> None:
    faint = tuple(possible(bar, GHOST, confidence=0.1) for bar in range(1, BARS + 1))
    one = (*HITS, wrote(900, 2, GHOST, "snare"))
    assert at(learn(GRID, HITS, one, faint, [stretch(2)]).hits, GHOST, "snare") == {2}
    three = (*one, wrote(901, 6, GHOST, "snare"), wrote(902, 11, GHOST, "snare"))
    said = [stretch(bar) for bar in (2, 6, 11)]
    assert at(learn(GRID, HITS, three, faint, said).hits, GHOST, "snare") == set(range(1, BARS + 1))


def test_nothing_is_written_where_nothing_was_possible() -> None:
    taught = (*HITS, wrote(900, 2, GHOST, "snare"))
    learnt = learn(GRID, HITS, taught, GHOSTS[:6], [stretch(2)])
    assert at(learnt.hits, GHOST, "snare") == set(range(1, 7))


def test_a_doubtful_stroke_that_is_wrong_in_one_bar_goes_in_the_bars_like_it() -> None:
    strays = tuple(
        Hit(id=500 + b, time_s=GRID.time_at(b, GHOST), sound="kick", loudness_db=-9, confidence=0.6, bar=b, position=GHOST)
        for b in range(1, BARS + 1)
    )  # fmt: skip
    first = tuple(sorted((*HITS, *strays), key=lambda h: (h.time_s, h.id)))
    taught = tuple(h for h in first if h.id != 502)
    learnt = learn(GRID, first, taught, (), [stretch(2)])
    assert at(learnt.hits, GHOST, "kick") == set()
    assert {h.id for h in learnt.gone} == {h.id for h in strays} - {502}


def test_one_bar_without_its_backbeat_does_not_take_it_from_the_others() -> None:
    taught = tuple(h for h in HITS if (h.bar, h.sound, h.position) != (5, "snare", F(1, 4)))
    learnt = learn(GRID, HITS, taught, (), [stretch(5)])
    assert at(learnt.hits, F(1, 4), "snare") == set(range(1, BARS + 1)) - {5}
    assert not learnt.gone


def test_where_only_one_piece_was_said_the_others_of_that_bar_are_still_judged() -> None:
    taught = (*HITS, wrote(900, 2, GHOST, "snare"))
    more = (*GHOSTS, *(possible(bar, GHOST, "kick") for bar in range(1, BARS + 1)))
    learnt = learn(GRID, HITS, taught, more, [stretch(2, frozenset({"snare"}))])
    assert at(learnt.hits, GHOST, "snare") == set(range(1, BARS + 1))
    assert at(learnt.hits, GHOST, "kick") == set()


def test_learning_again_starts_from_what_was_heard() -> None:
    taught = (*HITS, wrote(900, 2, GHOST, "snare"))
    once = learn(GRID, HITS, taught, GHOSTS, [stretch(2)])
    twice = learn(GRID, HITS, once.hits, GHOSTS, [stretch(2)])
    assert twice.hits == once.hits
    # then the teacher says that three other bars have no ghost: what was added goes again
    kept = tuple(h for h in once.hits if not (h.bar in (3, 4, 5) and h.position == GHOST))
    fewer = learn(GRID, HITS, kept, GHOSTS, [stretch(bar) for bar in (2, 3, 4, 5)])
    assert len(at(fewer.hits, GHOST, "snare")) < BARS - 3


def test_nothing_said_changes_no_stroke() -> None:
    learnt = learn(GRID, HITS, HITS, GHOSTS, [])
    assert [h.id for h in learnt.hits] == [h.id for h in HITS]
    assert (learnt.added, learnt.gone) == ((), ())
    assert learn(GRID, (), (), GHOSTS, [stretch(1)]).hits == ()
    bell = msgspec.structs.replace(HITS[0], sound="cowbell")
    assert learn(GRID, (bell,), (bell,), (), [stretch(1)]).hits == (bell,), "nothing of the kit is heard or possible"
    assert dict(worth(GRID, (bell,), ()))[1] > 0


def test_the_ears_keep_what_they_were_not_sure_of_and_nothing_twice() -> None:
    ears = NetworkEars()
    hits = np.full((400, len(SOUNDS)), 0.001, np.float32)
    bump = np.array([0.3, 0.8, 1.0, 0.8, 0.3], np.float32)
    for frame, sound, height in ((50, "kick", 0.95), (100, "kick", 0.5), (101, "tom_floor", 0.2), (150, "snare", 0.9),
                                 (151, "rim", 0.05), (200, "shaker", 0.5), (250, "hat_closed", 0.03)):  # fmt: skip
        hits[frame - 2 : frame + 3, [str(s) for s in SOUNDS].index(sound)] = bump * height
    strokes, possible = ears.decided(Answer(hits, np.full_like(hits, 0.5), np.zeros((400, 4), np.float32)), NO_BEATS)
    assert [(s.sound, round(s.time_s, 1)) for s in strokes] == [("kick", 0.5), ("snare", 1.5)]
    assert ("kick", 1.0) in [(s.sound, round(s.time_s, 1)) for s in possible]
    assert not {"rim", "shaker"} & {s.sound for s in possible}, "explained by the snare; not of the kit"
    assert all(0.05 <= s.confidence < 1 and s.loudness_db <= 0 for s in possible)
    assert strokes == ears.strokes(Answer(hits, np.full_like(hits, 0.5), np.zeros((400, 4), np.float32)), NO_BEATS)


def test_what_was_possible_is_written_and_read_back() -> None:
    heard = Listening(song=SONG, grid=GRID, hits=HITS, possible=GHOSTS)
    assert decode(encode(heard), Listening).possible == GHOSTS
    older = encode(msgspec.structs.replace(heard, possible=())).replace(b'"possible":[],', b"")
    assert decode(older, Listening).possible == ()


Drawn = tuple[int, F, Sound, float, float]
"""Bar, place, sound, confidence, how late."""

HEARD = st.lists(
    st.tuples(
        st.integers(1, BARS), st.sampled_from([F(n, 16) for n in range(16)]), st.sampled_from(SOUNDS),
        st.floats(0.3, 0.99), st.floats(-0.02, 0.02),
    ),
    min_size=1, max_size=50,
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(HEARD, HEARD, st.sets(st.integers(1, BARS), min_size=1, max_size=4), st.randoms(use_true_random=False))
def test_what_the_teacher_put_right_never_changes(
    heard: list[Drawn], maybe: list[Drawn], right: set[int], draw: Random
) -> None:
    first = tuple(
        Hit(id=n, time_s=round(max(GRID.time_at(b, p) + off, 0.0), 4), sound=s, loudness_db=-9, confidence=round(c, 3), bar=b, position=p)
        for n, (b, p, s, c, off) in enumerate(heard, start=1)
    )  # fmt: skip
    unsure = tuple(possible(b, p, s, round(c / 2, 3)) for b, p, s, c, _ in maybe)
    said = [stretch(bar) for bar in sorted(right)]
    now = [h for h in first if h.bar not in right or draw.random() < 0.6]
    now = [msgspec.structs.replace(h, by="teacher", confidence=1.0) if h.bar in right else h for h in now]
    by_hand = [msgspec.structs.replace(h, by="teacher", sound="crash") if draw.random() < 0.1 else h for h in now]
    hits = tuple(sorted(by_hand, key=lambda h: (h.time_s, SOUNDS.index(h.sound), h.id)))
    learnt = learn(GRID, first, hits, unsure, said)
    assert [h for h in learnt.hits if h.by == "teacher"] == [h for h in hits if h.by == "teacher"]
    inside = [h for h in learnt.added if any(s.start_s <= h.time_s < s.end_s for s in said)]
    assert not inside, "nothing is added to a bar that is right"
    assert len({h.id for h in learnt.hits}) == len(learnt.hits)
    assert learn(GRID, first, hits, unsure, said) == learnt
    assert learn(GRID, first, learnt.hits, unsure, said).hits == learnt.hits


def test_what_is_possible_ends_where_the_teacher_has_spoken() -> None:
    assert still_possible(GHOSTS, [stretch(2)]) == (GHOSTS[0], *GHOSTS[2:])
    assert still_possible(GHOSTS, [stretch(2, frozenset({"kick"}))]) == GHOSTS


@pytest.mark.parametrize(
    ("prior", "true"), [(-3.0, True), (-1.0, True), (0.5, True), (-1.0, False), (1.5, False), (3.0, False)]
)
def test_odds_after_one_known_stroke_are_those_of_integration(prior: float, true: bool) -> None:
    """Against the integral over both shifts on a grid of points."""
    sure = float(probability(np.array([prior]))[0])
    pair = (possible(2, GHOST, confidence=sure), possible(9, GHOST, confidence=0.3))
    rows = chances(GRID, HITS, pair)
    known, asked = (
        np.array([i]) for i, t in enumerate(rows.time_s) if t in {p.time_s for p in pair} and rows.hit[i] < 0
    )
    found = odds_given(rows, known, np.array([true]), asked)[0]
    shared = float(covariance(rows, known, asked)[0, 0])
    points = np.linspace(-30, 30, 3001)
    one = np.exp(-0.5 * points**2 / USUAL.variance)
    seen = probability(latent(rows.odds[known], USUAL.variance)[0] + points)
    one *= seen if true else 1 - seen
    mean, rest = shared / USUAL.variance * points, USUAL.variance - shared**2 / USUAL.variance
    wanted = (
        one * probability(moderated(latent(rows.odds[asked], USUAL.variance)[0] + mean, np.full(len(mean), rest)))
    ).sum() / one.sum()
    share = probability(np.array([found]))[0]
    assert share == pytest.approx(wanted, abs=0.02)
    before = probability(rows.odds[asked])[0]
    assert (share > before) == true


def test_of_bars_alike_one_is_asked_for_before_its_copies() -> None:
    other = regular(["4/4"] * 16, 120.0)
    tops = [
        msgspec.structs.replace(h, sound="ride" if h.sound == "hat_closed" else h.sound)
        for h in HITS
        if (h.bar or 0) > 8
    ]
    hits = tuple([h for h in HITS if (h.bar or 0) <= 8] + tops)
    unsure = (*(possible(b, F(n, 16), "snare", 0.4) for b in range(1, 9) for n in (3, 7, 10)),
              *(possible(b, F(n, 16), "tom_high", 0.38) for b in range(9, 17) for n in (1, 9, 13)))  # fmt: skip
    order = [bar for bar, _ in worth(other, hits, unsure)]
    assert sorted(order) == list(range(1, 17))
    assert (order[0] <= 8) != (order[1] <= 8)


def test_a_bar_that_teaches_many_is_worth_more_than_its_own_strokes() -> None:
    values = dict(worth(GRID, HITS, GHOSTS))
    alone = dict(worth(GRID, HITS, GHOSTS[:1]))
    assert max(values.values()) > max(alone.values())
    written = tuple(msgspec.structs.replace(h, by="teacher", confidence=1.0) for h in HITS)
    assert max(dict(worth(GRID, written, ())).values()) == 0.0
