"""A second-order surface f(x) = c + b′x + x′Bx: where it is level, and which way is up.

Box and Wilson (1951), Journal of the Royal Statistical Society B 13, 1-45; Box and Hunter (1954),
Biometrika 41, 190-199, for the region of the stationary point; Box and Draper (1987), Empirical
Model-Building and Response Surfaces, section 6.3, for the cone of directions.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtri, stdtr

if TYPE_CHECKING:
    from numpy.typing import NDArray

FLAT = 1e-9  # curvature below this part of the largest is none


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Canonical:
    """Eigenvalues (k,) of B, descending, with their directions as columns (k, k)."""

    eigenvalues: NDArray[np.float64]
    directions: NDArray[np.float64]

    def __post_init__(self) -> None:
        self.eigenvalues.setflags(write=False)
        self.directions.setflags(write=False)

    @property
    def is_flat(self) -> bool:
        """Whether along some direction the surface does not bend, so that no point is level."""
        size = np.abs(self.eigenvalues)
        return bool(size.min() <= FLAT * max(float(size.max()), 1e-300))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cone:
    """Directions of ascent that the scatter leaves possible.

    `half_angle` in radians (measured in standard errors of the slopes); None if every direction
    is possible. `excluded` is the part of all directions that is shut out.
    """

    half_angle: float | None
    excluded: float


def canonical(bends: NDArray[np.float64]) -> Canonical:
    """Return the axes of the surface with the symmetric matrix B (k, k)."""
    values, vectors = np.linalg.eigh(bends)
    return Canonical(eigenvalues=values[::-1].copy(), directions=vectors[:, ::-1].copy())


def stationary_point(
    slopes: NDArray[np.float64], bends: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return −B⁻¹b / 2 (k,): where every slope is zero."""
    return np.asarray(-np.linalg.solve(bends, slopes) / 2)


def may_be_level(
    gradients: NDArray[np.float64],
    covariances: NDArray[np.float64],
    *,
    error_df: float,
    confidence: float,
) -> NDArray[np.bool_]:
    """Return which points (m,) the scatter allows to be level.

    `gradients` (m, k) are b + 2Bx, `covariances` (m, k, k) theirs; a point belongs to the region
    if g′V⁻¹g ≤ k F (Box and Hunter 1954).
    """
    k = gradients.shape[1]
    solved = np.linalg.solve(covariances, gradients[:, :, None])[:, :, 0]
    distance = np.einsum("ij,ij->i", gradients, solved)
    return np.asarray(distance <= k * fdtri(k, error_df, confidence))


def cone(
    slopes: NDArray[np.float64],
    covariance: NDArray[np.float64],
    *,
    error_df: float,
    confidence: float,
) -> Cone:
    """Return the cone of directions around the slopes (k,), k ≥ 2, with covariance (k, k).

    A direction d belongs to it if the slopes differ from a positive multiple of d by no more than
    (k − 1) F allows; in units of standard errors it is a round cone.
    """
    k = slopes.size
    whitened = np.linalg.solve(np.linalg.cholesky(covariance), slopes)
    size = float(whitened @ whitened)
    allowed = (k - 1) * float(fdtri(k - 1, error_df, confidence))
    if size <= allowed:
        return Cone(half_angle=None, excluded=0.0)
    # The part of a sphere outside the cone is a tail of Student's t on k − 1 df: cot of the
    # half angle times √(k − 1).
    angle = float(np.arcsin(np.sqrt(allowed / size)))
    excluded = float(stdtr(k - 1, np.sqrt(k - 1) / np.tan(angle)))
    return Cone(half_angle=angle, excluded=excluded)
