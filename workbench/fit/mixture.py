"""The fit of a mixture: blending models without a constant.

Scheffé (1958), Journal of the Royal Statistical Society B 20, 344-360; Cornell (2002),
Experiments with Mixtures, 3rd ed., chapters 2 and 7.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import components
from workbench.define.model_matrix import model_matrix
from workbench.define.terms import Term, Terms
from workbench.errors import FitError, Unavailable
from workbench.fit.aliasing import aliased
from workbench.fit.checks import diagnostics
from workbench.fit.checks import shares as shares_explained
from workbench.fit.coefficients import coded_coefficients
from workbench.fit.core import EXACT, Core, no_error, t_quantile
from workbench.fit.faces import Prediction
from workbench.fit.foreseen import NormalParts, shares_of
from workbench.fit.matrix import FitMatrix, fit_matrix
from workbench.fit.mixture_blends import bends, blending_notes, blending_reading, blending_tests
from workbench.fit.outcome_model import OutcomeModel, RunChecks
from workbench.fit.remarks import remarks
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.fit.run_means import run_means
from workbench.fit.scales import off_scale, turns_round, unit_on_scale
from workbench.fit.term_tests import lack_of_fit
from workbench.numerics.least_squares import factored, solved
from workbench.numerics.posterior import (
    Process,
    Spots,
    coefficient_draws,
    stream,
    variance_draws,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.outcomes import Measured
    from workbench.define.settings import Settings
    from workbench.fit.faces import ShareDraws
    from workbench.fit.nouns import LackOfFit
    from workbench.fit.run_means import RunMeans, Wanted
    from workbench.run.record import Record

ROUNDED_SUM = 0.011  # three shares written with two decimals miss one by up to 0.015 / √3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixtureFit(OutcomeModel):
    """One measured outcome over shares that add up: blending coefficients (p,) and their scatter.

    `estimates` (p,) are on the model scale, shares as parts of one; `unscaled_covariance` is
    (X′X)⁻¹. The coefficient of a component is the outcome of the pure component.
    """

    outcome: Measured
    estimates: NDArray[np.float64]
    unscaled_covariance: NDArray[np.float64]
    residual_variance: float | Unavailable
    lack_of_fit: LackOfFit | Unavailable
    largest_leverage: float

    def predict(self, settings: Settings, *, confidence: float) -> Prediction | Unavailable:
        """Return mean and new-part intervals for blends (n, k).

        Raises
        ------
        FitError
            If the shares of a blend do not add up, or the factors are others.
        """
        variance = self.residual_variance
        if isinstance(variance, Unavailable):
            return variance
        X = self._columns(settings)
        middle = X @ self.estimates
        leverage = np.asarray(np.einsum("ij,jk,ik->i", X, self.unscaled_covariance, X))
        t = t_quantile(float(self._error_df), confidence)
        near, far = t * np.sqrt(variance * leverage), t * np.sqrt(variance * (1 + leverage))
        return Prediction(
            settings=settings,
            mean=off_scale(middle, self.outcome.scale),
            mean_low=self._end(middle, -near),
            mean_high=self._end(middle, near),
            new_part_low=self._end(middle, -far),
            new_part_high=self._end(middle, far),
            leverage=leverage,
            inside=self._is_inside(settings, leverage),
            confidence=confidence,
        )

    def inside(self, settings: Settings) -> NDArray[np.bool_] | Unavailable:
        """Return which points (n,) lie in the region tried."""
        if isinstance(self.residual_variance, Unavailable):
            return self.residual_variance
        X = self._columns(settings)
        leverage = np.einsum("ij,jk,ik->i", X, self.unscaled_covariance, X)
        return self._is_inside(settings, leverage)

    def foreseen(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> NormalParts | Unavailable:
        """Return new parts blend by blend, in draws of the share outside the requirement.

        The blending model is taken as right: `model_form` has no term here, and scatter of the
        shares themselves is that of the trial.
        """
        del model_form  # there is no left-out curve of shares to draw
        limits = requirement_on_scale(self.outcome)
        variance = self.residual_variance
        if isinstance(limits, Unavailable):
            return limits
        if isinstance(variance, Unavailable):
            return variance
        rng = stream(seed, self.outcome.name)
        unit = float(np.sqrt(variance)) or 1.0
        variances = variance_draws(rng, variance, df=self._error_df, n_draws=n_draws)
        drawn = coefficient_draws(
            rng, self.estimates, unscaled=self.unscaled_covariance, variances=variances
        )
        X = self._columns(settings)
        n = len(X)
        return NormalParts(
            process=Process(
                coefficients=(drawn / unit).astype(np.float32),
                part_variance=(variances / unit**2).astype(np.float32),
            ),
            spots=Spots(
                mean=X.astype(np.float32),
                slopes=(),
                slope_columns=(),
                bend=np.zeros((n_draws, 1), dtype=np.float32),
                kind=np.zeros(n, dtype=np.intp),
            ),
            low=limits.low / unit,
            high=limits.high / unit,
            turned=limits.turned,
        )

    def share_draws(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> ShareDraws | Unavailable:
        """Return draws of the share of new parts that meet the requirement, blend by blend."""
        return shares_of(
            self.foreseen(settings, n_draws=n_draws, seed=seed, model_form=model_form)
        )

    @property
    def _error_df(self) -> int:
        return int(self.run.size - np.count_nonzero(np.diagonal(self.unscaled_covariance)))

    def _columns(self, settings: Settings) -> NDArray[np.float64]:
        if settings.names != self.settings.names:
            raise FitError(
                f"The points have the factors {', '.join(settings.names)}.",
                why=f"This fit is over {', '.join(self.settings.names)}.",
                next_step="Give each point one value for every factor of the trial, in order.",
            )
        check_sums(settings)
        base = model_matrix(self.terms, settings).X[:, 1:]
        return np.hstack([base, np.zeros((len(settings), self.n_block_columns))])

    def _end(self, middle: NDArray[np.float64], reach: NDArray[np.float64]) -> NDArray[np.float64]:
        scale = self.outcome.scale
        return np.asarray(off_scale(middle + (-reach if turns_round(scale) else reach), scale))

    def _is_inside(self, settings: Settings, leverage: NDArray[np.float64]) -> NDArray[np.bool_]:
        low, high = self.settings.values.min(axis=0), self.settings.values.max(axis=0)
        slack = 1e-9 * (high - low)
        within = (settings.values >= low - slack) & (settings.values <= high + slack)
        return np.asarray(within.all(axis=1) & (leverage <= self.largest_leverage * (1 + 1e-9)))


def mixture_outcome(
    record: Record, outcome: Measured, terms: Terms, *, wanted: Wanted
) -> MixtureFit | Unavailable:
    """Return the blending fit of a measured outcome.

    Raises
    ------
    FitError
        If no run can be used, or the shares of a run do not add up.
    """
    whole = blending_terms(terms, record.trial.factors)
    named = tuple(dict.fromkeys(name for term in whole.terms for name in term.factors))
    data = run_means(record, outcome, replace(wanted, factors=named))
    if isinstance(data, Unavailable):
        return data
    check_sums(data.settings)
    solved_model = _solved(_matrix(whole, data), data.response)
    return _fit(
        solved_model, outcome, _Taken(data=data, terms=whole, uses_as_run=wanted.uses_as_run)
    )


def blending_terms(terms: Terms, factors: tuple[Factor, ...]) -> Terms:
    """Return the terms with every component in, those without any component last.

    A process setting alone is the sum of its products with all components, so it can only stand
    where one of those is left out.
    """
    shares = {one.name for one in components(factors)}
    pure = tuple(Term(powers=((one.name, 1),)) for one in components(factors))
    rest = [one for one in terms.terms if one not in pure]
    mixed = [one for one in rest if shares & set(one.factors)]
    process = [one for one in rest if not shares & set(one.factors)]
    return Terms(terms=(*pure, *mixed, *process), asked=terms.asked)


def check_sums(settings: Settings) -> None:
    """Refuse blends whose shares do not add up, rounding of written shares apart.

    Raises
    ------
    FitError
        If a sum is off by more than 1.1 %.
    """
    shares = components(settings.factors)
    total = shares[0].total
    sums = np.sum([settings.column(one.name) for one in shares], axis=0)
    wrong = np.flatnonzero(np.abs(sums - total) > ROUNDED_SUM * total)
    if wrong.size:
        raise FitError(
            f"The shares {', '.join(one.name for one in shares)} add up to {sums[wrong[0]]:g}.",
            why=f"The components of a mixture add up to {total:g}.",
            next_step="Correct the shares, or name the component that is missing.",
            place=f"row {wrong[0] + 1} of those used",
        )


def _matrix(terms: Terms, data: RunMeans) -> FitMatrix:
    """Return the columns without the mean: the components add up to it."""
    whole = fit_matrix(terms, data.settings, (data.block, data.block_labels))
    return FitMatrix(
        X=np.array(whole.X[:, 1:]),
        names=whole.names[1:],
        term=whole.term[1:] - 1,
        terms=whole.terms[1:],
        n_block_columns=whole.n_block_columns,
    )


def _solved(matrix: FitMatrix, response: NDArray[np.float64]) -> Core:
    whole = factored(matrix.X)
    solution = solved(whole, response)
    about_mean = response - response.mean()
    total, rss = float(about_mean @ about_mean), float(solution.rss)
    rss = 0.0 if rss <= EXACT * float(response @ response) else rss
    left = whole.error_df
    return Core(
        matrix=matrix,
        whole=whole,
        response=response,
        estimates=solution.estimates,
        unscaled=whole.unscaled_covariance(),
        residuals=solution.residuals,
        rss=rss,
        total=total,
        variance=rss / left if left else no_error(whole),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Taken:
    data: RunMeans
    terms: Terms
    uses_as_run: bool


def _fit(core: Core, outcome: Measured, taken: _Taken) -> MixtureFit:
    data, terms = taken.data, taken.terms
    checks = diagnostics(core)
    shares = components(data.settings.factors)
    effects = bends(core, outcome, shares)
    explained = shares_explained(core)
    return MixtureFit(
        outcome=outcome,
        kind="measured",
        model=f"Blending model over {len(shares)} shares that add up: no constant, and no effect "
        "of one component alone.",
        settings=data.settings,
        uses_as_run=taken.uses_as_run,
        run=data.run,
        block=data.block,
        block_labels=data.block_labels,
        terms=terms,
        column_names=core.matrix.names,
        n_block_columns=core.matrix.n_block_columns,
        coefficients=coded_coefficients(core),
        effects=effects,
        tests=blending_tests(core, shares),
        aliased=aliased(core),
        scatter=(),
        facts=(),
        checks=RunChecks(
            measure=unit_on_scale(outcome.unit, outcome.scale),
            residual_kind="externally studentised",
            row_run=data.run.copy(),
            observed=data.response.copy(),
            expected=checks.fitted,
            residual=checks.studentised.copy(),
        ),
        n_excluded=data.n_excluded,
        notes=(*remarks(core, data, outcome), *blending_notes(core, shares, data.settings)),
        reading=blending_reading(outcome, shares, effects),
        error_df=core.error_df,
        residual_sd=core.variance
        if isinstance(core.variance, Unavailable)
        else float(np.sqrt(core.variance)),
        r_squared=explained.r_squared,
        adjusted_r_squared=explained.adjusted,
        predicted_r_squared=explained.predicted,
        estimates=core.estimates,
        unscaled_covariance=core.unscaled,
        residual_variance=core.variance,
        lack_of_fit=lack_of_fit(core, data, terms),
        largest_leverage=float(checks.leverage.max()),
    )
