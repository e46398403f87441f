"""Box–Behnken structures: counts, moments and blocks for every number of factors offered."""

import numpy as np
import pytest

from workbench.numerics.edge_arrays import edge_array, has_edge_array

# Runs without centre and numbers of blocks (Box and Behnken 1960, Technometrics 2, 455-475).
COUNTS = {3: 12, 4: 24, 5: 40, 6: 48, 7: 56, 9: 120, 10: 160, 11: 176, 12: 192, 16: 384}
BLOCKS = {3: 1, 4: 3, 5: 2, 6: 2, 7: 2, 9: 5, 10: 2, 11: 1, 12: 2, 16: 6}


@pytest.mark.published("Box and Behnken 1960: run counts (from memory)")
@pytest.mark.parametrize("k", COUNTS)
def test_counts_and_moments(k):
    array = edge_array(k)
    x = array.runs
    assert x.shape == (COUNTS[k], k)
    assert set(np.unique(x)) == {-1, 0, 1}
    assert len(set((x**2).sum(axis=1))) == 1
    np.testing.assert_array_equal(x.sum(axis=0), 0)
    assert len(set((x**2).sum(axis=0))) == 1
    np.testing.assert_array_equal(x.T @ x - np.diag((x**2).sum(axis=0)), 0)
    i, j = np.triu_indices(k, 1)
    products = x[:, i] * x[:, j]
    # Third moments vanish, and products of two are clear of squares and of one another.
    np.testing.assert_array_equal(x.T @ products, 0)
    np.testing.assert_array_equal(x.T @ x**2, 0)
    np.testing.assert_array_equal((x**2).T @ products, 0)
    cross = products.T @ products
    np.testing.assert_array_equal(cross - np.diag(np.diagonal(cross)), 0)
    assert np.diagonal(cross).min() >= 4


@pytest.mark.parametrize("k", COUNTS)
def test_they_carry_the_second_order_model_with_one_centre_run(k):
    x = np.vstack([edge_array(k).runs, np.zeros((1, k))])
    i, j = np.triu_indices(k, 1)
    model = np.hstack([np.ones((len(x), 1)), x, x[:, i] * x[:, j], x**2])
    assert np.linalg.matrix_rank(model) == 1 + 2 * k + len(i)


@pytest.mark.parametrize("k", COUNTS)
def test_blocks_are_orthogonal_to_the_model(k):
    array = edge_array(k)
    names = np.unique(array.block)
    assert len(names) == BLOCKS[k]
    i, j = np.triu_indices(k, 1)
    columns = np.hstack([array.runs, array.runs[:, i] * array.runs[:, j], array.runs**2])
    sums = np.array([columns[array.block == name].sum(axis=0) for name in names])
    np.testing.assert_array_equal(sums, sums[:1].repeat(len(names), axis=0))
    assert len({int((array.block == name).sum()) for name in names}) == 1


def test_no_structure_for_other_numbers():
    for k in (2, 8, 13, 14, 15, 17):
        assert not has_edge_array(k)
        with pytest.raises(ValueError, match="no block structure"):
            edge_array(k)
