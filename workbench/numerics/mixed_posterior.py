"""Draws of what a mixed model leaves unknown: variance components and coefficients.

The prior is Jeffreys' for the restricted likelihood, √|I(σ²)| with I the expected information,
flat in the coefficients; with one balanced random term it is that of Box and Tiao (1973),
Bayesian Inference in Statistical Analysis, section 5.2. Or, where few levels leave it a tail that
no process has, 1/σ² with each ratio of standard deviations √γ half Cauchy of scale 1 (Gelman
2006, Bayesian Analysis 1, 515-534, for the family). Given the ratios γ, σ² is inverse
chi-square and the coefficients are normal, so only γ needs sampling: importance draws in two
rounds, the second from what the first found.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaincinv, betaln, xlog1py, xlogy

from workbench.numerics.reml_likelihood import contrasts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.numerics.random_terms import RandomTerms

FIRST, SECOND = 9, 11  # powers of two: points of the first round, and of the second a term
AT_ONCE = 256  # points evaluated together
SPREAD_OUT = 0.15  # share of the second round that stays spread over everything


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixedDraws:
    """Draws of variances (n_draws, R + 1), residual last, and of coefficients (n_draws, p).

    `effective` is the number of independent points behind the draws of the ratios.
    """

    variances: NDArray[np.float64]
    coefficients: NDArray[np.float64]
    effective: float

    def __post_init__(self) -> None:
        self.variances.setflags(write=False)
        self.coefficients.setflags(write=False)


def mixed_draws(
    rng: np.random.Generator,
    terms: RandomTerms,
    y: NDArray[np.float64],
    *,
    n_draws: int,
    half_cauchy: bool = False,
) -> MixedDraws:
    """Return draws of all unknowns of y = Xb + Σ Z_r u_r + e, variances at or above zero.

    The prior is Jeffreys', or that of half-Cauchy ratios. Every term must be estimable and the
    outcome have scatter; coefficients of columns that are not kept are 0.
    """
    model = _Model(terms=terms, y=y, half_cauchy=half_cauchy)
    ratios, effective = _ratio_draws(rng, model, n_draws=n_draws)
    df = terms.error_df
    chi_square, normal = (
        rng.chisquare(df, n_draws),
        rng.standard_normal((n_draws, terms.fixed.rank)),
    )
    residual, on_basis = np.empty(n_draws), np.empty((n_draws, terms.fixed.rank))
    for start in range(0, n_draws, AT_ONCE):
        some = slice(start, start + AT_ONCE)
        at = _batch(terms, y, ratios[some])
        residual[some] = at.square / chi_square[some]
        on_basis[some] = _coefficients(terms, y, (at, residual[some], normal[some]))
    return MixedDraws(
        variances=np.column_stack([ratios, np.ones(n_draws)]) * residual[:, None],
        coefficients=on_basis @ terms.to_coefficients().T,
        effective=effective,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Model:
    """What is drawn from."""

    terms: RandomTerms
    y: NDArray[np.float64]
    half_cauchy: bool

    def log_density(self, ratios: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the log density (N,) of γ (N, R) given the outcome."""
        at = _batch(self.terms, self.y, ratios)
        if not self.half_cauchy:
            return at.log_likelihood + 0.5 * at.log_information
        prior = -np.log1p(ratios) - 0.5 * np.log(ratios)  # of √γ, in γ
        return np.asarray(at.log_likelihood + prior.sum(axis=1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Batch:
    """At N ratios: u′S⁻¹u (N,), W′S⁻¹u (N, q), W′S⁻¹W (N, q, q).

    `log_likelihood` (N,) of γ has σ² integrated out under 1/σ²; `log_information` (N,) is
    log |I|.
    """

    ratios: NDArray[np.float64]
    square: NDArray[np.float64]
    slope: NDArray[np.float64]
    inner: NDArray[np.float64]
    log_likelihood: NDArray[np.float64]
    log_information: NDArray[np.float64]


def _batch(terms: RandomTerms, y: NDArray[np.float64], ratios: NDArray[np.float64]) -> _Batch:
    seen, belongs = contrasts(terms, y), terms.membership()
    covariance = (terms.W * ratios[:, None, terms.owner]) @ terms.W.T + np.eye(terms.W.shape[0])
    lower = np.linalg.cholesky(covariance)
    log_det = 2 * np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
    right = np.column_stack([terms.W, seen.inside])
    both = np.linalg.solve(lower, np.broadcast_to(right, (ratios.shape[0], *right.shape)))
    whitened, z = both[:, :, :-1], both[:, :, -1]
    inner = np.swapaxes(whitened, 1, 2) @ whitened
    square = np.einsum("ni,ni->n", z, z) + seen.outside
    crosses = np.einsum("qr,npq,ps->nrs", belongs, inner**2, belongs, optimize=True)
    traces = np.diagonal(inner, axis1=1, axis2=2) @ belongs
    return _Batch(
        ratios=ratios,
        square=square,
        slope=np.einsum("nkq,nk->nq", whitened, z),
        inner=inner,
        log_likelihood=-0.5 * log_det - 0.5 * seen.n * np.log(square),
        log_information=_log_information(seen.n, ratios, (traces, crosses)),
    )


def _log_information(
    n: int, ratios: NDArray[np.float64], known: tuple[NDArray[np.float64], NDArray[np.float64]]
) -> NDArray[np.float64]:
    # Determinant of tr S⁻¹A_iS⁻¹A_j over all terms and the residual, whose row follows from
    # I = S − Σ γ_r A_r: subtracting multiples of rows leaves |crosses| × what is left of n.
    traces, crosses = known
    n_terms = ratios.shape[1]
    whole = np.empty((ratios.shape[0], n_terms + 1, n_terms + 1))
    whole[:, :-1, :-1] = crosses
    # Columns (A_1 … A_R, S) have the determinant of (A_1 … A_R, I): S = I + Σ γ_r A_r.
    whole[:, -1, :-1] = whole[:, :-1, -1] = traces
    whole[:, -1, -1] = n
    return np.asarray(np.linalg.slogdet(whole)[1])


def _coefficients(
    terms: RandomTerms,
    y: NDArray[np.float64],
    drawn: tuple[_Batch, NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.float64]:
    # On Q: mean Q′y − G D W′S⁻¹u and covariance σ²(I + G(D − D W′S⁻¹W D)G′), G = Q′Z.
    at, residual, normal = drawn
    across = terms.fixed.Q.T @ terms.Z
    per_column = at.ratios[:, terms.owner]
    mean = terms.fixed.Q.T @ y - (per_column * at.slope) @ across.T
    middle = -per_column[:, :, None] * at.inner * per_column[:, None, :]
    places = np.arange(per_column.shape[1])
    middle[:, places, places] += per_column
    covariance = across @ middle @ across.T + np.eye(terms.fixed.rank)
    lower = np.linalg.cholesky(covariance)
    return np.asarray(mean + np.sqrt(residual)[:, None] * np.einsum("nij,nj->ni", lower, normal))


def _ratio_draws(
    rng: np.random.Generator, model: _Model, *, n_draws: int
) -> tuple[NDArray[np.float64], float]:
    terms = model.terms
    if terms.n_terms == 0:
        return np.empty((n_draws, 0)), float(n_draws)
    scale = _scale(terms)
    first = _spread_points(rng, terms.n_terms, FIRST)
    weight = _weights(model, (first, np.zeros(first.shape[0]), scale))
    second, log_proposed = _near(rng, terms.n_terms, (first, weight))
    weight = _weights(model, (second, log_proposed, scale))
    # Systematic resampling: as even as the weights allow.
    ladder = (rng.random() + np.arange(n_draws)) / n_draws
    chosen = np.searchsorted(np.cumsum(weight), ladder).clip(max=weight.size - 1)
    return _ratios(rng.permutation(second[chosen]), scale), float(1 / (weight**2).sum())


def _scale(terms: RandomTerms) -> NDArray[np.float64]:
    # One over the rows of a level: the ratio at which levels scatter as much as their means do.
    sizes = (terms.Z**2).sum(axis=0) @ terms.membership() / terms.membership().sum(axis=0)
    return np.asarray(1 / sizes)


def _ratios(places: NDArray[np.float64], scale: NDArray[np.float64]) -> NDArray[np.float64]:
    # γ = c (s / (1 − s))²: near 0 and far out the density of s stays finite.
    return np.asarray(scale * (places / (1 - places)) ** 2)


def _weights(
    model: _Model,
    proposed: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.float64]:
    places, log_proposed, scale = proposed
    ratios = _ratios(places, scale)
    logs = [
        model.log_density(ratios[start : start + AT_ONCE])
        for start in range(0, places.shape[0], AT_ONCE)
    ]
    stretch = np.log(places / (1 - places) ** 3).sum(axis=1)
    log_weight = np.concatenate(logs) + stretch - log_proposed
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _spread_points(rng: np.random.Generator, n_terms: int, power: int) -> NDArray[np.float64]:
    """Return points (2^power, n_terms) spread evenly over the unit cube, shifted at random.

    Multiples of powers of a root of x^(d+1) = x + 1, modulo 1: a Weyl sequence (Niederreiter
    1992, Random Number Generation and Quasi-Monte Carlo Methods, chapter 3), shifted after
    Cranley and Patterson (1976), SIAM Journal on Numerical Analysis 13, 904-914.
    """
    root = 2.0
    for _ in range(60):
        root = (1 + root) ** (1 / (n_terms + 1))
    steps = root ** -np.arange(1.0, n_terms + 1)
    points = (rng.random(n_terms) + np.arange(1, 2**power + 1)[:, None] * steps) % 1.0
    return np.asarray(points.clip(1e-6, 1 - 1e-6))


def _near(
    rng: np.random.Generator,
    n_terms: int,
    found: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return points like those that carried weight, and their log density (a beta each axis)."""
    places, weight = found
    centre = weight @ places
    variance = np.maximum(weight @ (places - centre) ** 2, 1e-5)
    total = np.maximum(centre * (1 - centre) / variance - 1, 2.0)
    power = SECOND + n_terms - 1
    points = _spread_points(rng, n_terms + 1, power)
    inside, stays = points[:, :-1], points[:, -1] < SPREAD_OUT
    a, b = total * centre, total * (1 - centre)
    shaped = np.clip(betaincinv(a, b, inside), 1e-6, 1 - 1e-6)
    second = np.where(stays[:, None], inside, shaped)
    logs = xlogy(a - 1, second) + xlog1py(b - 1, -second) - betaln(a, b)
    density = np.exp(logs.sum(axis=1))
    return second, np.log(SPREAD_OUT + (1 - SPREAD_OUT) * density)
