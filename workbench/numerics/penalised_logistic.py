"""Logistic regression with Firth's penalty, and its intercept for mean rates.

Firth (1993), Biometrika 80, 27-38; Heinze and Schemper (2002), Statistics in Medicine 21,
2409-2419.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit

from workbench.numerics.pass_counts import log_likelihoods
from workbench.numerics.penalised_maximum import maxima

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.pass_counts import PassCounts

MOST_STEPS = 80


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PenalisedLogistic:
    """The fit: estimates (p,), (X′WX)⁻¹ (p, p), rates and leverage (n,), maximum."""

    counts: PassCounts
    estimates: NDArray[np.float64]
    covariance: NDArray[np.float64]
    rates: NDArray[np.float64]
    leverage: NDArray[np.float64]
    penalised_log_likelihood: float
    log_likelihood: float
    is_settled: bool

    def __post_init__(self) -> None:
        for array in (self.estimates, self.covariance, self.rates, self.leverage):
            array.setflags(write=False)


def penalised_logistic(counts: PassCounts) -> PenalisedLogistic:
    """Return the fit of all p columns, which must not depend on one another."""
    n_columns = counts.X.shape[1]
    start = np.zeros((1, n_columns))
    found = maxima(counts, start, free=np.ones((1, n_columns), dtype=bool))
    estimates = found.estimates[0]
    rates = expit(counts.X @ estimates + counts.offset)
    weights = counts.parts * rates * (1 - rates)
    covariance = np.linalg.inv(counts.X.T @ (weights[:, None] * counts.X))
    return PenalisedLogistic(
        counts=counts,
        estimates=estimates,
        covariance=covariance,
        rates=rates,
        leverage=weights * np.einsum("ij,jk,ik->i", counts.X, covariance, counts.X),
        penalised_log_likelihood=float(found.value[0]),
        log_likelihood=float(log_likelihoods(counts, found.estimates)[0]),
        is_settled=bool(found.settled[0]),
    )


def intercept_shift(counts: PassCounts, logits: NDArray[np.float64]) -> float:
    """Return what to add to the logits (n,) so that mean rate and observed rate agree.

    The intercept by maximum likelihood with everything else as offset: Puhr, Heinze, Nold, Lusa
    and Geroldinger (2017), Statistics in Medicine 36, 2302-2317 ("FLIC"). There must be passes
    and failures.
    """
    shift, total = 0.0, float(counts.passed.sum())
    for _ in range(MOST_STEPS):
        rates = expit(logits + shift)
        slope = float(counts.parts @ (rates * (1 - rates)))
        step = (total - float(counts.parts @ rates)) / max(slope, 1e-300)
        shift += float(np.clip(step, -1.0, 1.0))
        if abs(step) < 1e-12:
            break
    return shift
