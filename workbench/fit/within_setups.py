"""Answers where runs share setups of a slow factor: what changes within setups is tested."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.linear_answers import Weighted
from workbench.numerics.least_squares import factored

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.linear_answers import Answers, Joint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WithinSetups:
    """Columns that change within setups, with one column a setup in place of all the others.

    `fast` (r,) marks the columns of the model that change within some setup, `X` holds them
    first, in their order, and the setups behind them.
    """

    fast: NDArray[np.bool_]
    X: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WithinAnswers:
    """What changes within setups as `within` says; the rest without interval and test.

    `plain` takes every run as a setup of its own: its values stand, its certainty does not.
    """

    plain: Answers
    within: Answers
    columns: WithinSetups
    reason: Unavailable

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return what is known of weights (r,) @ coefficients."""
        if (weights[~self.columns.fast] != 0).any():
            value = self.plain.weighted(weights).value
            return Weighted(
                value=value, estimate=self.reason, statistic=self.reason, p=self.reason
            )
        padded = np.zeros(self.columns.X.shape[1])
        padded[: int(self.columns.fast.sum())] = weights[self.columns.fast]
        return self.within.weighted(padded)

    def joint(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        """Return the test that the coefficients at places (q,) are zero."""
        if not self.columns.fast[places].all():
            return self.reason
        return self.within.joint(np.cumsum(self.columns.fast)[places] - 1)


def within_setups(X: NDArray[np.float64], setup: NDArray[np.int64]) -> WithinSetups:
    """Return the columns of X (n, r) that change within setups (n,), with the setups."""
    labels, of = np.unique(setup, return_inverse=True)
    member = (of.reshape(-1)[:, None] == np.arange(labels.size)).astype(float)
    means = (member.T @ X) / member.sum(axis=0)[:, None]
    fast = (np.abs(X - member @ means) > 1e-9).any(axis=0)
    whole = np.hstack([member, X[:, fast]])
    kept = factored(whole).kept
    # A fast column that setups hold already has no answer of its own.
    fast = fast.copy()
    fast[np.flatnonzero(fast)[~kept[labels.size :]]] = False
    return WithinSetups(fast=fast, X=np.hstack([X[:, fast], member]))


def too_few_setups(factors: tuple[str, ...], n_setups: int) -> Unavailable:
    """Return why slow factors have no interval and no test here."""
    several = len(factors) > 1
    return Unavailable(
        reason=f"{' and '.join(factors)} {'were' if several else 'was'} reset only {n_setups} "
        "times, and runs of one setup share its reset; a test of this kind of outcome over so "
        "few setups does not keep its error rate, so none is given"
    )
