"""Passes of parts tried, and the logistic likelihood with Firth's penalty at many points at once.

Firth (1993), Biometrika 80, 27-38. The penalty is half the log determinant of the information
X′WX, W = diag(parts × p(1 − p)): Jeffreys' invariant prior. It keeps every estimate finite, also
where some settings saw no failure at all.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit

from workbench.numerics.log_determinants import weighted_log_dets

if TYPE_CHECKING:
    from numpy.typing import NDArray


# Log of the information a column below which numbers overflow; the value is −inf there. A point so
# far out has lost 50 units of log-likelihood a column to the penalty alone.
FAINTEST = -100.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassCounts:
    """Parts that passed (n,) of those tried (n,) at rows of X (n, p); `offset` (n,) in logits.

    Counts need not be whole: both divided by a dispersion give its quasi-likelihood. `pairs`
    (n, p²) and `triples` (n, p³) are products of columns, kept because every step needs them.
    """

    X: NDArray[np.float64]
    passed: NDArray[np.float64]
    parts: NDArray[np.float64]
    offset: NDArray[np.float64]
    pairs: NDArray[np.float64] = field(init=False)
    triples: NDArray[np.float64] = field(init=False)

    def __post_init__(self) -> None:
        n, n_columns = self.X.shape
        pairs = (self.X[:, :, None] * self.X[:, None, :]).reshape(n, -1)
        triples = (self.X[:, :, None] * pairs[:, None, :]).reshape(n, n_columns**3)
        object.__setattr__(self, "pairs", pairs)
        object.__setattr__(self, "triples", triples)
        for array in (self.X, self.passed, self.parts, self.offset, pairs, triples):
            array.setflags(write=False)

    def divided(self, dispersion: float) -> PassCounts:
        """Return the counts of the quasi-likelihood with that dispersion."""
        return PassCounts(
            X=self.X,
            passed=self.passed / dispersion,
            parts=self.parts / dispersion,
            offset=self.offset,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slopes:
    """Penalised log-likelihood (b,), its gradient (b, p) and Hessian (b, p, p) at b points."""

    value: NDArray[np.float64]
    gradient: NDArray[np.float64]
    hessian: NDArray[np.float64]


def pass_counts(
    X: NDArray[np.float64],
    passed: NDArray[np.float64],
    parts: NDArray[np.float64],
    *,
    offset: NDArray[np.float64] | None = None,
) -> PassCounts:
    """Return counts with equal rows of X (n, p) and offset (n,) put together."""
    shift = np.zeros(len(X)) if offset is None else np.asarray(offset, dtype=np.float64)
    rows, of = np.unique(np.column_stack([X, shift]), axis=0, return_inverse=True)
    of = of.reshape(-1)
    return PassCounts(
        X=np.ascontiguousarray(rows[:, :-1]),
        passed=np.bincount(of, weights=passed, minlength=len(rows)).astype(np.float64),
        parts=np.bincount(of, weights=parts, minlength=len(rows)).astype(np.float64),
        offset=rows[:, -1].copy(),
    )


def penalised_values(counts: PassCounts, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the penalised log-likelihood (b,) at points (b, p), −inf beyond `FAINTEST`."""
    logits = points @ counts.X.T + counts.offset
    # One exponential for both: rate (1 − rate) = e / (1 + e)² and log(1 + eˡ) = max(l, 0) +
    # log(1 + e), with e = exp(−|l|).
    far = np.exp(-np.abs(logits))
    weights = counts.parts * (far / (1 + far) ** 2)
    own = logits @ counts.passed - (np.maximum(logits, 0.0) + np.log1p(far)) @ counts.parts
    log_det = weighted_log_dets(weights, counts.pairs)
    value = own + 0.5 * log_det
    known = (log_det > FAINTEST * counts.X.shape[1]) & np.isfinite(value)
    return np.where(known, value, -np.inf)


def slopes(counts: PassCounts, points: NDArray[np.float64]) -> Slopes:
    """Return value, gradient and exact Hessian at points (b, p) where the value is finite.

    With A = X(X′WX)⁻¹X′ and primes for derivatives by the logit, the penalty's gradient is
    ½ X′(A_ii w′) and its Hessian ½ X′diag(A_ii w″)X − ½ X′D(A∘A)DX, D = diag(w′).
    """
    X = counts.X
    logits = points @ X.T + counts.offset
    rates = np.asarray(expit(logits), dtype=np.float64)
    spread = np.asarray(rates * expit(-logits), dtype=np.float64)
    weights = np.asarray(counts.parts * spread, dtype=np.float64)
    tilt = np.asarray(1 - 2 * rates, dtype=np.float64)
    information = _information(counts, weights).copy()
    sign, log_det = np.linalg.slogdet(information)
    lost = (sign <= 0) | ~(log_det > FAINTEST * X.shape[1])
    information[lost] = np.eye(X.shape[1])
    inverse = np.asarray(np.linalg.inv(information), dtype=np.float64)
    spanned = np.einsum("bij,ij->bi", X @ inverse, X)
    score = counts.passed - counts.parts * rates + 0.5 * spanned * weights * tilt
    bent = np.asarray(0.5 * spanned * weights * (tilt**2 - 2 * spread), dtype=np.float64)
    hessian = _information(counts, bent - weights) - 0.5 * _crossed(
        counts, inverse, weights * tilt
    )
    value = log_likelihoods(counts, points) + 0.5 * log_det
    lost |= ~(np.isfinite(value) & np.isfinite(hessian).all(axis=(1, 2)))
    hessian[lost] = -np.eye(X.shape[1])
    return Slopes(
        value=np.where(lost, -np.inf, value),
        gradient=np.where(lost[:, None], 0.0, score @ X),
        hessian=hessian,
    )


def _information(counts: PassCounts, weights: NDArray[np.float64]) -> NDArray[np.float64]:
    n_columns = counts.X.shape[1]
    return np.asarray((weights @ counts.pairs).reshape(-1, n_columns, n_columns))


def _crossed(
    counts: PassCounts, inverse: NDArray[np.float64], weights: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return X′D(A∘A)DX (b, p, p).

    Element j, k is tr(I⁻¹T_j I⁻¹T_k) with T_j = Σ d_i x_ij x_i x_i′.
    """
    n_columns = counts.X.shape[1]
    moments = (weights @ counts.triples).reshape(-1, n_columns, n_columns, n_columns)
    half = moments @ inverse[:, None]
    flat = half.reshape(len(half), n_columns, -1)
    turned = half.transpose(0, 1, 3, 2).reshape(len(half), n_columns, -1)
    return np.asarray(flat @ turned.transpose(0, 2, 1))


def log_likelihoods(counts: PassCounts, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the log-likelihood (b,) at points (b, p), without binomial coefficients."""
    logits = points @ counts.X.T + counts.offset
    return np.asarray(logits @ counts.passed - np.logaddexp(0.0, logits) @ counts.parts)
