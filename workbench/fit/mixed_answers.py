"""What a mixed model says of weighted sums of its coefficients, and by which scatter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.core import CONFIDENCE, t_chance
from workbench.fit.linear_answers import Joint, Weighted
from workbench.fit.nouns import Estimate
from workbench.numerics.kenward_roger import (
    kenward_roger_each,
    kenward_roger_joint,
    t_quantile,
)
from workbench.numerics.mixed_rule import hangs_on
from workbench.numerics.satterthwaite import satterthwaite_each, satterthwaite_joint
from workbench.numerics.stratum_df import stratum_df

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.kenward_roger import JointTest, SingleTests
    from workbench.numerics.mixed_model import MixedSolution
    from workbench.numerics.mixed_rule import RuledFit
    from workbench.numerics.random_terms import RandomTerms

# A plan must leave two levels for error. Lost runs move the df of Kenward and Roger about that
# number; a limit of 2 on them would pass trials whose scatter looks small (simulated size 9 % with
# four setups), one of 1.5 does not (tests/studies/strata_errors.py).
FEWEST_LEVELS = 2
FEWEST_DF = 1.5
Method = Literal["Kenward-Roger", "Satterthwaite"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedAnswers:
    """Intervals and tests of a mixed model with all columns (p,), asked in those kept (r of p).

    `shift` was taken off the outcome before solving; it belongs to the first column, the mean.
    `between` names what was set too seldom where an answer hangs on a scatter nobody saw.
    """

    terms: RandomTerms
    ruled: RuledFit
    solution: MixedSolution
    shift: float
    between: str
    method: Method = "Kenward-Roger"

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return what is known of weights (r,) @ coefficients."""
        row = self.spread(weights[None, :])
        value = float(row[0] @ self.solution.estimates) + float(row[0, 0]) * self.shift
        hidden = self.hidden(row)
        if hidden is not None:
            return _without(value, hidden)
        found = self.each(row)
        df, spread = float(found.df[0]), float(found.std_errors[0])
        lacking = self._too_few(row, df)
        if lacking is not None:
            return _without(value, lacking)
        reach = float(t_quantile(found.df, CONFIDENCE)[0]) * spread
        estimate = Estimate(
            value=value, std_error=spread, low=value - reach, high=value + reach, df=df
        )
        statistic = value / spread
        p = t_chance(statistic, df)
        return Weighted(value=value, estimate=estimate, statistic=statistic, p=p)

    def joint(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        """Return the F test that the coefficients at places (q,) are zero."""
        rows = self.spread(np.eye(self.terms.fixed.rank)[places])
        hidden = self.hidden(rows)
        if hidden is not None:
            return hidden
        found = self._joint(rows)
        lacking = self._too_few(rows, found.error_df)
        if lacking is not None:
            return lacking
        return Joint(
            fall=found.statistic * found.df,
            df=found.df,
            error_df=found.error_df,
            statistic=found.statistic,
            p=found.p,
        )

    def each(self, rows: NDArray[np.float64]) -> SingleTests:
        """Return the tests of rows (k, p), the mean without its shift."""
        if self.method == "Satterthwaite":
            return satterthwaite_each(self.solution, rows)
        return kenward_roger_each(self.solution, rows)

    def hidden(self, rows: NDArray[np.float64]) -> Unavailable | None:
        """Return why rows (k, p) have no standard error, if some hang on a scatter unseen."""
        if self.terms.estimable.all() or not hangs_on(self.terms, self.ruled.bounded, rows).any():
            return None
        return Unavailable(
            reason=f"too few {self.between} to test: none is left to show how much they differ "
            "by themselves; repeat some of them"
        )

    def spread(self, weights: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return weights on kept columns (k, r) as weights on all columns (k, p)."""
        kept = self.terms.fixed.kept
        rows = np.zeros((weights.shape[0], kept.size))
        rows[:, kept] = weights
        return rows

    def _joint(self, rows: NDArray[np.float64]) -> JointTest:
        if self.method == "Satterthwaite":
            return satterthwaite_joint(self.solution, rows)
        return kenward_roger_joint(self.solution, rows)

    def _too_few(self, rows: NDArray[np.float64], df: float) -> Unavailable | None:
        planned = stratum_df(self.terms, (rows != 0).any(axis=0))
        if (planned is None or planned >= FEWEST_LEVELS) and df >= FEWEST_DF:
            return None
        left = df if planned is None else min(df, planned)
        return Unavailable(
            reason=f"too few {self.between} to test: {left:.2g} error degrees of freedom are "
            f"left, and a test on fewer than {FEWEST_LEVELS} does not keep its error rate"
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BareAnswers:
    """Estimates (r,) of the kept columns alone, and why no more is known."""

    estimates: NDArray[np.float64]
    reason: Unavailable

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return weights (r,) @ coefficients alone."""
        return _without(float(weights @ self.estimates), self.reason)

    def joint(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        """Return why there is no test of the coefficients at places (q,)."""
        del places  # the reason is the same for all
        return self.reason


def _without(value: float, reason: Unavailable) -> Weighted:
    return Weighted(value=value, estimate=reason, statistic=reason, p=reason)
