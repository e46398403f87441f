"""An array of ours that is not what it claims stops the work as our fault, not the user's."""

import numpy as np
import pytest

from workbench.errors import WorkbenchError
from workbench.numerics.words import signs
from workbench.plan.verify import (
    BrokenArrayError,
    verify_axial,
    verify_blocks,
    verify_product,
    verify_two_level,
)

HALF = signs((1, 2, 4, 7), 3)


def spoilt(row, column, value):
    array = np.array(HALF)
    array[row, column] = value
    return array


@pytest.mark.parametrize(
    ("array", "resolution", "words"),
    [
        (HALF, None, "resolution is 4, not None"),
        (HALF, 5, "resolution is 4, not 5"),
        (spoilt(0, 0, 0.5), 4, "neither"),
        (spoilt(0, 0, 1.0), 4, "not balanced"),
        (np.vstack([HALF[:4], HALF[:4]]), 4, "two runs are the same"),
        (np.column_stack([HALF, HALF[:, 0]]), 2, "not orthogonal"),
        (signs((1, 2, 3, 4), 3), 4, "resolution is 3"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_broken_two_level_arrays_are_caught(array, resolution, words):
    with pytest.raises(BrokenArrayError, match=words):
        verify_two_level(array, resolution=resolution)


def test_a_fault_of_ours_is_no_mistake_of_the_user():
    assert not issubclass(BrokenArrayError, WorkbenchError)
    verify_two_level(HALF, resolution=4)


def test_broken_blocks_axes_and_products_are_caught():
    with pytest.raises(BrokenArrayError, match="differ in size"):
        verify_blocks(HALF, np.array([1, 1, 1, 2, 2, 2, 2, 2]))
    with pytest.raises(BrokenArrayError, match="a block is not balanced"):
        verify_blocks(HALF, (HALF[:, 0] > 0).astype(np.int64))
    with pytest.raises(BrokenArrayError, match="leaves its axis"):
        verify_axial(np.array([[-1.0, 0.5], [1, 0], [0, -1], [0, 1]]), 1.0)
    with pytest.raises(BrokenArrayError, match="does not have two runs"):
        verify_axial(np.array([[-1.0, 0], [1, 0], [0, 1]]), 1.0)
    with pytest.raises(BrokenArrayError, match="lopsided"):
        verify_axial(np.array([[1.0, 0], [1, 0], [0, -1], [0, 1]]), 1.0)
    with pytest.raises(BrokenArrayError, match="distance is wrong"):
        verify_axial(np.array([[-1.0, 0], [1, 0], [0, -1], [0, 1]]), 1.5)
    with pytest.raises(BrokenArrayError, match="wrong number of runs"):
        verify_product(np.zeros((3, 2)), (2, 2))
    with pytest.raises(BrokenArrayError, match="two runs are the same"):
        verify_product(np.zeros((4, 2)), (2, 2))
    with pytest.raises(BrokenArrayError, match="a level does not exist"):
        verify_product(np.array([[0.0, 0], [0, 1], [1, 0], [2, 1]]), (2, 2))
