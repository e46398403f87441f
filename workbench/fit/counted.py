"""The fit of a counted outcome."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.counted_shares import counted_foreseen, part_spreads
from workbench.fit.faces import Prediction
from workbench.fit.foreseen import shares_of
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.points import points
from workbench.numerics.count_posterior import count_draws
from workbench.numerics.count_tests import two_sided
from workbench.numerics.posterior import stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Counted
    from workbench.define.settings import Settings
    from workbench.fit.core import Core
    from workbench.fit.counted_rows import WithinRuns
    from workbench.fit.faces import Foreseen, ShareDraws
    from workbench.numerics.count_tests import CountProblem

PREDICTED = 2000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountedFit(OutcomeModel):
    """One counted outcome's model, and what it says of points: predictions and shares.

    `structure` tells which columns (p,) the rows can tell (`estimable`); `problem` holds those
    columns (n, r), the counts of the runs and their fit. `exposure` names the factor that counts
    are in proportion to ("" for none); `within` is the scatter of parts within runs. `no_points`
    says why no point can be predicted, where runs shared setups.
    """

    outcome: Counted
    structure: Core
    problem: CountProblem
    exposure: str
    within: WithinRuns | None
    no_points: Unavailable | None = None

    @property
    def estimable(self) -> NDArray[np.bool_]:
        """Columns (p,) that have an estimate of their own."""
        return self.structure.whole.kept

    def exposure_shift(self, settings: Settings) -> NDArray[np.float64]:
        """Return the log exposure of a part at each point (n,)."""
        if not self.exposure:
            return np.zeros(len(settings))
        return np.asarray(np.log(settings.column(self.exposure)))

    def predict(self, settings: Settings, *, confidence: float) -> Prediction | Unavailable:
        """Return the mean count of a part and the interval for a new part, at settings (n, k).

        Limits of the mean are those of t on the link scale with the dispersion; ends for a new
        part are quantiles of the predicted distribution (whole numbers).

        Raises
        ------
        FitError
            If the settings are those of other factors, or lack one that stands in the model.
        """
        if self.no_points is not None:
            return self.no_points
        asked = points(self, self.structure, settings)
        X, solution = asked.X[:, self.estimable], self.problem.solution
        if solution.error_df <= 0:
            return Unavailable(reason="every run is used up by the model: no scatter is known")
        shift = self.exposure_shift(settings)
        level = X @ solution.estimates + shift
        spread = np.einsum("ij,jk,ik->i", X, solution.covariance, X) * self.problem.dispersion
        reach = two_sided(solution.judging_df, confidence) * np.sqrt(spread)
        low, high = _new_part_ends(self, X, (shift, confidence))
        return Prediction(
            settings=settings,
            mean=self._mean(level),
            mean_low=self._mean(level - reach),
            mean_high=self._mean(level + reach),
            new_part_low=low,
            new_part_high=high,
            leverage=asked.leverage,
            inside=asked.inside & self._are_finite(X),
            confidence=confidence,
        )

    def inside(self, settings: Settings) -> NDArray[np.bool_] | Unavailable:
        """Return which points (n,) lie in the region tried."""
        if self.no_points is not None:
            return self.no_points
        asked = points(self, self.structure, settings)
        return np.asarray(asked.inside & self._are_finite(asked.X[:, self.estimable]))

    def foreseen(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> Foreseen | Unavailable:
        """Return new parts at settings (n, k), to be asked for shares in parts."""
        if self.no_points is not None:
            return self.no_points
        return counted_foreseen(self, settings, n_draws=n_draws, seed=seed, model_form=model_form)

    def share_draws(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> ShareDraws | Unavailable:
        """Return draws of the true share of new parts that meet the requirement."""
        return shares_of(
            self.foreseen(settings, n_draws=n_draws, seed=seed, model_form=model_form)
        )

    def _mean(self, level: NDArray[np.float64]) -> NDArray[np.float64]:
        safe = np.clip(level, -60, 60)
        if self.outcome.out_of is None:
            return np.asarray(np.exp(safe))
        return np.asarray(self.outcome.out_of / (1 + np.exp(-safe)))

    def _are_finite(self, X: NDArray[np.float64]) -> NDArray[np.bool_]:
        found = self.problem.solution.endless
        if found is None:
            return np.ones(len(X), dtype=bool)
        return np.array([found.is_finite(row) for row in X], dtype=bool)


def _new_part_ends(
    fit: CountedFit, X: NDArray[np.float64], asked: tuple[NDArray[np.float64], float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    shift, confidence = asked
    drawn, rng = _parts(fit), stream(1, fit.outcome.name)
    level = np.clip(drawn.coefficients @ X.T + shift, -60, 60)
    size = 1 / np.maximum(drawn.spread, 1e-9)[:, None]
    if fit.outcome.out_of is None:
        rate = np.exp(np.minimum(level, 30)) * rng.gamma(size) / size
        new = rng.poisson(np.minimum(rate, 1e9)).astype(np.float64)
    else:
        share = np.clip(1 / (1 + np.exp(-level)), 1e-9, 1 - 1e-9)
        own = rng.beta(share * size, (1 - share) * size)
        new = rng.binomial(fit.outcome.out_of, own).astype(np.float64)
    ends = np.quantile(
        new,
        [(1 - confidence) / 2, (1 + confidence) / 2],
        axis=0,
        method="inverted_cdf",
    )
    return ends[0], ends[1]


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    coefficients: NDArray[np.float64]
    spread: NDArray[np.float64]


@lru_cache(maxsize=8)
def _parts(fit: CountedFit) -> _Parts:
    rng = stream(0, fit.outcome.name)
    drawn = count_draws(fit.problem, rng, n_draws=PREDICTED)
    more = part_spreads(fit.within, rng, (PREDICTED, fit.outcome.out_of))
    return _Parts(drawn.coefficients, drawn.spread + more)
