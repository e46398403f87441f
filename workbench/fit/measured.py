"""The fit of a measured outcome: least squares on the mean of each run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from workbench.define.factors import Categorical, Role
from workbench.define.model_matrix import model_matrix
from workbench.errors import FitError, Unavailable
from workbench.fit.faces import Prediction
from workbench.fit.foreseen import shares_of
from workbench.fit.measured_model import MeasuredModel
from workbench.fit.scales import off_scale, turns_round
from workbench.fit.shares import measured_foreseen

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.settings import Settings
    from workbench.fit.faces import Foreseen, ShareDraws


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasuredFit(MeasuredModel):
    """One measured outcome's model, and what it says of points: predictions and shares."""

    @property
    def kind(self) -> str:
        """Kind of model."""
        return "measured"

    @property
    def model(self) -> str:
        """One sentence: which model this is, and why."""
        parts = "means of the parts of each run" if self.part_scatter else "one number a run"
        scale = "" if self.outcome.scale == "as read" else f" on the {self.outcome.scale} scale"
        return f"Least squares on {parts}{scale}: every run is its own fresh setting."

    @property
    def residual_sd(self) -> float | Unavailable:
        """Scatter of a run mean about the model, on its scale."""
        variance = self.residual_variance
        return variance if isinstance(variance, Unavailable) else float(np.sqrt(variance))

    def predict(self, settings: Settings, *, confidence: float) -> Prediction | Unavailable:
        """Return the mean and its interval, and the interval for a new part, at settings (n, k).

        Numbers are taken back to the unit of the outcome: on a bent scale the mean is then the
        outcome of the middle part (on "log" the median, a geometric mean), and where an inverse
        reaches zero the upper end is inf. A new part comes from a new run: with several parts a
        run its variance is s²(1 + h) + (1 − 1/m) part variance, on Satterthwaite's (1946,
        Biometrics Bulletin 2, 110-114) degrees of freedom.

        Raises
        ------
        FitError
            If the settings are those of other factors, or lack one that stands in the model.
        """
        variance = self.residual_variance
        if isinstance(variance, Unavailable):
            return variance
        X = self._columns(settings)
        middle = X @ self.estimates
        leverage = np.einsum("ij,jk,ik->i", X, self.unscaled_covariance, X)
        reach = stdtrit(self.error_df, (1 + confidence) / 2) * np.sqrt(variance * leverage)
        far = self._new_part_reach(variance, leverage, confidence=confidence)
        mean_low, mean_high = self._ends(middle, reach)
        part_low, part_high = self._ends(middle, far)
        return Prediction(
            settings=settings,
            mean=off_scale(middle, self.outcome.scale),
            mean_low=mean_low,
            mean_high=mean_high,
            new_part_low=part_low,
            new_part_high=part_high,
            leverage=leverage,
            inside=self._is_inside(settings, X, leverage),
            confidence=confidence,
        )

    def inside(self, settings: Settings) -> NDArray[np.bool_] | Unavailable:
        """Return which points (n,) lie in the region tried."""
        if isinstance(self.residual_variance, Unavailable):
            return self.residual_variance
        X = self._columns(settings)
        leverage = np.einsum("ij,jk,ik->i", X, self.unscaled_covariance, X)
        return self._is_inside(settings, X, leverage)

    def foreseen(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> Foreseen | Unavailable:
        """Return new parts at settings (n, k), to be asked for shares in parts."""
        return measured_foreseen(self, settings, n_draws=n_draws, seed=seed, model_form=model_form)

    def share_draws(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> ShareDraws | Unavailable:
        """Return draws of the true share of new parts that meet the requirement."""
        return shares_of(
            self.foreseen(settings, n_draws=n_draws, seed=seed, model_form=model_form)
        )

    def _columns(self, settings: Settings) -> NDArray[np.float64]:
        if settings.names != self.settings.names:
            raise FitError(
                f"The points have the factors {', '.join(settings.names)}.",
                why=f"This fit is over {', '.join(self.settings.names)}.",
                next_step="Give each point one value for every factor of the trial, in order.",
            )
        base = model_matrix(self.terms, settings).X
        if not np.isfinite(base).all():
            raise FitError(
                "A point lacks a setting that stands in the model.",
                why="Without it there is nothing to predict.",
                next_step=f"Give a value for each factor in: {self.terms}.",
            )
        return np.hstack([base, np.zeros((len(settings), self.n_block_columns))])

    def _new_part_reach(
        self, variance: float, leverage: NDArray[np.float64], *, confidence: float
    ) -> NDArray[np.float64]:
        between = variance * (1 + leverage)
        within, df = 0.0, np.full(leverage.size, float(self.error_df))
        scatter = self.part_scatter
        if scatter is not None:
            within = (1 - 1 / scatter.parts_per_run) * scatter.variance
            doubt = between**2 / self.error_df + within**2 / scatter.df
            df = np.where(doubt > 0, (between + within) ** 2 / np.where(doubt > 0, doubt, 1), df)
        return np.asarray(stdtrit(df, (1 + confidence) / 2) * np.sqrt(between + within))

    def _ends(
        self, middle: NDArray[np.float64], reach: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        scale = self.outcome.scale
        low, high = off_scale(middle - reach, scale), off_scale(middle + reach, scale)
        return (high, low) if turns_round(scale) else (low, high)

    def _is_inside(
        self, settings: Settings, X: NDArray[np.float64], leverage: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        tried = self._columns(self.settings)
        highest = np.einsum("ij,jk,ik->i", tried, self.unscaled_covariance, tried).max()
        inside = leverage <= highest * (1 + 1e-9)
        if self.combination is not None:
            # A mean that rests on how an aliased sum is shared out was never observed.
            known = (X * self.estimable) @ self.combination
            inside &= (np.abs(X - known) < 1e-7).all(axis=1)
        in_model = {name for term in self.terms.terms for name in term.factors}
        for factor in self.settings.factors:
            if factor.name in in_model or factor.role in (Role.CONTROL, Role.NOISE):
                seen = self.settings.column(factor.name)
                inside &= _was_tried(factor, settings.column(factor.name), seen)
        return np.asarray(inside)


def _was_tried(
    factor: Factor, asked: NDArray[np.float64], seen: NDArray[np.float64]
) -> NDArray[np.bool_]:
    known = seen[np.isfinite(seen)]
    if known.size == 0:
        return np.ones(asked.size, dtype=bool)
    if isinstance(factor, Categorical):
        return np.isin(asked, known)
    slack = 1e-9 * np.ptp(known)
    return np.asarray((asked >= known.min() - slack) & (asked <= known.max() + slack))
