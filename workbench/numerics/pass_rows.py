"""The rows of a logistic likelihood, as a random intercept asks for them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit

from workbench.numerics.pass_counts import log_likelihoods, slopes
from workbench.numerics.random_intercept import Penalised, RowValues

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.pass_counts import PassCounts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassRows:
    """Passes of parts at rows of X (n, p), one row for each group and setting."""

    counts: PassCounts

    def at(self, parameters: NDArray[np.float64], shift: NDArray[np.float64]) -> RowValues:
        """Return value and derivatives of every row."""
        counts = self.counts
        logits = (counts.X @ parameters + counts.offset)[:, None] + shift
        rates = expit(logits)
        slope = counts.passed[:, None] - counts.parts[:, None] * rates
        return RowValues(
            value=counts.passed[:, None] * logits
            - counts.parts[:, None] * np.logaddexp(0.0, logits),
            slope=slope,
            curvature=-counts.parts[:, None] * rates * (1 - rates),
            score=slope[:, :, None] * counts.X[:, None, :],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JeffreysPenalty:
    """Half the log determinant of the logistic information, without regard to the intercepts."""

    counts: PassCounts

    def __call__(self, parameters: NDArray[np.float64]) -> Penalised:
        """Return the penalty and its gradient at parameters (p,)."""
        counts, point = self.counts, parameters[None, :]
        here = slopes(counts, point)
        rates = expit(counts.X @ parameters + counts.offset)
        score = (counts.passed - counts.parts * rates) @ counts.X
        return Penalised(
            value=float(here.value[0] - log_likelihoods(counts, point)[0]),
            gradient=here.gradient[0] - score,
        )
