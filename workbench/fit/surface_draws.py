"""Draws of a surface on the scale of a model, with what it leaves out and how settings scatter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.shares import spots
from workbench.numerics.posterior import Process, form_draws

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.fit.share_basis import ShareBasis
    from workbench.numerics.posterior import Spots


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surfaces:
    """Surfaces drawn for a fit, before it is said how large the curve is that it leaves out.

    `known` (n_draws, p) are coefficients of the model's own columns, `left_out` (n_draws, q − p)
    those of the other columns for a model form of 1; `variance` (n_draws,) is that of a new part
    about the surface, where the model has one.
    """

    basis: ShareBasis
    known: NDArray[np.float64]
    left_out: NDArray[np.float64]
    variance: NDArray[np.float64]

    def __post_init__(self) -> None:
        for array in (self.known, self.left_out, self.variance):
            array.setflags(write=False)

    def bent(self, kappa: float) -> Bent:
        """Return the surfaces with what the model leaves out: F(x)β + (Z(x) − F(x)A)δ."""
        basis, whole = self.basis, self.known
        if kappa == 0:
            basis = basis.straight()
        else:
            left_out = kappa * self.left_out
            whole = np.hstack([self.known - left_out @ basis.projection.T, left_out])
        process = Process(
            coefficients=whole.astype(np.float32), part_variance=self.variance.astype(np.float32)
        )
        return Bent(basis=basis, process=process)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bent:
    """Processes drawn, with the columns of their surface."""

    basis: ShareBasis
    process: Process

    def spots(self, settings: Settings) -> Spots:
        """Return the points at settings (n, k) as these processes see them."""
        return spots(self.basis, settings, self.process)


def surfaces(
    basis: ShareBasis,
    known: NDArray[np.float64],
    rng: np.random.Generator,
    *,
    variance: NDArray[np.float64],
) -> Surfaces:
    """Return surfaces from draws of the coefficients (n_draws, p or more: blocks are dropped)."""
    own = np.array(known[:, : basis.columns.size])
    left_out = form_draws(rng, own[:, basis.is_slope], n_columns=basis.n_left_out, kappa=1.0)
    return Surfaces(basis=basis, known=own, left_out=left_out, variance=np.array(variance))
