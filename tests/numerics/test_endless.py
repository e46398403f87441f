"""Directions without a finite estimate."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.numerics.endless import endless

X = np.column_stack([np.ones(4), np.array(list(product((-1.0, 1.0), repeat=2)))])
FULL = np.column_stack([X, X[:, 1] * X[:, 2]])


def test_rows_that_hold_every_column_leave_nothing_open():
    assert endless(X, np.array([0, 0, 0, 1])) is None


def test_one_open_cell_of_a_saturated_model():
    found = endless(FULL, np.array([0, 0, 0, 1]))
    assert found.rows.tolist() == [False, False, False, True]
    assert [found.rises(way) for way in np.eye(4)] == [1, 1, 1, 1]
    assert found.is_finite(FULL[0])
    assert not found.is_finite(FULL[3])


def test_pulls_both_ways_hold_each_other():
    twice = np.vstack([FULL, FULL[3:]])
    assert endless(twice, np.array([0, 0, 0, 1, -1])) is None


def test_two_open_cells_leave_a_difference_open_both_ways():
    found = endless(FULL, np.array([0, 0, 1, 1]))
    assert found.rows.sum() == 2
    assert found.rises(FULL[3] - FULL[2]) == 2
    assert found.rises(FULL[3] + FULL[2]) == 1
    assert found.rises(-FULL[3]) == -1


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(
    pulls=st.lists(st.sampled_from([-1, 0, 0, 1]), min_size=8, max_size=8),
    seed=st.integers(0, 10**6),
)
def test_direction_lifts_every_row_it_names_and_hurts_none(pulls, seed):
    matrix = np.random.default_rng(seed).standard_normal((8, 5))
    pull = np.array(pulls)
    found = endless(matrix, pull)
    if found is None:
        return
    # The rows that rise are those whose own sum is endless in the direction of their pull.
    for i in np.flatnonzero(pull):
        way = found.rises(pull[i] * matrix[i])
        assert way == (1 if found.rows[i] else 0)
    assert all(found.is_finite(matrix[i]) for i in np.flatnonzero(pull == 0))
