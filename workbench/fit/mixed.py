"""The fit of a measured outcome whose runs share setups, lots or parts: a mixed model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from workbench.errors import Unavailable
from workbench.fit.faces import Prediction
from workbench.fit.foreseen import shares_of
from workbench.fit.mixed_model import MixedModel
from workbench.fit.mixed_shares import mixed_foreseen
from workbench.fit.points import points
from workbench.fit.scales import off_scale, turns_round

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.fit.faces import Foreseen, ShareDraws
    from workbench.fit.mixed_answers import MixedAnswers
    from workbench.fit.points import Points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedFit(MixedModel):
    """One measured outcome's mixed model, and what it says of points: predictions and shares."""

    def predict(self, settings: Settings, *, confidence: float) -> Prediction | Unavailable:
        """Return the mean and its interval, and the interval for a new part, at settings (n, k).

        A new part comes from a new run, a new setup and, where lots are random, a new lot: its
        variance is that of the mean plus all components, on Satterthwaite's df. On a bent scale
        the mean is the outcome of the middle part (on "log" the geometric mean).

        Raises
        ------
        FitError
            If the settings are those of other factors, or lack one that stands in the model.
        """
        asked = points(self, self.structure, settings)
        if self.no_points is not None or self.predicting is None:
            return self.no_points or Unavailable(reason="nothing is known of the scatter")
        hidden = self.predicting.hidden(asked.X)
        if hidden is not None:
            return hidden
        return _prediction((self, self.predicting), (settings, asked), confidence=confidence)

    def inside(self, settings: Settings) -> NDArray[np.bool_] | Unavailable:
        """Return which points (n,) lie in the region tried."""
        if self.no_points is not None or self.predicting is None:
            return self.no_points or Unavailable(reason="nothing is known of the scatter")
        asked = points(self, self.structure, settings)
        return self.predicting.hidden(asked.X) or asked.inside

    def foreseen(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> Foreseen | Unavailable:
        """Return new parts at settings (n, k), to be asked for shares in parts."""
        if self.no_points is not None:
            return self.no_points
        return mixed_foreseen(self, settings, n_draws=n_draws, seed=seed, model_form=model_form)

    def share_draws(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> ShareDraws | Unavailable:
        """Return draws of the true share of new parts that meet the requirement."""
        return shares_of(
            self.foreseen(settings, n_draws=n_draws, seed=seed, model_form=model_form)
        )


def _prediction(
    model: tuple[MixedFit, MixedAnswers],
    asked: tuple[Settings, Points],
    *,
    confidence: float,
) -> Prediction:
    (fit, answers), (settings, where) = model, asked
    middle = where.X @ answers.solution.estimates + where.X[:, 0] * answers.shift
    found = answers.each(where.X)
    near = stdtrit(found.df, (1 + confidence) / 2) * found.std_errors
    far = _new_part_reach(fit, answers, (where.X, found.std_errors), confidence=confidence)
    mean_low, mean_high = _ends(fit, middle, near)
    part_low, part_high = _ends(fit, middle, far)
    return Prediction(
        settings=settings,
        mean=off_scale(middle, fit.outcome.scale),
        mean_low=mean_low,
        mean_high=mean_high,
        new_part_low=part_low,
        new_part_high=part_high,
        leverage=where.leverage,
        inside=where.inside,
        confidence=confidence,
    )


def _new_part_reach(
    fit: MixedFit,
    answers: MixedAnswers,
    of_mean: tuple[NDArray[np.float64], NDArray[np.float64]],
    *,
    confidence: float,
) -> NDArray[np.float64]:
    """Return t × √(variance of the mean + Σ σ_r² + what a part adds to a run mean) (n,).

    Satterthwaite (1946), Biometrics Bulletin 2, 110-114: the slope of that sum in σ_r² is one
    more than that of the variance of the mean.
    """
    X, std_errors = of_mean
    solution = answers.solution
    slopes = 1 - np.einsum("ni,rij,nj->nr", X, solution.turns, X, optimize=True)
    uncertain = solution.information.uncertainty()
    total = std_errors**2 + answers.ruled.fit.variances.sum()
    doubt = np.einsum("nr,rs,ns->n", slopes, uncertain, slopes)
    scatter = fit.part_scatter
    if scatter is not None:
        more = (1 - 1 / scatter.parts_per_run) * scatter.variance
        total = total + more
        doubt = doubt + 2 * more**2 / scatter.df
    df = 2 * total**2 / doubt
    return np.asarray(stdtrit(df, (1 + confidence) / 2) * np.sqrt(total))


def _ends(
    fit: MixedFit, middle: NDArray[np.float64], reach: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    scale = fit.outcome.scale
    low, high = off_scale(middle - reach, scale), off_scale(middle + reach, scale)
    return (high, low) if turns_round(scale) else (low, high)
