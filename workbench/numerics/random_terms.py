"""Fixed and random terms of y = Xb + Σ Z_r u_r + e, taken apart once for any number of outcomes.

The error contrasts K′y, K an orthonormal basis of what X leaves free, carry all that restricted
maximum likelihood uses (Patterson and Thompson 1971, Biometrika 58, 545-554).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import solve_triangular

from workbench.numerics.least_squares import factored

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.numerics.least_squares import Factored

# A term whose share of the error contrasts, or whose part not shared with earlier terms, is
# below this has no information about its variance; true confounding leaves about 1e-15.
CONFOUNDED = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RandomTerms:
    """A model matrix and its random terms, ready for any outcome on the same rows.

    `fixed` is X (n, p) taken apart (rank r); `Z` (n, q) the indicator columns of all random
    terms side by side and `owner` (q,) the term each belongs to (0 … R − 1); `K` (n, n − r) the
    error contrasts, the first k of which span K′Z: the others see the residual only. `W` (k, q)
    is what those k see of Z. `estimable` (R,) says which variances the rows can tell apart from
    the fixed terms, the residual and the terms before.
    """

    fixed: Factored
    Z: NDArray[np.float64]
    owner: NDArray[np.intp]
    K: NDArray[np.float64]
    W: NDArray[np.float64]
    estimable: NDArray[np.bool_]

    def __post_init__(self) -> None:
        for array in (self.Z, self.owner, self.K, self.W, self.estimable):
            array.setflags(write=False)

    @property
    def n_terms(self) -> int:
        """Number of random terms."""
        return int(self.estimable.size)

    @property
    def error_df(self) -> int:
        """Error contrasts: rows minus rank."""
        return int(self.K.shape[1])

    @property
    def residual_df(self) -> int:
        """Error contrasts that see the residual only."""
        return self.error_df - int(self.W.shape[0])

    def membership(self) -> NDArray[np.float64]:
        """Return which term (q, R) each column of Z belongs to, as 0 and 1."""
        return np.asarray(self.owner[:, None] == np.arange(self.n_terms), dtype=np.float64)

    def to_coefficients(self) -> NDArray[np.float64]:
        """Return the matrix (p, r) from coordinates on `fixed.Q` to coefficients of X."""
        whole = np.zeros((self.fixed.kept.size, self.fixed.rank))
        back = solve_triangular(self.fixed.R, np.eye(self.fixed.rank))
        whole[self.fixed.kept] = back / self.fixed.scale[:, None]
        return whole


def random_terms(X: NDArray[np.float64], levels: Sequence[NDArray[np.intp]]) -> RandomTerms:
    """Return X (n, p) and the random terms, each given as level numbers (n,), taken apart.

    Of dependent columns of X the earlier are kept, as in least squares.
    """
    fixed = factored(X)
    blocks = [indicators(one) for one in levels]
    n = fixed.X.shape[0]
    columns = np.column_stack([np.empty((n, 0)), *blocks])
    owner = np.repeat(np.arange(len(blocks)), [one.shape[1] for one in blocks])
    contrasts = np.linalg.qr(fixed.Q, mode="complete")[0][:, fixed.rank :]
    return _together(fixed, contrasts, (columns, owner, len(blocks)))


def without(terms: RandomTerms, keep: NDArray[np.bool_]) -> RandomTerms:
    """Return the same rows with only the random terms marked in `keep` (R,)."""
    if keep.all():
        return terms
    columns = keep[terms.owner]
    owner = (np.cumsum(keep) - 1)[terms.owner[columns]]
    return _together(terms.fixed, terms.K, (terms.Z[:, columns], owner, int(keep.sum())))


def indicators(levels: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return one column of 0 and 1 (n, q) for each level that occurs."""
    return np.asarray(levels[:, None] == np.unique(levels), dtype=np.float64)


def _together(
    fixed: Factored,
    contrasts: NDArray[np.float64],
    columns: tuple[NDArray[np.float64], NDArray[np.intp], int],
) -> RandomTerms:
    indicator, owner, n_terms = columns
    projected = contrasts.T @ indicator
    left, sizes, _ = np.linalg.svd(projected)
    rank = int((sizes > CONFOUNDED * np.sqrt(max(indicator.shape[0], 1))).sum())
    return RandomTerms(
        fixed=fixed,
        Z=indicator,
        owner=owner,
        K=contrasts @ left,
        W=left[:, :rank].T @ projected,
        estimable=_estimable(indicator, projected, (owner, n_terms)),
    )


def _estimable(
    indicator: NDArray[np.float64],
    projected: NDArray[np.float64],
    shape: tuple[NDArray[np.intp], int],
) -> NDArray[np.bool_]:
    # The variances are those of I and of each W_r W_r′: a term is estimable if its matrix is
    # not a sum of those before it (Gram matrix of traces, pivot by pivot).
    owner, n_terms = shape
    belongs = (owner[:, None] == np.arange(n_terms)).astype(float)
    traces = np.zeros((n_terms + 1, n_terms + 1))
    traces[0, 0] = projected.shape[0]
    traces[0, 1:] = traces[1:, 0] = np.einsum("ij,ij->j", projected, projected) @ belongs
    traces[1:, 1:] = belongs.T @ (projected.T @ projected) ** 2 @ belongs
    free = np.append(1.0, np.sum((indicator.T @ indicator) ** 2, axis=0) @ belongs)
    kept: list[int] = [0] if projected.shape[0] else []
    for term in range(1, n_terms + 1):
        own = traces[term, term]
        if own <= CONFOUNDED * free[term]:
            continue
        shared = np.linalg.solve(traces[np.ix_(kept, kept)], traces[kept, term])
        if own - shared @ traces[kept, term] > CONFOUNDED * own:
            kept.append(term)
    found = np.zeros(n_terms, dtype=bool)
    found[[term - 1 for term in kept if term]] = True
    return found
