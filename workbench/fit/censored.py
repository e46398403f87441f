"""The fit of a measured outcome of which some readings are only known to lie beyond a value."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.censored_shares import censored_foreseen
from workbench.fit.faces import Prediction
from workbench.fit.foreseen import shares_of
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.points import points
from workbench.fit.scales import off_scale, turns_round
from workbench.numerics.censored_posterior import censored_draws
from workbench.numerics.location_scale import quantile
from workbench.numerics.posterior import stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.settings import Settings
    from workbench.errors import Unavailable
    from workbench.fit.core import Core
    from workbench.fit.faces import Foreseen, ShareDraws
    from workbench.fit.points import Points
    from workbench.numerics.censored_posterior import CensoredDraws
    from workbench.numerics.censored_profile import CensoredProblem

PREDICTED = 4000  # draws behind the ends of a prediction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CensoredFit(OutcomeModel):
    """One censored outcome's model, and what it says of points: predictions and shares.

    `structure` tells which columns (p,) the rows can tell (`estimable`); `problem` holds those
    columns (n, r), the readings on the scale and their maximum-likelihood fit. `no_points` says
    why no point can be predicted, where runs shared setups.
    """

    outcome: Measured
    structure: Core
    problem: CensoredProblem
    no_points: Unavailable | None = None

    @property
    def estimable(self) -> NDArray[np.bool_]:
        """Columns (p,) that have an estimate of their own."""
        return self.structure.whole.kept

    def predict(self, settings: Settings, *, confidence: float) -> Prediction | Unavailable:
        """Return the middle outcome and the interval for a new part, at settings (n, k).

        Ends are quantiles of draws from the posterior (`numerics.censored_posterior`). Where the
        middle has no finite estimate, that of the draws is shown.

        Raises
        ------
        FitError
            If the settings are those of other factors, or lack one that stands in the model.
        """
        if self.no_points is not None:
            return self.no_points
        asked = points(self, self.structure, settings)
        X = asked.X[:, self.estimable]
        drawn = drawn_for_predictions(self)
        middle = drawn.coefficients @ X.T
        centre = float(quantile(np.array([0.5]), self.problem.family)[0])
        middles = middle + centre * drawn.sigma[:, None]
        new = middle + (drawn.sigma * _new_parts(self))[:, None]
        estimate = X @ self.problem.solution.estimates + centre * self.problem.solution.sigma
        known = self._are_finite(X)
        return self._prediction(
            (settings, asked, confidence),
            np.where(known, estimate, np.median(middles, axis=0)),
            (middles, new),
        )

    def inside(self, settings: Settings) -> NDArray[np.bool_] | Unavailable:
        """Return which points (n,) lie in the region tried."""
        return self.no_points or points(self, self.structure, settings).inside

    def foreseen(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> Foreseen | Unavailable:
        """Return new parts at settings (n, k), to be asked for shares in parts."""
        if self.no_points is not None:
            return self.no_points
        return censored_foreseen(self, settings, n_draws=n_draws, seed=seed, model_form=model_form)

    def share_draws(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> ShareDraws | Unavailable:
        """Return draws of the true share of new parts that meet the requirement."""
        return shares_of(
            self.foreseen(settings, n_draws=n_draws, seed=seed, model_form=model_form)
        )

    def _are_finite(self, X: NDArray[np.float64]) -> NDArray[np.bool_]:
        found = self.problem.solution.endless
        if found is None:
            return np.ones(len(X), dtype=bool)
        return np.array([found.is_finite(row) for row in X], dtype=bool)

    def _prediction(
        self,
        asked: tuple[Settings, Points, float],
        middle: NDArray[np.float64],
        draws: tuple[NDArray[np.float64], NDArray[np.float64]],
    ) -> Prediction:
        settings, where, confidence = asked
        ends = np.array([(1 - confidence) / 2, (1 + confidence) / 2])
        scale = self.outcome.scale
        mean, part = (off_scale(np.quantile(one, ends, axis=0), scale) for one in draws)
        low, high = (1, 0) if turns_round(scale) else (0, 1)
        return Prediction(
            settings=settings,
            mean=off_scale(middle, scale),
            mean_low=mean[low],
            mean_high=mean[high],
            new_part_low=part[low],
            new_part_high=part[high],
            leverage=where.leverage,
            inside=where.inside,
            confidence=confidence,
        )


@lru_cache(maxsize=8)
def drawn_for_predictions(fit: CensoredFit) -> CensoredDraws:
    """Return the draws behind every prediction of a fit: the same ones for all points."""
    return censored_draws(fit.problem, stream(0, fit.outcome.name), n_draws=PREDICTED)


def _new_parts(fit: CensoredFit) -> NDArray[np.float64]:
    """Return standard new parts (n_draws,): evenly spread chances in a shuffled order."""
    chances = (np.arange(PREDICTED) + 0.5) / PREDICTED
    return quantile(stream(1, fit.outcome.name).permutation(chances), fit.problem.family)
