"""The model matrix: coded columns, categories that sum to zero, names for people."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.define import (
    Categorical,
    Continuous,
    Settings,
    from_coded,
    full_factorial,
    model_matrix,
    parse_terms,
    preset,
)
from workbench.define import settings as rows_of

DWELL = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0)
SURFACE = Categorical(name="surface", levels=("none", "wiped", "misted"))


def test_columns_by_hand():
    rows = rows_of(
        (DWELL, SURFACE),
        [
            {"dwell": 1, "surface": "none"},
            {"dwell": 3, "surface": "wiped"},
            {"dwell": 2, "surface": "misted"},
        ],
    )
    matrix = model_matrix(parse_terms("dwell * surface, dwell^2", (DWELL, SURFACE)), rows)
    assert matrix.names == (
        "mean",
        "dwell",
        "surface [none]",
        "surface [wiped]",
        "dwell × surface [none]",
        "dwell × surface [wiped]",
        "dwell²",
    )
    np.testing.assert_array_equal(
        matrix.X,
        [[1, -1, 1, 0, -1, 0, 1], [1, 1, 0, 1, 0, 1, 1], [1, 0, -1, -1, 0, 0, 0]],
    )
    np.testing.assert_array_equal(matrix.term, [0, 1, 2, 2, 3, 3, 4])
    np.testing.assert_array_equal(matrix.columns_of(matrix.terms[3]), [4, 5])


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(levels=st.lists(st.integers(2, 4), min_size=1, max_size=3))
def test_a_full_factorial_has_full_rank_and_columns_that_sum_to_zero(levels):
    factors = tuple(
        Categorical(name=f"x{i}", levels=tuple(f"l{j}" for j in range(n)))
        for i, n in enumerate(levels)
    )
    points = np.array(list(product(*(range(n) for n in levels))), dtype=float)
    X = model_matrix(full_factorial(factors), Settings(factors=factors, values=points)).X
    assert X.shape == (len(points), len(points))
    assert np.linalg.matrix_rank(X) == len(points)
    np.testing.assert_allclose(X[:, 1:].sum(axis=0), 0, atol=1e-12)


@pytest.mark.property
@pytest.mark.parametrize("name", ["C", "Q", "Intercept", "1", "None", "a b", "x²"])
def test_names_do_not_change_the_numbers(name):
    other = Continuous(name=name, low=1, high=3, unit="s", setting_sd=0)
    points = np.array([[-1.0], [0.3], [1.0]])
    usual = model_matrix(preset("second-order", (DWELL,)), from_coded((DWELL,), points))
    named = model_matrix(preset("second-order", (other,)), from_coded((other,), points))
    np.testing.assert_array_equal(named.X, usual.X)


def test_a_level_that_was_not_recorded_is_no_average_level():
    rows = Settings(factors=(SURFACE,), values=np.array([[np.nan], [2.0]]))
    X = model_matrix(preset("first-order", (SURFACE,)), rows).X
    np.testing.assert_array_equal(X, [[1, np.nan, np.nan], [1, -1, -1]])


def test_the_matrix_is_locked():
    matrix = model_matrix(preset("first-order", (DWELL,)), rows_of((DWELL,), [{"dwell": 2}]))
    with pytest.raises(ValueError, match="read-only"):
        matrix.X[0, 0] = 2
