"""Draws of a surface on the scale of a model, with what it leaves out and how settings scatter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.posterior import Process, form_draws

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.share_basis import ShareBasis


def surface_draws(
    basis: ShareBasis,
    known: NDArray[np.float64],
    rng: np.random.Generator,
    *,
    kappa: float,
    variance: NDArray[np.float64],
) -> Process:
    """Return draws of the surface's coefficients (n_draws, q) from those known (n_draws, p).

    surface = F(x)β + (Z(x) − F(x)A)δ, as for measured outcomes; `variance` (n_draws,) is that
    of a new part about the surface, where the model has one.
    """
    own = known[:, : basis.columns.size]
    left_out = form_draws(rng, own[:, basis.is_slope], n_columns=basis.n_left_out, kappa=kappa)
    whole = np.hstack([own - left_out @ basis.projection.T, left_out])
    return Process(
        coefficients=whole.astype(np.float32), part_variance=variance.astype(np.float32)
    )
