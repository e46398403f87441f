"""Draws from the Jeffreys-penalised likelihood of a logistic regression taken as a posterior."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.pass_counts import penalised_values, slopes
from workbench.numerics.posterior_sampling import Guess, drawn_about, in_pieces

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.penalised_logistic import PenalisedLogistic
    from workbench.numerics.posterior_sampling import Sampled

CHUNK = 1 << 17  # numbers in one evaluation
FLATTEST = 1e-3  # of the largest curvature: the prior alone holds what is flatter


def posterior_draws(fit: PenalisedLogistic, rng: np.random.Generator, *, n_draws: int) -> Sampled:
    """Return draws (n_draws, p) of the coefficients, exchangeable in their order."""
    counts = fit.counts
    hessian = slopes(counts, fit.estimates[None, :]).hessian[0]
    sizes, vectors = np.linalg.eigh(-hessian)
    axes = vectors / np.sqrt(np.maximum(sizes, FLATTEST * sizes.max()))
    each = CHUNK // max(counts.X.shape[0], counts.X.shape[1] ** 2)

    def values(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return in_pieces(lambda some: penalised_values(counts, some), points, each)

    return drawn_about(values, Guess(point=fit.estimates, axes=axes), rng, n_draws=n_draws)
