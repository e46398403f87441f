"""What a censored fit says of weighted sums of its coefficients."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc

from workbench.errors import Unavailable
from workbench.fit.core import CONFIDENCE
from workbench.fit.linear_answers import Joint, Weighted
from workbench.fit.nouns import Estimate
from workbench.numerics.censored_profile import (
    limits,
    log_likelihood_at,
    ratio_test,
    threshold,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.censored_profile import CensoredProblem
    from workbench.numerics.spans import Span


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CensoredAnswers:
    """Profile intervals and likelihood-ratio tests with the small-sample threshold.

    Limits are kept for each direction, since an effect is a multiple of a coefficient.
    """

    problem: CensoredProblem
    unit: str
    is_ratio: bool
    spans: dict[bytes, Span | Unavailable] = field(default_factory=dict)

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return value, profile interval and likelihood-ratio p of weights (r,) @ coefficients."""
        size = float(np.abs(weights).max())
        way = weights / size
        span = self._span(way)
        if isinstance(span, Unavailable):
            return Weighted(value=span, estimate=span, statistic=span, p=span)
        value = self._value(way)
        if not np.isfinite(span.low + span.high):
            return self._one_sided(size, span, way)
        p, problem = weights.size, self.problem
        covariance = problem.solution.covariance[:p, :p]
        h, df = problem.rows.information, problem.error_df
        # The same factor as for sigma, so that nothing cut off gives the usual standard error.
        std_error = float(np.sqrt(way @ covariance @ way * h / df))
        statistic = self._statistic(way, value)
        return Weighted(
            value=size * value,
            estimate=Estimate(
                value=size * value,
                std_error=size * std_error,
                low=size * span.low,
                high=size * span.high,
                df=df,
            ),
            statistic=statistic,
            p=float(fdtrc(1, df, statistic**2)),
        )

    def joint(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        """Return the likelihood-ratio test as F on (q, h − p)."""
        found = ratio_test(self.problem, places)
        if isinstance(found, Unavailable):
            return found
        return Joint(
            fall=found.fall,
            df=found.df,
            error_df=found.error_df,
            statistic=found.statistic,
            p=found.p,
        )

    def _value(self, way: NDArray[np.float64]) -> float:
        return float(way @ self.problem.solution.estimates)

    def _span(self, way: NDArray[np.float64]) -> Span | Unavailable:
        key = way.tobytes()
        if key not in self.spans:
            allowed = threshold(self.problem, confidence=CONFIDENCE)
            self.spans[key] = limits(self.problem, way, fall_allowed=allowed)
        return self.spans[key]

    def _statistic(self, way: NDArray[np.float64], value: float) -> float:
        """Return the signed root of the likelihood ratio as a t of h − p degrees of freedom."""
        problem = self.problem
        h, df = problem.rows.information, problem.error_df
        held = log_likelihood_at(problem, way, value=0.0)
        fall = max(2 * (problem.solution.log_likelihood - held), 0.0)
        size = np.sqrt(np.expm1(min(fall / h, 600.0)) * df)
        return float(np.copysign(size, value))

    def _one_sided(self, size: float, span: Span, way: NDArray[np.float64]) -> Weighted:
        upwards = np.isinf(span.high)
        end = size * (span.low if upwards else span.high)
        unit = f" {self.unit}" if self.unit else ""
        shown = f"×{np.exp(np.clip(end, -700, 700)):.4g}" if self.is_ratio else f"{end:.4g}{unit}"
        reason = Unavailable(
            reason="no finite estimate, because the readings that could bound it are all cut off: "
            f"{'at least' if upwards else 'at most'} {shown} (the one end that the 95 % interval "
            "has)"
        )
        endless = np.inf if upwards else -np.inf
        statistic = self._statistic(way, endless)
        p = float(fdtrc(1, self.problem.error_df, statistic**2))
        return Weighted(value=float(endless), estimate=reason, statistic=statistic, p=p)
