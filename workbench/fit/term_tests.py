"""Tests of whole terms, and of the model against repeats of the same settings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Role
from workbench.define.terms import MEAN
from workbench.errors import Unavailable
from workbench.fit.aliasing import held_by
from workbench.fit.core import core, f_chance, no_scatter
from workbench.fit.matrix import BLOCKS, fit_matrix
from workbench.fit.nouns import LackOfFit, TermTest
from workbench.numerics.least_squares import factored, joint_sum_of_squares

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.terms import Term, Terms
    from workbench.fit.core import Core
    from workbench.fit.measured import MeasuredFit
    from workbench.fit.run_means import RunMeans

BETWEEN_RUNS = "run"  # only runs replicate, so the scatter between runs is the yardstick


def term_tests(core: Core) -> tuple[TermTest, ...]:
    """Return the test of each term adjusted for all others, blocks among them.

    Degrees of freedom are the columns of a term that do not depend on earlier ones, so an empty
    cell or a lost run takes its degrees of freedom away.
    """
    return tuple(_adjusted(core, term) for term in core.matrix.tested)


def sequential_tests(fit: MeasuredFit) -> tuple[TermTest, ...]:
    """Return the test of each term adjusted only for those before it, blocks first.

    The sums of squares add up to that of the model.
    """
    matrix = fit_matrix(fit.terms, fit.settings, (fit.block, fit.block_labels))
    order = [MEAN, *([BLOCKS] if BLOCKS in matrix.terms else []), *fit.terms.terms]
    places = np.concatenate([matrix.places(term) for term in order])
    whole = factored(matrix.X[:, places])
    along = np.zeros(places.size)
    along[whole.kept] = whole.Q.T @ (fit.response - fit.response.mean())
    owner = matrix.term[places]
    solved_model = core(matrix, fit.response)
    found = []
    for term in order[1:]:
        own = owner == matrix.terms.index(term)
        df, squares = int((own & whole.kept).sum()), float(along[own] @ along[own])
        found.append(tested(solved_model, (term, df, squares)))
    return tuple(found)


def lack_of_fit(core: Core, data: RunMeans, terms: Terms) -> LackOfFit | Unavailable:
    """Return the test of the model against runs at the same settings in the same block."""
    cells = _cells(data, terms)
    sizes = np.bincount(cells)
    pure_df = int((sizes - 1).sum())
    df = core.error_df - pure_df
    if pure_df == 0:
        return Unavailable(
            reason="no two runs have the same settings (and block), so there is no pure error"
        )
    if df <= 0:
        return Unavailable(reason="the model has a column for every setting that was run")
    means = np.bincount(cells, weights=core.residuals) / sizes
    # Within a cell the fitted values agree, so residuals scatter like the readings themselves.
    pure = float(((core.residuals - means[cells]) ** 2).sum())
    if pure <= 1e-20 * max(core.total, core.rss):
        return Unavailable(reason="runs at the same settings read exactly the same")
    mean_square, pure_mean_square = max(core.rss - pure, 0.0) / df, pure / pure_df
    statistic = mean_square / pure_mean_square
    return LackOfFit(
        df=df,
        pure_error_df=pure_df,
        mean_square=mean_square,
        pure_error_mean_square=pure_mean_square,
        statistic=statistic,
        p=f_chance(statistic, df, pure_df),
    )


def _cells(data: RunMeans, terms: Terms) -> NDArray[np.intp]:
    # A covariate that is not in the model is read anew in each run; it does not part repeats.
    in_model = {name for term in terms.terms for name in term.factors}
    counted = [
        factor.name in in_model or factor.role in (Role.CONTROL, Role.NOISE)
        for factor in data.settings.factors
    ]
    coded = np.round(data.settings.coded()[:, counted], 9)
    rows = np.column_stack([coded, data.block])
    return np.asarray(np.unique(rows, axis=0, return_inverse=True)[1].reshape(-1))


def _adjusted(core: Core, term: Term) -> TermTest:
    places = core.matrix.places(term)
    kept = places[core.whole.kept[places]]
    squares = 0.0
    if kept.size:
        covariance = core.unscaled[np.ix_(kept, kept)]
        # The mean was taken off before solving, so estimates of terms carry no rounding of it.
        squares = float(joint_sum_of_squares(core.estimates[kept], covariance))
    return tested(core, (term, kept.size, squares))


def tested(core: Core, found: tuple[Term, int, float]) -> TermTest:
    """Return the test of a term from its degrees of freedom and its sum of squares."""
    term, df, squares = found
    statistic = _statistic(core, found)
    return TermTest(
        term=term,
        df=df,
        error_df=core.error_df,
        sum_of_squares=squares,
        mean_square=squares / df if df else 0.0,
        statistic=statistic,
        p=statistic
        if isinstance(statistic, Unavailable)
        else f_chance(statistic, df, core.error_df),
        stratum=BETWEEN_RUNS,
    )


def _statistic(core: Core, found: tuple[Term, int, float]) -> float | Unavailable:
    term, df, squares = found
    if df == 0:
        first = int(core.matrix.places(term)[0])
        return Unavailable(reason=f"cannot be told apart from {held_by(core, first)}")
    if isinstance(core.variance, Unavailable):
        return core.variance
    if core.variance == 0:
        return no_scatter()
    return squares / df / core.variance
