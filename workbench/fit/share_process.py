"""Draws of the process behind a measured outcome: surface, scatter and bend."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations_with_replacement
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.fit.matrix import fit_matrix
from workbench.numerics.form_posterior import form_seen, seen_form_draws
from workbench.numerics.monomials import monomials
from workbench.numerics.posterior import Process, coefficient_draws, stream, variance_draws

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.fit.measured_model import MeasuredModel
    from workbench.fit.scatter import ScatterFit
    from workbench.fit.share_basis import ShareBasis


@dataclass(frozen=True, slots=True, kw_only=True)
class Yardstick:
    """Centre and unit in which float32 is exact enough: the fitted mean, the residual scatter.

    `variance` is the residual variance itself (0 if every run was met exactly; unit 1 then).
    """

    shift: float
    unit: float
    variance: float

    def measured(self, value: float) -> float:
        """Return a number of the model's scale in this unit from this centre."""
        return (value - self.shift) / self.unit


def process_draws(
    fit: MeasuredModel,
    basis: ShareBasis,
    *,
    yardstick: Yardstick,
    n_draws: int,
    seed: int,
    kappa: float,
) -> Process:
    """Return draws of the surface's coefficients (n_draws, q) and part variance (n_draws,).

    surface = F(x)β + (Z(x) − F(x)A)δ: what is left out is taken over by the fitted columns as far
    as the runs cannot tell it from them; what they can tell of it is learnt from them. Every
    random number is drawn whatever kappa is, so that kappa 0 is the same processes without their
    left-out curve.
    """
    rng = stream(seed, fit.outcome.name)
    unit, columns = yardstick.unit, basis.columns
    runs = variance_draws(rng, yardstick.variance / unit**2, df=fit.error_df, n_draws=n_draws)
    centred = (fit.estimates[columns] - np.where(columns == 0, yardstick.shift, 0.0)) / unit
    unscaled = fit.unscaled_covariance[np.ix_(columns, columns)]
    known = coefficient_draws(rng, centred, unscaled=unscaled, variances=runs)
    left_out = seen_form_draws(
        rng,
        known[:, basis.is_slope],
        kappa=kappa,
        variances=runs,
        seen=form_seen(_beside(fit, basis), (fit.response - yardstick.shift) / unit),
    )
    whole = np.hstack([known - left_out @ basis.projection.T, left_out])
    found = _variances(fit, runs, rng, unit=unit)
    plain = Process(
        coefficients=whole.astype(np.float32), part_variance=found.whole.astype(np.float32)
    )
    if fit.scatter is None:
        return plain
    return _with_scatter(plain, fit.scatter, _Moving(fit=fit, found=found, seed=seed))


def _beside(fit: MeasuredModel, basis: ShareBasis) -> NDArray[np.float64]:
    """Return what the runs see of the left-out columns beside the fitted ones (n, q − p)."""
    fitted = fit_matrix(fit.terms, fit.settings, (fit.block, fit.block_labels)).X[:, fit.estimable]
    coded = [one.coded(fit.settings.column(one.name)) for one in basis.factors]
    x = np.column_stack(coded) if coded else np.empty((len(fit.settings), 0))
    left_out = monomials(x, basis.exponents[basis.columns.size :])
    return np.asarray(left_out - fitted @ np.linalg.lstsq(fitted, left_out)[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Moving:
    fit: MeasuredModel
    found: _Variances
    seed: int


def _with_scatter(plain: Process, scatter: ScatterFit, moves: _Moving) -> Process:
    """Return the process whose scatter follows the settings, on average over the runs as before.

    Slopes of the log variance are normal about their estimates (Cook and Weisberg 1983,
    Biometrika 70, 1-10); where they are those of parts, the scatter between runs stays even.
    """
    fit, found = moves.fit, moves.found
    rng = stream(moves.seed, f"{fit.outcome.name} scatter")
    slopes = rng.multivariate_normal(
        scatter.slopes, scatter.covariance, size=found.whole.size, method="eigh"
    )
    over_runs = np.exp(slopes @ scatter.columns(fit.settings).T).mean(axis=1)
    of_parts = scatter.level == "part"
    moving = (found.parts if of_parts else found.whole) / over_runs
    still = found.between if of_parts else np.zeros_like(found.whole)
    return replace(
        plain,
        part_variance=still.astype(np.float32),
        moving_variance=moving.astype(np.float32),
        log_slopes=slopes.astype(np.float32),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Variances:
    """Draws (n_draws,) of the variance of a new part, and of it between and within runs."""

    whole: NDArray[np.float64]
    between: NDArray[np.float64]
    parts: NDArray[np.float64]


def _variances(
    fit: MeasuredModel, runs: NDArray[np.float64], rng: np.random.Generator, *, unit: float
) -> _Variances:
    """Return draws of the variance of a new part from a new run.

    A run mean of m parts scatters by run + part / m, a new part by run + part; so the new part
    has the run mean's variance plus part (1 − 1/m). Run scatter cannot be below zero, so the
    sum is never less than the part variance alone.
    """
    scatter = fit.part_scatter
    if scatter is None or scatter.df < 1:
        return _Variances(whole=runs, between=np.zeros_like(runs), parts=runs)
    parts = variance_draws(rng, scatter.variance / unit**2, df=scatter.df, n_draws=runs.size)
    whole = np.maximum(runs + parts * (1 - 1 / scatter.parts_per_run), parts)
    return _Variances(whole=whole, between=whole - parts, parts=parts)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bend:
    """Variance (n_draws, m) from curvature for each of m level combinations; `kind` (n,)."""

    variance: NDArray[np.float32]
    kind: NDArray[np.intp]


def bend(basis: ShareBasis, settings: Settings, process: Process) -> Bend:
    """Return the variance that curvature adds where settings scatter.

    Σ b_jj² (fourth − 1) s_j⁴ + Σ b_jk² s_j² s_k², taken at the middle of the ranges: exact for a
    second-order model; for the left-out curve it drops what is of third order in the scatter.
    """
    chosen = [j for j, one in enumerate(settings.factors) if isinstance(one, Categorical)]
    _, first, kind = np.unique(
        settings.values[:, chosen], axis=0, return_index=True, return_inverse=True
    )
    levels = basis.level_part(settings.rows(first))
    x = np.zeros((first.size, len(basis.factors)))
    variance = np.zeros((process.part_variance.size, first.size), dtype=np.float32)
    for j, k in combinations_with_replacement(basis.scattering, 2):
        weight = (basis.fourth[j] - 1) / 4 if j == k else 1.0
        size = np.sqrt(weight) * basis.sd[j] * basis.sd[k]
        curve = (size * basis.surface(x, levels, (j, k))).astype(np.float32)
        variance += (process.coefficients @ curve.T) ** 2
    return Bend(variance=variance, kind=np.asarray(kind.ravel(), dtype=np.intp))
