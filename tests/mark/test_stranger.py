"""A take of something else is told to be that, with what disagrees; a bad take of this song is not."""

import random

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fourlimb.mark import mark
from fourlimb.model import Hit, Marking

from .takes import FILL, LANDING, chart_of, joined, play

VERSE = "hat every 8th; snare 2 4; kick 1 1a 2& 3& 4a"
CHART, GRID = chart_of(([VERSE] * 3 + [FILL, LANDING] + [VERSE] * 2 + [FILL]) * 2)
HALVES, _ = chart_of(["hat every 4th; snare 3; kick 1 4&", "hat every 4th; snare 3; kick 1 1& 2& 3&"] * 8)


def _doubted(marking: Marking) -> bool:
    return any(say.startswith(("This may not be this song", "This is hardly")) for say in marking.summary.say)


def test_another_groove_is_told_with_what_disagrees() -> None:
    said = mark(play(HALVES, GRID), CHART, GRID).summary.say[0]
    assert said.startswith("This may not be this song: of 64 strokes on kick, drums and crashes only ")
    assert "it fits the form in 4 pieces only" in said
    assert said.endswith("Is it this song, this level and these bars?")


def test_drums_all_over_and_no_fill_are_told() -> None:
    dice = random.Random(2)
    hit = play(CHART, GRID)[0]
    toms = [
        msgspec.structs.replace(hit, id=9000 + n, sound="tom_high", time_s=dice.uniform(3.0, 35.0))
        for n in range(150)
    ]
    take = [*play(CHART, GRID, leave=lambda s: s.bar % 8 in (4, 0) and s.piece != "hat_closed"), *toms]
    said = mark(take, CHART, GRID).summary.say[0]
    assert said.startswith("This may not be this song")
    assert "4 of 4 fills are not there" in said


def test_the_rest_of_the_marking_of_a_doubted_take_stays() -> None:
    marking = mark(play(HALVES, GRID), CHART, GRID)
    assert len(marking.summary.say) > 1
    assert marking.summary.practise_next
    written = sorted((s.bar, s.position, s.piece) for s in marking.strokes if s.verdict != "extra")
    inside = [s for s in CHART.strokes if marking.take.from_bar <= s.bar <= marking.take.to_bar]
    assert written == sorted((s.bar, s.position, s.piece) for s in inside)


@settings(max_examples=25, deadline=None)
@given(
    gone=st.floats(0.0, 0.45), spread_ms=st.floats(4.0, 25.0), ratio=st.floats(0.5, 1.15), seed=st.integers(0, 10**6)
)
def test_a_bad_take_of_this_song_is_never_doubted(gone: float, spread_ms: float, ratio: float, seed: int) -> None:
    dice = random.Random(seed)
    take = play(CHART, GRID, ratio=ratio, jitter_ms=spread_ms, seed=seed, leave=lambda _: dice.random() < gone)
    assert not _doubted(mark(take, CHART, GRID))


def test_a_part_played_three_times_over_is_this_song() -> None:
    tries = [play(CHART, GRID, to_bar=4, start_s=3.0 + 9.0 * n, seed=n) for n in range(3)]
    assert not _doubted(mark(joined(*tries), CHART, GRID))


@settings(max_examples=20, deadline=None)
@given(tries=st.integers(3, 7), gone=st.floats(0.0, 0.3), added=st.floats(0.0, 0.05), seed=st.integers(0, 10**6))
def test_many_bad_tries_at_a_part_are_this_song(tries: int, gone: float, added: float, seed: int) -> None:
    dice = random.Random(seed)
    take = joined(
        *(
            play(
                CHART,
                GRID,
                to_bar=5,
                start_s=3.0 + 12.3 * n,
                jitter_ms=18.0,
                seed=n,
                leave=lambda _: dice.random() < gone,
            )
            for n in range(tries)
        )
    )
    more = [
        msgspec.structs.replace(hit, id=9000 + n, time_s=hit.time_s + 0.125)
        for n, hit in enumerate(take)
        if dice.random() < added
    ]
    assert not _doubted(mark([*take, *more], CHART, GRID))


def test_the_same_grooves_in_another_form_are_told() -> None:
    """Every other bar is this song's; each piece fits somewhere, the form does not."""
    other, grid = chart_of([VERSE, "hat every 8th; snare 2 3& 4; kick 1 1& 2& 4&"] * 8)
    assert _doubted(mark(play(other, grid), CHART, GRID))


def test_a_take_with_hardly_any_kick_or_without_fills_is_this_song() -> None:
    assert not _doubted(mark(play(CHART, GRID, leave=lambda s: s.piece == "kick"), CHART, GRID))
    simple = play(CHART, GRID, leave=lambda s: s.bar % 8 in (4, 0) and s.piece not in ("hat_closed", "kick"))
    assert not _doubted(mark(simple, CHART, GRID))


@pytest.mark.parametrize("ratio", [0.55, 0.8, 1.0])
def test_strokes_added_on_a_tenth_of_all_places_make_no_other_song(ratio: float) -> None:
    dice = random.Random(4)
    take = play(CHART, GRID, ratio=ratio)
    more: list[Hit] = [
        msgspec.structs.replace(hit, id=9000 + n, time_s=hit.time_s + 0.125 / ratio)
        for n, hit in enumerate(take)
        if dice.random() < 0.1
    ]
    assert not _doubted(mark([*take, *more], CHART, GRID))


def test_few_drums_tell_of_no_song() -> None:
    hats = [hit for hit in play(HALVES, GRID) if hit.sound == "hat_closed"]
    marking = mark(hats, CHART, GRID)
    assert not any(say.startswith("This may not be") for say in marking.summary.say)
