"""Two sequences paired in order."""

import itertools

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.mark.order import in_order

TIMES = st.lists(st.floats(0, 5), max_size=30).map(lambda values: np.array(sorted(values)))


@given(TIMES, TIMES)
def test_pairs_are_one_to_one_in_order_and_within_reach(due: np.ndarray, times: np.ndarray) -> None:
    pairs = in_order(due, times, 0.12)
    for (a, b), (c, d) in itertools.pairwise(pairs):
        assert a < c
        assert b < d
    assert all(abs(due[a] - times[b]) <= 0.12 + 1e-9 for a, b in pairs)


@given(TIMES)
def test_a_sequence_is_paired_with_itself(due: np.ndarray) -> None:
    assert in_order(due, due, 0.12) == [(n, n) for n in range(len(due))]


def test_a_run_that_rushes_by_more_than_half_a_gap_keeps_its_order() -> None:
    due = np.arange(8) * 0.125
    rushed = due - np.linspace(0, 0.09, 8)
    assert in_order(due, rushed, 0.12) == [(n, n) for n in range(8)]


def test_a_missing_stroke_does_not_shift_the_others() -> None:
    due = np.arange(8) * 0.125
    assert [a for a, _ in in_order(due, np.delete(due, 3), 0.12)] == [0, 1, 2, 4, 5, 6, 7]


def test_a_row_longer_than_one_chunk_loses_nothing() -> None:
    due = np.arange(1000) * 0.1
    assert in_order(due, due + 0.03, 0.12) == [(n, n) for n in range(1000)]
