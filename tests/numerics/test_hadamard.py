"""Hadamard and conference matrices and the arrays from them, in every order that is built."""

from itertools import combinations

import numpy as np
import pytest

from workbench.files.evidence import published
from workbench.numerics.galois import field_of, jacobsthal, prime_power
from workbench.numerics.hadamard import conference, hadamard, has_conference, has_hadamard
from workbench.numerics.screening_arrays import (
    conference_order,
    definitive_array,
    projectivity,
    two_level_array,
)

DETERMINANTS = published("hadamard-maximal-determinants")
DEFINITIVE = published("definitive-screening-structure")


@pytest.mark.parametrize("order", [1, 2, *range(4, 101, 4)])
def test_hadamard_matrices_of_all_orders(order):
    matrix = hadamard(order)
    assert set(np.unique(matrix)) <= {-1, 1}
    assert (matrix[:, 0] == 1).all()
    np.testing.assert_array_equal(matrix.T @ matrix, order * np.eye(order))
    np.testing.assert_array_equal(matrix @ matrix.T, order * np.eye(order))


@pytest.mark.published("Hadamard 1893; values from memory, bounds recomputed")
@pytest.mark.parametrize("order", [4, 8, 12, 16, 20])
def test_they_reach_the_largest_determinant(order):
    expected = DETERMINANTS.expected["max_abs_det"][f"order_{order}"].value
    assert abs(np.linalg.det(hadamard(order))) == pytest.approx(expected, rel=1e-12)
    row = DETERMINANTS.tables["data"].set_index("order").loc[order]
    assert row["upper_bound"] == pytest.approx(expected)


@pytest.mark.parametrize("order", [n for n in range(4, 33, 2) if n != 22])
def test_conference_matrices_of_all_orders(order):
    matrix = conference(order)
    assert has_conference(order)
    np.testing.assert_array_equal(np.diagonal(matrix), 0)
    assert (np.abs(matrix) + np.eye(order) == 1).all()
    np.testing.assert_array_equal(matrix.T @ matrix, (order - 1) * np.eye(order))


def test_orders_that_do_not_exist_are_refused():
    assert not has_conference(22)
    with pytest.raises(ValueError, match="22 exists"):
        conference(22)
    for order in (3, 6, 10, 104):
        assert not has_hadamard(order)
        with pytest.raises(ValueError, match="no Hadamard matrix"):
            hadamard(order)
    with pytest.raises(ValueError, match="no conference matrix"):
        conference(5)
    assert conference_order(21) == 24
    assert conference_order(33) is None


@pytest.mark.parametrize("q", [3, 5, 7, 9, 11, 13, 25, 27, 49])
def test_quadratic_characters(q):
    matrix = jacobsthal(q)
    # Paley 1933: half of the non-zero elements are squares, and QQ′ = qI − J.
    np.testing.assert_array_equal(matrix.sum(axis=1), 0)
    np.testing.assert_array_equal(matrix @ matrix.T, q * np.eye(q) - 1)
    np.testing.assert_array_equal(matrix.T, (1 if q % 4 == 1 else -1) * matrix)


def test_fields():
    assert prime_power(1) is None
    assert prime_power(12) is None
    assert prime_power(27) == (3, 3)
    for q in (6, 16, 32):
        with pytest.raises(ValueError, match="no field"):
            field_of(q)
    with pytest.raises(ValueError, match="are squares"):
        jacobsthal(8)


@pytest.mark.parametrize("n_runs", range(4, 101, 4))
def test_two_level_arrays_are_orthogonal_with_all_columns_and_with_half(n_runs):
    for k in {n_runs - 1, max(1, n_runs // 2)}:
        array = two_level_array(n_runs, k)
        assert array.shape == (n_runs, k)
        np.testing.assert_array_equal(array.sum(axis=0), 0)
        np.testing.assert_array_equal(array.T @ array, n_runs * np.eye(k))
        if n_runs % 8 == 0 and k <= n_runs // 2:
            products = np.einsum("ni,nj,nk->ijk", array, array, array)
            np.testing.assert_array_equal(products, 0)
    with pytest.raises(ValueError, match="at most"):
        two_level_array(n_runs, n_runs)


@pytest.mark.published("Box and Tyssedal 1996; triples of 12, 20, 24 runs counted elsewhere too")
@pytest.mark.parametrize(
    ("n_runs", "p"),
    [(8, 2), (12, 3), (16, 2), (20, 3), (24, 3), (28, 3), (32, 3), (36, 3), (40, 2), (48, 3)],
)
def test_projectivity_of_saturated_arrays(n_runs, p):
    assert projectivity(two_level_array(n_runs, n_runs - 1), most=3) == p


def test_projectivity_against_its_definition():
    rng = np.random.default_rng(3)
    for _ in range(40):
        n, k = int(rng.integers(4, 24)), int(rng.integers(2, 6))
        array = rng.choice([-1, 1], size=(n, k))
        wanted = 0
        for p in range(1, min(4, k) + 1):
            seen = [len(np.unique(array[:, c], axis=0)) for c in combinations(range(k), p)]
            if min(seen) < 2**p:
                break
            wanted = p
        assert projectivity(array) == wanted


@pytest.mark.published("Jones and Nachtsheim 2011; Xiao, Lin and Bai 2012 (from memory)")
@pytest.mark.parametrize("m", [4, 6, 8, 12, 14, 18])
def test_structure_of_definitive_arrays(m):
    expected = {group: values.get(f"m{m}") for group, values in DEFINITIVE.expected.items()}
    array = definitive_array(m, order=m)
    assert len(array) == expected["runs"].value
    assert set((array == 0).sum(axis=0)) == {expected["zeros_per_factor"].value}
    assert set((array**2).sum(axis=0)) == {expected["main_effect_sum_of_squares"].value}
    np.testing.assert_array_equal(array.T @ array, (2 * m - 2) * np.eye(m))
    i, j = np.triu_indices(m, 1)
    squares, products = array.astype(float) ** 2, (array[:, i] * array[:, j]).astype(float)
    assert np.abs(array.T @ squares).max() == expected["max_abs_main_times_square"].value
    assert np.abs(array.T @ products).max() == expected["max_abs_main_times_interaction"].value
    correlation = np.corrcoef(np.hstack([squares, products]).T)
    between = correlation[:m, :m][np.triu_indices(m, 1)]
    one = expected["correlation_between_squares"]
    np.testing.assert_allclose(between, one.value, atol=one.tol)
    cross = np.abs(correlation[:m, m:])
    inside = (np.arange(m)[:, None] == i) | (np.arange(m)[:, None] == j)
    for name, entries in (("not_containing", cross[~inside]), ("containing", cross[inside])):
        one = expected[f"max_abs_correlation_square_with_interaction_{name}_it"]
        assert entries.max() == pytest.approx(one.value, abs=one.tol)
    whole = np.hstack([np.ones((len(array), 1)), array, squares])
    rank = expected["rank_of_constant_linear_square_model"].value
    assert np.linalg.matrix_rank(whole) == rank


@pytest.mark.published("Jones and Nachtsheim 2011: any three of six or more factors (from memory)")
@pytest.mark.parametrize("m", [6, 8, 12])
def test_second_order_model_in_any_three_factors(m):
    array = definitive_array(m, order=m).astype(float)
    ranks = []
    for chosen in combinations(range(m), 3):
        x = array[:, chosen]
        pairs = x[:, [0, 0, 1]] * x[:, [1, 2, 2]]
        ranks.append(np.linalg.matrix_rank(np.hstack([np.ones((len(x), 1)), x, x**2, pairs])))
    expected = DEFINITIVE.expected["min_rank_second_order_in_any_three_factors"]
    assert min(ranks) == expected[f"m{m}"].value


def test_printed_definitive_plan_is_ours_up_to_signs():
    printed = DEFINITIVE.tables["data"].to_numpy()
    ours = definitive_array(6, order=6)
    for array in (printed, ours):
        np.testing.assert_array_equal(array.T @ array, 10 * np.eye(6))
    assert sorted((np.abs(printed)).sum(axis=1)) == sorted((np.abs(ours)).sum(axis=1))
