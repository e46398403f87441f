"""Tests that a random term has no variance, as F tests of its levels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.kenward_roger import kenward_roger_joint
from workbench.numerics.mixed_rule import ruled_fit
from workbench.numerics.random_terms import indicators, random_terms

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.numerics.kenward_roger import JointTest
    from workbench.numerics.random_terms import RandomTerms


def level_test(
    X: NDArray[np.float64],
    y: NDArray[np.float64],
    *,
    levels: Sequence[NDArray[np.intp]],
    which: int,
) -> JointTest | None:
    """Return the F test that the levels of random term `which` differ only by what lies below.

    Its levels stand as fixed columns after X (n, p) and after the terms it is nested in; terms
    nested in it or crossed with it stay random. Exact in balanced plans, and for the lowest
    term in any plan (Wald 1947, Annals of Mathematical Statistics 18, 586-589). None where X
    leaves no level free or nothing is left to compare with.
    """
    own = levels[which]
    above = [one for i, one in enumerate(levels) if i != which and nested(own, one)]
    beside = [one for i, one in enumerate(levels) if i != which and not nested(own, one)]
    before = np.column_stack([X, *(indicators(one) for one in above)])
    whole = random_terms(np.column_stack([before, indicators(own)]), beside)
    asked = np.flatnonzero(whole.fixed.kept[before.shape[1] :]) + before.shape[1]
    if asked.size == 0 or whole.error_df == 0:
        return None
    return _tested(whole, y, np.eye(whole.fixed.kept.size)[asked])


def nested(inner: NDArray[np.intp], outer: NDArray[np.intp]) -> bool:
    """Return whether each level of `inner` (n,) lies within one level of `outer` (n,)."""
    pairs = np.unique(np.column_stack([inner, outer]), axis=0)
    return bool(pairs.shape[0] == np.unique(inner).size)


def _tested(
    whole: RandomTerms, y: NDArray[np.float64], rows: NDArray[np.float64]
) -> JointTest | None:
    found = ruled_fit(whole, y, [rows])
    return None if found.solution is None else kenward_roger_joint(found.solution, rows)
