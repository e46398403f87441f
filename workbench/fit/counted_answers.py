"""What a fit of counts says of weighted sums of its coefficients."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.core import CONFIDENCE
from workbench.fit.linear_answers import Joint, Weighted
from workbench.fit.nouns import Estimate
from workbench.numerics.count_tests import quasi_limits, quasi_test, upper_tail
from workbench.numerics.counts import deviance_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.count_tests import CountProblem
    from workbench.numerics.spans import Span


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountedAnswers:
    """Profile intervals and F tests of the deviance over the Pearson dispersion.

    Where counts scatter no more than by chance the dispersion is 1 and the tests chi square.
    """

    problem: CountProblem
    spans: dict[bytes, Span | Unavailable] = field(default_factory=dict)

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return value, profile interval and p of weights (r,) @ coefficients."""
        solution = self.problem.solution
        size = float(np.abs(weights).max())
        way = weights / size
        value = float(way @ solution.estimates)
        if solution.error_df <= 0:
            return _alone(size * value, _no_run_left())
        span = self._span(way)
        if isinstance(span, Unavailable):
            return Weighted(value=span, estimate=span, statistic=span, p=span)
        if not np.isfinite(span.low + span.high):
            return self._one_sided(size, span, way)
        spread = float(way @ solution.covariance @ way)
        statistic = self._statistic(way, value)
        return Weighted(
            value=size * value,
            estimate=Estimate(
                value=size * value,
                std_error=size * float(np.sqrt(self.problem.dispersion * spread)),
                low=size * span.low,
                high=size * span.high,
                df=solution.judging_df,
            ),
            statistic=statistic,
            p=upper_tail(statistic**2, 1, solution.judging_df),
        )

    def joint(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        """Return the F test of the rise of the deviance over the dispersion."""
        if self.problem.solution.error_df <= 0:
            return _no_run_left()
        found = quasi_test(self.problem, places)
        return Joint(
            fall=found.rise,
            df=found.df,
            error_df=found.error_df,
            statistic=found.statistic,
            p=found.p,
        )

    def _span(self, way: NDArray[np.float64]) -> Span | Unavailable:
        key = way.tobytes()
        if key not in self.spans:
            self.spans[key] = quasi_limits(self.problem, way, confidence=CONFIDENCE)
        return self.spans[key]

    def _statistic(self, way: NDArray[np.float64], value: float) -> float:
        problem, found = self.problem, self.problem.solution
        # Estimates that run off without end are no place to start from.
        near = found.estimates if found.endless is None else None
        lowest = deviance_at(
            problem.X, problem.rows, (way, 0.0), near=near, is_bounded=found.endless is None
        )
        rise = lowest - found.deviance
        return float(np.copysign(np.sqrt(max(rise, 0.0) / problem.dispersion), value))

    def _one_sided(self, size: float, span: Span, way: NDArray[np.float64]) -> Weighted:
        upwards = bool(np.isinf(span.high))
        end = size * (span.low if upwards else span.high)
        endless = float(np.inf if upwards else -np.inf)
        statistic = self._statistic(way, endless)
        reason = Unavailable(
            reason="no finite estimate, because nothing was counted at some settings (or "
            f"everything was): {'at least' if upwards else 'at most'} "
            f"×{np.exp(np.clip(end, -700, 700)):.4g} (the one end that the 95 % interval has)"
        )
        return Weighted(
            value=endless,
            estimate=reason,
            statistic=statistic,
            p=upper_tail(statistic**2, 1, self.problem.solution.judging_df),
        )


def _alone(value: float, reason: Unavailable) -> Weighted:
    return Weighted(value=value, estimate=reason, statistic=reason, p=reason)


def _no_run_left() -> Unavailable:
    return Unavailable(
        reason="every run is used up by the model, so none is left to judge by whether counts "
        "scatter more than chance; repeat some runs, or ask for fewer terms"
    )
