"""Pass/fail answers where runs share setups: each term is judged by the scatter it lives in.

What changes within setups is fitted with every setup a level of its own. What changes only
between setups is fitted to one number a setup, its empirical logit, so that setups are the
replicates (the two-stage analysis of Hayes and Moulton 2017, Cluster Randomised Trials, 2nd ed.,
chapter 10). Their intervals are profiles held against the scatter of setups, because empirical
logits of few parts are too short. Simulated with 8 setups of 4 runs, scatter between setups from
0 to 2 logits: 5 % tests between .035 and .06, where tests that take runs as independent reach .60;
intervals of what changes between setups cover .98 to 1 (tests/studies/pass_fail_errors.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtri, expit, fdtrc, logit, stdtr

from workbench.errors import Unavailable
from workbench.fit.core import CONFIDENCE
from workbench.fit.linear_answers import Joint, Weighted
from workbench.fit.outcome_model import VarianceComponent
from workbench.fit.pass_fail_answers import PassAnswers, Yardstick, run_yardstick
from workbench.fit.within_setups import within_setups
from workbench.numerics.least_squares import factored, joint_sum_of_squares, solved
from workbench.numerics.pass_counts import PassCounts, pass_counts
from workbench.numerics.pass_dispersion import pass_dispersion
from workbench.numerics.pass_rows import JeffreysPenalty, PassRows
from workbench.numerics.penalised_logistic import penalised_logistic
from workbench.numerics.random_intercept import grouping, intercept_span, random_intercept

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.within_setups import WithinSetups
    from workbench.numerics.least_squares import Factored
    from workbench.numerics.penalised_logistic import PenalisedLogistic

FEWEST_DF = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunCounts:
    """One row a run (n,): columns X (n, r), passes, parts, fitted rates, number of its setup."""

    X: NDArray[np.float64]
    passed: NDArray[np.float64]
    parts: NDArray[np.float64]
    rates: NDArray[np.float64]
    setup: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BetweenSetups:
    """Least squares on empirical logits, one a setup: estimates (w,) of the columns `whole`.

    `cautious` are the answers of the fit with the dispersion of setups, for intervals.
    """

    cautious: PassAnswers
    whole: Factored
    estimates: NDArray[np.float64]
    unscaled: NDArray[np.float64]
    variance: float
    error_df: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetupAnswers:
    """Answers by stratum: `fast` (r,) marks columns that change within setups.

    `between` says of the others, Unavailable where setups are too few.
    """

    plain: PassAnswers
    within: PassAnswers
    between: BetweenSetups | Unavailable
    columns: WithinSetups

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return what is known of weights (r,) @ coefficients."""
        fast = self.columns.fast
        if (weights[~fast] != 0).any():
            return self._between(weights)
        padded = np.zeros(self.within.fit.estimates.size)
        padded[: int(fast.sum())] = weights[fast]
        return self.within.weighted(padded)

    def joint(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        """Return the test that the coefficients at places (q,) are zero."""
        fast = self.columns.fast
        if fast[places].all():
            return self.within.joint(np.cumsum(fast)[places] - 1)
        if fast[places].any():
            return _in_both()
        return self._joint_between(np.cumsum(~fast)[places] - 1)

    def _between(self, weights: NDArray[np.float64]) -> Weighted:
        fast, found = self.columns.fast, self.between
        value = float(weights @ self.plain.fit.estimates)
        if (weights[fast] != 0).any():
            found = _in_both()
        if isinstance(found, Unavailable):
            return Weighted(value=value, estimate=found, statistic=found, p=found)
        own = weights[~fast]
        told = found.cautious.weighted(weights)
        std_error = float(np.sqrt(found.variance * (own @ found.unscaled @ own)))
        if std_error == 0 or (own[~found.whole.kept] != 0).any():
            same = _all_alike() if std_error == 0 else _not_kept()
            return Weighted(value=value, estimate=same, statistic=same, p=same)
        t = float(own @ found.estimates) / std_error
        p = float(2 * stdtr(found.error_df, -abs(t)))
        return Weighted(value=value, estimate=told.estimate, statistic=t, p=p)

    def _joint_between(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        found = self.between
        if isinstance(found, Unavailable):
            return found
        if found.variance == 0:
            return _all_alike()
        if not found.whole.kept[places].all():
            return _not_kept()
        squares = float(
            joint_sum_of_squares(found.estimates[places], found.unscaled[np.ix_(places, places)])
        )
        statistic = squares / places.size / found.variance
        return Joint(
            fall=squares,
            df=int(places.size),
            error_df=float(found.error_df),
            statistic=statistic,
            p=float(fdtrc(places.size, found.error_df, statistic)),
        )


def setup_answers(runs: RunCounts, plain: PassAnswers, slow: tuple[str, ...]) -> SetupAnswers:
    """Return the answers of runs (n,) that share setups of the slow factors."""
    columns = within_setups(runs.X, runs.setup)
    X = columns.X[:, factored(columns.X).kept]
    fit = penalised_logistic(pass_counts(X, runs.passed, runs.parts))
    return SetupAnswers(
        plain=plain,
        within=PassAnswers(fit=fit, yardstick=_within_yardstick(runs, X, fit)),
        between=_between_setups(runs, (plain, columns.fast), slow),
        columns=columns,
    )


def _within_yardstick(
    runs: RunCounts, X: NDArray[np.float64], fit: PenalisedLogistic
) -> Yardstick:
    """Return the dispersion of runs about their setups: what setups differ by is not in it."""
    n, n_columns = X.shape
    if runs.parts.max() == 1 or n <= n_columns:
        return Yardstick(dispersion=1.0, error_df=np.inf)
    found = pass_dispersion(
        (runs.passed, runs.parts),
        np.asarray(expit(X @ fit.estimates)),
        group=np.arange(n),
        n_columns=n_columns,
    )
    return run_yardstick(found, error_df=float(n - n_columns))


def setup_scatter(runs: RunCounts, slow: tuple[str, ...]) -> VarianceComponent:
    """Return the variance between setups in logits², by one penalised random intercept."""
    counts = PassCounts(
        X=runs.X,
        passed=runs.passed.copy(),
        parts=runs.parts.copy(),
        offset=np.zeros(runs.parts.size),
    )
    rows, groups, penalty = (
        PassRows(counts=counts),
        grouping(runs.setup),
        JeffreysPenalty(counts=counts),
    )
    start = penalised_logistic(counts).estimates
    found = random_intercept(rows, groups, start, penalty=penalty)
    span = intercept_span(
        rows, groups, found, penalty=penalty, threshold=float(chdtri(1, 1 - CONFIDENCE))
    )
    return VarianceComponent(
        level=f"{' and '.join(slow)} setup",
        value=found.sd**2,
        low=span.low**2,
        high=span.high**2,
        n_levels=int(np.unique(runs.setup).size),
        below_zero=found.sd == 0,
    )


def _between_setups(
    runs: RunCounts, known: tuple[PassAnswers, NDArray[np.bool_]], slow: tuple[str, ...]
) -> BetweenSetups | Unavailable:
    plain, fast = known
    labels, first, of = np.unique(runs.setup, return_index=True, return_inverse=True)
    of = of.reshape(-1)
    whole = factored(runs.X[np.ix_(first, ~fast)])
    if whole.error_df < FEWEST_DF:
        return Unavailable(
            reason=f"{' and '.join(slow)} had {labels.size} setups for {whole.rank} columns: too "
            "few setups to test; runs of one setup share its reset, so they are no replicates"
        )
    passed, parts = (
        np.bincount(of, weights=one).astype(np.float64) for one in (runs.passed, runs.parts)
    )
    solution = solved(whole, _adjusted_logits(runs, fast, (of, passed, parts)))
    differ = pass_dispersion(
        (runs.passed, runs.parts), runs.rates, group=runs.setup, n_columns=whole.rank
    )
    dispersion = max(differ, plain.yardstick.dispersion, 1.0)
    scale = Yardstick(dispersion=dispersion, error_df=float(whole.error_df))
    return BetweenSetups(
        cautious=PassAnswers(fit=plain.fit, yardstick=scale),
        whole=whole,
        estimates=solution.estimates,
        unscaled=whole.unscaled_covariance(),
        variance=float(solution.rss) / whole.error_df,
        error_df=whole.error_df,
    )


def _adjusted_logits(
    runs: RunCounts,
    fast: NDArray[np.bool_],
    setups: tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.float64]:
    """Return each setup's empirical logit less what its own runs lead to expect.

    Where every setup has the same runs, the latter is one number for all.
    """
    of, passed, parts = setups
    X = np.hstack([np.ones((len(runs.X), 1)), runs.X[:, fast]])
    kept = factored(X).kept
    fit = penalised_logistic(pass_counts(X[:, kept], runs.passed, runs.parts))
    rates = expit(X[:, kept] @ fit.estimates)
    expected = logit(np.bincount(of, weights=runs.parts * rates) / parts)
    seen = np.log((passed + 0.5) / (parts - passed + 0.5))
    return np.asarray(seen - (expected - expected.mean()))


def _in_both() -> Unavailable:
    return Unavailable(
        reason="it changes both within and between setups, whose scatter differs, and no test of "
        "a pass/fail outcome over both is offered"
    )


def _all_alike() -> Unavailable:
    return Unavailable(
        reason="setups of the same settings passed exactly alike: no scatter to judge by"
    )


def _not_kept() -> Unavailable:
    return Unavailable(reason="these setups cannot tell it from other columns")
