"""The fit of a pass/fail outcome: penalised logistic regression on passes of parts tried."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit

from workbench.errors import Unavailable
from workbench.fit.faces import Prediction
from workbench.fit.foreseen import shares_of
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.pass_fail_shares import pass_foreseen
from workbench.fit.points import points
from workbench.numerics.contour_draws import contour_draws
from workbench.numerics.posterior import stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import PassFail
    from workbench.define.settings import Settings
    from workbench.fit.core import Core
    from workbench.fit.faces import Foreseen, ShareDraws
    from workbench.numerics.penalised_logistic import PenalisedLogistic

PREDICTED = 4000  # draws behind the ends of a prediction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassFailFit(OutcomeModel):
    """One pass/fail outcome's model, and what it says of points: rates and shares.

    `structure` tells which columns (p,) the runs can tell (`estimable`); `fitted` is the
    penalised fit of those, `believed` the one whose penalised likelihood is taken as posterior
    (counts divided by `dispersion`). `intercept_shift` in logits makes the mean rate the observed
    one. `leverage` (n,) belongs to the runs. `no_points` says why no point can be predicted,
    where runs shared setups.
    """

    outcome: PassFail
    structure: Core
    fitted: PenalisedLogistic
    believed: PenalisedLogistic
    dispersion: float
    error_df: float
    intercept_shift: float
    leverage: NDArray[np.float64]
    no_points: Unavailable | None = None

    @property
    def estimable(self) -> NDArray[np.bool_]:
        """Columns (p,) that have an estimate of their own."""
        return self.structure.whole.kept

    def predict(self, settings: Settings, *, confidence: float) -> Prediction | Unavailable:
        """Return the share that passes and its interval, at settings (n, k).

        The mean has the intercept for mean rates (Puhr et al. 2017); ends are quantiles over the
        contours of the Jeffreys-penalised likelihood (`numerics.contour_draws`).

        Raises
        ------
        FitError
            If the settings are those of other factors, or lack one that stands in the model.
        """
        if self.no_points is not None:
            return self.no_points
        asked = points(self, self.structure, settings)
        X = asked.X[:, self.estimable]
        mean = expit(X @ self.fitted.estimates + self.intercept_shift)
        ends = np.array([(1 - confidence) / 2, (1 + confidence) / 2])
        low, high = expit(np.quantile(X @ drawn_for_predictions(self).T, ends, axis=1))
        single = Unavailable(reason="one part passes or fails: only the share of parts has ends")
        return Prediction(
            settings=settings,
            mean=mean,
            mean_low=np.minimum(low, mean),
            mean_high=np.maximum(high, mean),
            new_part_low=single,
            new_part_high=single,
            leverage=asked.leverage,
            inside=asked.inside,
            confidence=confidence,
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
        return pass_foreseen(self, settings, n_draws=n_draws, seed=seed, model_form=model_form)

    def share_draws(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> ShareDraws | Unavailable:
        """Return draws of the true share of new parts that meet the requirement."""
        return shares_of(
            self.foreseen(settings, n_draws=n_draws, seed=seed, model_form=model_form)
        )


@lru_cache(maxsize=8)
def drawn_for_predictions(fit: PassFailFit) -> NDArray[np.float64]:
    """Return the draws (n_draws, r) behind every prediction of a fit, the same for all points."""
    rng = stream(0, fit.outcome.name)
    return contour_draws(fit.believed, rng, n_draws=PREDICTED)
