"""Log determinants of information matrices at many points at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def weighted_log_dets(
    weights: NDArray[np.float64], products: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return log |Σ w_i x_i x_i′| (b,) for weights (b, n) of products x x′ (n, p²).

    −inf where a matrix is not positive definite.

    Examples
    --------
    >>> weighted_log_dets(np.array([[2.0, 3.0]]), np.array([[1.0, 0, 0, 0], [0, 0, 0, 1.0]]))
    array([1.79175947])
    """
    size = round(products.shape[1] ** 0.5)
    with np.errstate(divide="ignore"):  # a singular matrix has log determinant −inf
        sign, found = np.linalg.slogdet((weights @ products).reshape(-1, size, size))
    return np.where(sign > 0, found, -np.inf)
