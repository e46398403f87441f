"""Words of two-level fractions against the published tables and against brute force."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.files.evidence import published
from workbench.numerics import words
from workbench.plan.fraction_table import FRACTIONS

if TYPE_CHECKING:
    from workbench.plan.fraction_table import TwoLevelFraction

CHECK = published("two-level-fractions")


def _named(runs: int, k: int) -> TwoLevelFraction:
    (row,) = [one for one in FRACTIONS if (one.runs, one.k) == (runs, k)]
    return row


@pytest.mark.parametrize("row", FRACTIONS, ids=lambda row: f"{row.runs}x{row.k}")
def test_pattern_of_every_row_is_recomputed(row: TwoLevelFraction) -> None:
    counted = words.word_lengths_by_transform(row.columns, row.n_basic)
    claimed = (0, 0, *row.word_lengths)
    assert counted == claimed + (0,) * (row.k - len(claimed))
    assert row.resolution == next(i for i, n in enumerate(counted, 1) if n)
    if row.k - row.n_basic <= 15:
        assert words.word_lengths_by_listing(row.columns, row.n_basic) == counted


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.4.7, table 3.17")
@pytest.mark.parametrize("name", CHECK.expected["max_resolution"])
def test_resolution_reaches_the_handbook_table(name: str) -> None:
    shape, runs = name.split("_runs")
    k = int(shape[3 : shape.index("-")])
    reached = words.resolution_of(
        words.signs(_named(int(runs), k).columns, int(runs).bit_length() - 1)
    )
    assert reached == CHECK.expected["max_resolution"][name].value


@pytest.mark.published("Chen, Sun and Wu 1993, International Statistical Review 61 (from memory)")
@pytest.mark.parametrize("name", CHECK.expected["minimum_aberration_words_from_length_3"])
def test_least_aberration_patterns_of_the_catalogue(name: str) -> None:
    runs, k = name.removeprefix("runs").split("_factors")
    expected = CHECK.expected["minimum_aberration_words_from_length_3"][name].value
    assert isinstance(expected, list)
    trimmed = expected[: len(expected) - next(i for i, n in enumerate(expected[::-1]) if n)]
    assert list(_named(int(runs), int(k)).word_lengths) == trimmed


@pytest.mark.published("NIST/SEMATECH e-Handbook 5.3.3.8.1, tables 3.34 and following")
def test_defining_words_of_the_sixteenth_fraction_of_seven() -> None:
    columns = (1, 2, 4, 3, 5, 6, 7)
    found = {
        "".join(str(j + 1) for j in range(7) if word >> j & 1)
        for word in words.defining_words(columns, 3).tolist()
    }
    assert found == set(CHECK.expected["resolution3_2^(7-4)"]["defining_words"].value)


@pytest.mark.property
@settings(max_examples=40, deadline=None)
@given(data=st.data(), n_basic=st.integers(2, 5))
def test_names_multiply_as_columns_do(data: st.DataObject, n_basic: int) -> None:
    names = tuple(data.draw(st.lists(st.integers(1, 2**n_basic - 1), min_size=2, max_size=6)))
    array = words.signs(names, n_basic)
    for pair in combinations(range(len(names)), 2):
        both = words.signs((words.product_of(names, pair),), n_basic)[:, 0]
        np.testing.assert_array_equal(both, array[:, pair[0]] * array[:, pair[1]])


def test_a_full_factorial_has_no_resolution() -> None:
    assert words.resolution_of(words.signs((1, 2, 4), 3)) is None
