"""Generalised least squares at given variance components, and how the variances move it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.numerics.reml_likelihood import contrasts, information, pieces

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.random_terms import RandomTerms
    from workbench.numerics.reml import VarianceFit
    from workbench.numerics.reml_likelihood import Information


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedSolution:
    """Coefficients of y = Xb + Σ Z_r u_r + e at fixed variances; columns not kept are 0.

    `estimates` (p,); `covariance` (p, p) as if the variances were known; `adjusted` (p, p) the
    covariance of Kenward and Roger; `turns` (R + 1, p, p) = −∂covariance/∂σ_r² with the sign of
    the paper's ΦP_rΦ; `information` that of the variances (residual last); `residuals` (n,)
    about the fixed part. `is_sound` says whether `adjusted` is positive on the kept columns.
    """

    estimates: NDArray[np.float64]
    covariance: NDArray[np.float64]
    adjusted: NDArray[np.float64]
    turns: NDArray[np.float64]
    information: Information
    residuals: NDArray[np.float64]
    is_sound: bool

    def __post_init__(self) -> None:
        for array in (
            self.estimates,
            self.covariance,
            self.adjusted,
            self.turns,
            self.residuals,
        ):
            array.setflags(write=False)


def mixed_solution(
    terms: RandomTerms, y: NDArray[np.float64], fit: VarianceFit
) -> MixedSolution | None:
    """Return the solution for y (n,) at the variances of `fit`; None where they allow none.

    Negative components may leave a covariance that is positive for the error contrasts only:
    then there is no generalised least squares, and no variance of an estimate.
    """
    try:
        return _solution(terms, y, fit)
    except np.linalg.LinAlgError:
        return None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Weighted:
    """V⁻¹ (n, n), `basis` = V⁻¹Q (n, r) and `unscaled` = (Q′V⁻¹Q)⁻¹, all in units of σ²."""

    inverse: NDArray[np.float64]
    basis: NDArray[np.float64]
    unscaled: NDArray[np.float64]


def _solution(
    terms: RandomTerms, y: NDArray[np.float64], fit: VarianceFit
) -> MixedSolution | None:
    weighted = _weighted(terms, fit.ratios)
    known = _information(terms, y, fit)
    if known is None or np.linalg.eigvalsh(weighted.unscaled)[0] <= 0:
        return None
    on_basis = weighted.unscaled @ (weighted.basis.T @ y)
    slopes = _slopes(terms, weighted)
    uncertain = known.uncertainty() / fit.residual**2
    adjusted = weighted.unscaled + 2 * _inflation(terms, weighted, (slopes, uncertain))
    back = terms.to_coefficients()
    turns = weighted.unscaled @ slopes @ weighted.unscaled
    return MixedSolution(
        estimates=back @ on_basis,
        covariance=fit.residual * back @ weighted.unscaled @ back.T,
        adjusted=fit.residual * back @ adjusted @ back.T,
        turns=back @ turns @ back.T,
        information=known,
        residuals=y - terms.fixed.Q @ on_basis,
        is_sound=bool(np.linalg.eigvalsh((adjusted + adjusted.T) / 2)[0] > 0),
    )


def _weighted(terms: RandomTerms, ratios: NDArray[np.float64]) -> _Weighted:
    covariance = (terms.Z * ratios[terms.owner]) @ terms.Z.T
    covariance.flat[:: covariance.shape[0] + 1] += 1.0
    inverse = np.linalg.inv(covariance)
    inverse = (inverse + inverse.T) / 2
    basis = inverse @ terms.fixed.Q
    middle = terms.fixed.Q.T @ basis
    unscaled = np.linalg.inv((middle + middle.T) / 2)
    return _Weighted(inverse=inverse, basis=basis, unscaled=(unscaled + unscaled.T) / 2)


def _information(
    terms: RandomTerms, y: NDArray[np.float64], fit: VarianceFit
) -> Information | None:
    per_column, seen = fit.ratios[terms.owner], contrasts(terms, y)
    at = pieces(terms.W, seen, per_column=per_column, belongs=terms.membership())
    return None if at is None else information(at, fit.ratios, fit.residual)


def _slopes(terms: RandomTerms, weighted: _Weighted) -> NDArray[np.float64]:
    # P_r = −X′V⁻¹V_rV⁻¹X of Kenward and Roger (1997), the residual last.
    basis, turned = weighted.basis, weighted.basis.T @ terms.Z
    parts = [
        turned[:, terms.owner == term] @ turned[:, terms.owner == term].T
        for term in range(terms.n_terms)
    ]
    return -np.array([*parts, basis.T @ basis])


def _inflation(
    terms: RandomTerms,
    weighted: _Weighted,
    known: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.float64]:
    # ΦΛΦ with Λ = Σ W_rs (Q_rs − P_rΦP_s), Q_rs = X′V⁻¹V_rV⁻¹V_sV⁻¹X; the second derivatives
    # of a covariance linear in its variances vanish. Σ_rs W_rs Q_rs is one product, as V_r is
    # Z_rZ_r′ (and I for the residual): weights spread over the columns of (Z, I).
    slopes, uncertain = known
    n = terms.Z.shape[0]
    wide = np.hstack([terms.Z, np.eye(n)])
    owner = np.append(terms.owner, np.full(n, terms.n_terms))
    across = weighted.basis.T @ wide
    middle = wide.T @ weighted.inverse @ wide
    from_pairs = across @ (middle * uncertain[np.ix_(owner, owner)]) @ across.T
    turned = np.einsum("rs,sij->rij", uncertain, slopes)
    from_singles = np.einsum("rij,jk,rkl->il", slopes, weighted.unscaled, turned, optimize=True)
    return np.asarray(weighted.unscaled @ (from_pairs - from_singles) @ weighted.unscaled)
