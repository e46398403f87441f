"""Draws of what a model leaves out, given what the runs show of it beside the fitted columns.

The runs see left-out columns Z as far as the fitted ones F do not take them over: through
R = (I − F(F′F)⁻¹F′)Z. With δ ~ N(0, s²I) beforehand and scatter σ, δ given the outcome y is
normal with covariance (R′R/σ² + I/s²)⁻¹ and mean that × R′y/σ² (Box and Tiao 1973, Bayesian
Inference in Statistical Analysis, section 2.7, for the normal linear model); the fitted
coefficients given δ are those of least squares less (F′F)⁻¹F′Zδ.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

UNTOLD = 1e-10  # of the largest information: rounding of a direction that the runs cannot see
LEAST = 1e-9  # variance in the unit of the draws, where every run was met exactly


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FormSeen:
    """R′R = `axes` diag(`information`) `axes`′ (m,), (m, m), and `score` = axes′R′y (m,)."""

    information: NDArray[np.float64]
    axes: NDArray[np.float64]
    score: NDArray[np.float64]


def form_seen(beside: NDArray[np.float64], y: NDArray[np.float64]) -> FormSeen:
    """Return what runs (n,) show of left-out columns, from R (n, m)."""
    information, axes = np.linalg.eigh(beside.T @ beside)
    told = information > UNTOLD * information.max(initial=0.0)
    return FormSeen(
        information=np.where(told, information, 0.0),
        axes=axes,
        score=np.where(told, axes.T @ (beside.T @ y), 0.0),
    )


def seen_form_draws(
    rng: np.random.Generator,
    slopes: NDArray[np.float64],
    *,
    kappa: float,
    variances: NDArray[np.float64],
    seen: FormSeen,
) -> NDArray[np.float64]:
    """Return draws (n_draws, m) of the left-out coefficients δ.

    Beforehand s is kappa × the root mean square of the first-order coefficients `slopes`
    (n_draws, k) × |N(0, 1)|, one a draw. Only δ is learnt from the runs, s and the `variances`
    (n_draws,) are not: where the runs show no misfit, that errs on the side of a larger one.
    """
    scale = np.abs(rng.standard_normal(slopes.shape[0]))
    normal = rng.standard_normal((slopes.shape[0], seen.score.size))
    size = np.sqrt((slopes**2).mean(axis=1)) if slopes.shape[1] else np.zeros(slopes.shape[0])
    sizes = kappa * size * scale
    ratio = (sizes**2 / np.maximum(variances, LEAST))[:, None]
    shrunk = 1 / (1 + seen.information * ratio)
    along = ratio * shrunk * seen.score + sizes[:, None] * np.sqrt(shrunk) * normal
    return np.asarray(along @ seen.axes.T)
