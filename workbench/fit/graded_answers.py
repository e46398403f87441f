"""What a fit of grades says of weighted sums of its slopes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc, chdtri

from workbench.fit.core import CONFIDENCE
from workbench.fit.linear_answers import Joint, Weighted
from workbench.fit.nouns import Estimate
from workbench.numerics.proportional_odds import fall_at, ordered_limits, ordered_test

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.proportional_odds import OrderedSolution
    from workbench.numerics.spans import Span


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GradedAnswers:
    """Profile intervals and tests of the penalised likelihood, by chi square.

    Weights are on the columns that are kept; the first `skip` of them are the mean, for which
    grades have thresholds instead.
    """

    solution: OrderedSolution
    skip: int
    spans: dict[bytes, Span] = field(default_factory=dict)

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return value, profile interval and p of weights (r,) @ slopes."""
        size = float(np.abs(weights).max())
        m, last = self.solution.data.n_thresholds, self.skip + self.solution.slopes.size
        way = weights[self.skip : last] / size
        value = float(way @ self.solution.slopes)
        spread = float(way @ self.solution.covariance[m:, m:] @ way)
        span = self._span(way)
        fall = max(fall_at(self.solution, way, value=0.0), 0.0)
        return Weighted(
            value=size * value,
            estimate=Estimate(
                value=size * value,
                std_error=size * float(np.sqrt(spread)),
                low=size * span.low,
                high=size * span.high,
                df=float(np.inf),
            ),
            statistic=float(np.copysign(np.sqrt(fall), value)),
            p=float(chdtrc(1, fall)),
        )

    def joint(self, places: NDArray[np.intp]) -> Joint:
        """Return the penalised likelihood-ratio test, chi square over its df."""
        found = ordered_test(self.solution, places - self.skip)
        return Joint(
            fall=found.fall,
            df=found.df,
            error_df=float(np.inf),
            statistic=found.fall / found.df,
            p=found.p,
        )

    def _span(self, way: NDArray[np.float64]) -> Span:
        key = way.tobytes()
        if key not in self.spans:
            allowed = float(chdtri(1, 1 - CONFIDENCE))
            self.spans[key] = ordered_limits(self.solution, way, fall_allowed=allowed)
        return self.spans[key]
