"""Figures, differences, running order and counts of whole songs."""

from collections.abc import Mapping

import pytest
from hypothesis import given, settings

from fourlimb.model import Chart, Grid, InputError, Kit, Plan, Stroke
from fourlimb.model.codec import from_plain, to_plain
from fourlimb.model.grid import regular
from fourlimb.teach import plan
from fourlimb.teach.changes import apply_changes
from fourlimb.teach.content import Content, contents
from fourlimb.teach.figures import letters
from fourlimb.teach.order import Order

from .written import FILL, GROOVE, RIDE, chart, song, songs

ORDERS: tuple[Order, ...] = ("song", "least new first")


def _by_name(made: Plan, bars: Mapping[int, Content]) -> dict[str, Content]:
    return {figure.name: bars[figure.first] for figure in made.figures}


@settings(max_examples=60, deadline=None)
@given(songs())
def test_every_difference_gives_its_figure_exactly(given_song: tuple[Chart, Grid]) -> None:
    bars = contents(*given_song)
    for order in ORDERS:
        made = plan(*given_song, Kit(), order=order)
        content = _by_name(made, bars)
        for difference in made.differences:
            after = content[difference.to]
            before = content[difference.from_] if difference.from_ else after.empty
            assert apply_changes(before, difference.changes) == after


@settings(max_examples=60, deadline=None)
@given(songs())
def test_figures_part_the_song_and_are_told_from_what_is_known(given_song: tuple[Chart, Grid]) -> None:
    bars = contents(*given_song)
    for order in ORDERS:
        made = plan(*given_song, Kit(), order=order)
        assert sorted(bar for figure in made.figures for bar in figure.bars) == list(given_song[1].numbers)
        for figure in made.figures:
            assert len({bars[bar] for bar in figure.bars}) == 1
        known: set[str] = set()
        for step in made.running_order:
            assert step.by is None or step.by in known
            known.add(step.figure)
        assert known == {figure.name for figure in made.figures}
        told = {difference.to: difference.from_ or None for difference in made.differences}
        sounding = [s for s in made.running_order if not s.figure.startswith("silent")]
        assert told == {step.figure: step.by for step in sounding}


def test_bars_with_the_same_strokes_are_one_figure_whatever_the_hand_or_loudness() -> None:
    given_chart, grid = song([GROOVE, FILL, GROOVE])
    louder = [
        Stroke(bar=s.bar, position=s.position, piece=s.piece, limb="left hand", velocity=101, hits=(7,))
        if s.bar == 3
        else s
        for s in given_chart.strokes
    ]
    made = plan(chart(louder), grid, Kit())
    assert [(figure.name, figure.bars) for figure in made.figures] == [("A", (1, 3)), ("B", (2,))]


@pytest.mark.parametrize(
    ("other", "same"),
    [
        (GROOVE.replace("2&", "2a"), False),
        (GROOVE.replace("snare", "ghost snare"), False),
        (RIDE, False),
        (GROOVE, True),
    ],
)
def test_what_counts_as_the_same_figure(other: str, same: bool) -> None:
    assert (len(plan(*song([GROOVE, other]), Kit()).figures) == 1) is same


def test_the_same_strokes_in_another_meter_are_another_figure() -> None:
    made = plan(*song(["kick 1 2", "kick 1 2"], ["4/4", "3/4"]), Kit())
    assert len(made.figures) == 2
    assert all(difference.from_ == "" for difference in made.differences)


def test_silent_bars_are_a_figure_named_so_and_nothing_is_told_from_them() -> None:
    made = plan(*song(["", GROOVE, "", "kick 1"]), Kit(), order="song")
    assert [figure.name for figure in made.figures] == ["silent", "A", "B"]
    assert all(step.by != "silent" for step in made.running_order)


def test_the_most_common_bar_comes_first_then_the_one_that_differs_least() -> None:
    moved = GROOVE.replace("2&", "2a")
    made = plan(*song([FILL, "kick 1 2 3 4", moved, GROOVE, GROOVE, GROOVE]), Kit())
    first = {figure.name: figure.first for figure in made.figures}
    taught = [first[step.figure] for step in made.running_order]
    assert taught[:2] == [4, 3]
    assert [
        first[step.figure] for step in plan(*song([FILL, GROOVE, GROOVE]), Kit(), order="song").running_order
    ] == [1, 2]


def test_names_run_past_z() -> None:
    assert [letters(n) for n in (0, 25, 26, 27, 51, 52, 701, 702)] == ["A", "Z", "AA", "AB", "AZ", "BA", "ZZ", "AAA"]


def test_an_empty_chart_and_an_empty_grid_have_a_plan() -> None:
    assert plan(chart([]), regular(["4/4"] * 2, 100), Kit()).counts == {1: "(1) (2) (3) (4)", 2: "(1) (2) (3) (4)"}
    nothing = plan(chart([]), Grid(beats=(), bars=()), Kit())
    assert (nothing.figures, nothing.differences, nothing.running_order, nothing.counts) == ((), (), (), {})


def test_strokes_in_bars_that_the_grid_lacks_do_no_harm() -> None:
    given_chart, _ = song([GROOVE, GROOVE, FILL])
    assert len(plan(given_chart, regular(["4/4"], 100), Kit()).figures) == 1


def test_an_unknown_tradition_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InputError, match="takadimi"):
        plan(*song([GROOVE]), Kit(), tradition="klingon")


def test_a_plan_survives_the_round_trip() -> None:
    made = plan(*song([GROOVE, FILL, RIDE, ""]), Kit())
    assert from_plain(to_plain(made), Plan) == made


def test_a_teachers_own_names_reach_the_sentences() -> None:
    kit = Kit(extra={"say": {"kick": "bass drum"}})
    made = plan(*song([GROOVE, GROOVE, GROOVE.replace("2&", "2a")]), kit)
    assert made.differences[-1].say == "as bars 1-2, but the bass drum on 2& moves to 2a"


def test_a_bar_that_is_told_far_shorter_by_itself_is_told_as_new() -> None:
    triplets = "snare 1trip 1let 2trip 2let 3trip 3let 4trip 4let; kick 1 2 3 4"
    made = plan(*song([triplets] * 4 + ["snare every 16th; kick 1 2 3 4"]), Kit())
    told = made.differences[-1]
    assert (told.from_, told.say) == ("", "new: snare on every 16th; kick on every beat")
