"""Blocks: that the choice loses least, held against brute force and worked examples."""

from itertools import combinations

import numpy as np
import pytest

from workbench.numerics.words import product_of, signs
from workbench.plan.confounding import block_of, choose


def lost_products(columns, lost, size):
    return sum(product_of(columns, g) in lost for g in combinations(range(len(columns)), size))


@pytest.mark.parametrize(
    ("columns", "n_basic", "n_blocks", "two", "three"),
    [
        # Recomputed by exhaustive search in another program; the first three are the classic
        # choices of the textbooks (the highest product for two blocks, two of three factors for
        # the 32 runs in four).
        ((1, 2, 4, 8), 4, 2, 0, 0),
        ((1, 2, 4, 8), 4, 4, 1, 2),
        ((1, 2, 4, 8, 16), 5, 4, 0, 2),
        ((1, 2, 4, 8, 16, 32), 6, 4, 0, 0),
    ],
    ids=["16 in 2", "16 in 4", "32 in 4", "64 in 4"],
)
def test_known_best_choices(columns, n_basic, n_blocks, two, three):
    chosen = choose(columns, n_basic, n_blocks=n_blocks, wanted=())
    assert [lost_products(columns, chosen.lost, size) for size in (1, 2, 3)] == [0, two, three]
    label = block_of(2**n_basic, chosen)
    assert list(np.bincount(label)[1:]) == [2**n_basic // n_blocks] * n_blocks
    array = signs(chosen.lost, n_basic)
    for column in array.T:
        assert all(len(set(column[label == b])) == 1 for b in range(1, n_blocks + 1))


def test_no_choice_where_a_main_effect_would_go():
    assert choose((1, 2, 4, 8, 15), 4, n_blocks=8, wanted=()) is None
    assert choose((1, 2), 2, n_blocks=8, wanted=()) is None


def test_products_that_are_wanted_go_last():
    columns = (1, 2, 4, 8)
    for spared in range(1, 16):
        if spared in columns:
            continue
        chosen = choose(columns, 4, n_blocks=4, wanted=(spared,))
        assert spared not in chosen.lost
