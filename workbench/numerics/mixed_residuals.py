"""Residuals of a mixed model about the fixed part and the predicted levels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.random_terms import RandomTerms
    from workbench.numerics.reml import VarianceFit

MET_EXACTLY = 1e-8  # share of the residual variance that is left of a row the model meets exactly


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ConditionalResiduals:
    """Residuals (n,) about fixed part and levels, in the unit of y and over their own sd."""

    residuals: NDArray[np.float64]
    standardised: NDArray[np.float64]


def conditional_residuals(
    terms: RandomTerms, y: NDArray[np.float64], fit: VarianceFit
) -> ConditionalResiduals:
    """Return y − Xb − Zu with u the best linear predictions.

    With u the best linear predictions (Robinson 1991, Statistical Science 6, 15-32) it is σ²Py,
    P = K(K′VK)⁻¹K′, of covariance σ⁴P; 0 where the model meets a row exactly.
    """
    spread = terms.K.T @ terms.Z
    covariance = np.eye(terms.error_df) + (spread * fit.ratios[terms.owner]) @ spread.T
    projection = terms.K @ np.linalg.solve(covariance, terms.K.T)
    residuals = projection @ y
    left = np.diagonal(projection)
    known = left > MET_EXACTLY
    own = np.sqrt(np.where(known, left, 1.0) * (fit.residual or 1.0))
    return ConditionalResiduals(
        residuals=residuals, standardised=np.where(known, residuals / own, 0.0)
    )
