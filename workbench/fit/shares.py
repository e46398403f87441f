"""The share of new parts that meet the requirement: draws of it for a measured outcome.

The model is the whole one that was fitted, never a selected one. A draw is one process that the
runs leave possible: coefficients and scatter from the normal-inverse-gamma posterior under the
reference prior, plus a curve that the model form leaves out. In that process a new part is
normal on the outcome's scale; its settings scatter about what was set.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Role
from workbench.define.model_matrix import model_matrix
from workbench.define.settings import Settings
from workbench.errors import Unavailable
from workbench.fit.faces import ShareDraws
from workbench.fit.left_out import left_out_exponents, tried_exponents
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.numerics.monomials import monomials
from workbench.numerics.posterior import (
    Process,
    Spots,
    coefficient_draws,
    form_draws,
    stream,
    tails,
    variance_draws,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.factors import Numeric
    from workbench.define.terms import Terms
    from workbench.fit.measured import MeasuredFit

NORMAL, UNIFORM = 3.0, 1.8  # fourth moment over squared variance


def measured_share_draws(
    fit: MeasuredFit, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> ShareDraws | Unavailable:
    """Return draws (n_draws, n) of the share of new parts below and above the requirement.

    Settings (n, k) are *set* values in natural units; a noise factor stands at the centre of its
    production spread whatever they say. Draw d depends on seed, outcome name and n_draws alone,
    never on the points. Unavailable where there is no requirement, no scatter estimate, or a
    factor whose spread in production nobody has stated.
    """
    variance = fit.residual_variance
    limits = requirement_on_scale(fit.outcome)
    wanting = _wanting(fit)
    for answer in (variance, limits, wanting):
        if isinstance(answer, Unavailable):
            return answer
    if isinstance(variance, Unavailable) or isinstance(limits, Unavailable):
        return Unavailable(reason="the fit has no scatter or no requirement")
    basis = _basis(fit)
    shift, unit = float(fit.estimates[0]), float(np.sqrt(variance)) or 1.0
    process = _process(
        fit, basis, shift=shift, unit=unit, n_draws=n_draws, seed=seed, kappa=model_form
    )
    found = tails(
        process,
        _spots(basis, settings, process),
        low=(limits.low - shift) / unit,
        high=(limits.high - shift) / unit,
    )
    if limits.turned:
        return ShareDraws(too_low=found.above, too_high=found.below)
    return ShareDraws(too_low=found.below, too_high=found.above)


def moving(factors: Sequence[object]) -> tuple[Numeric, ...]:
    """Return the numeric factors that are set, in trial or production (control and noise)."""
    return tuple(
        one
        for one in factors
        if not isinstance(one, Categorical)
        and getattr(one, "role", None) in (Role.CONTROL, Role.NOISE)
    )


def _wanting(fit: MeasuredFit) -> Unavailable | None:
    """Return what is not stated or not settable, or None."""
    if fit.error_df < 1:
        return Unavailable(
            reason="no run is left to judge scatter by; repeat some runs or ask for fewer terms"
        )
    in_model = {name for term in fit.terms.terms for name in term.factors}
    for factor in fit.settings.factors:
        if factor.role is Role.OBSERVED and factor.name in in_model:
            return Unavailable(
                reason=f"{factor.name} is only read, not set, and stands in the model; no "
                "distribution of it in production is stated. Leave it out of the terms, or "
                'give it role = "noise" with a spread'
            )
    for factor in moving(fit.settings.factors):
        if factor.role is Role.NOISE and factor.spread is None:
            return Unavailable(
                reason=f"nobody has stated how {factor.name} varies in production; give it a "
                'spread in trial.toml, such as shape = "normal", centre and width in '
                f"{factor.unit or 'its unit'}"
            )
        if factor.role is Role.CONTROL and factor.setting_sd is None:
            return Unavailable(
                reason=f"nobody has stated how well the line holds {factor.name}; write "
                f"setting_sd in {factor.unit or 'its unit'} in trial.toml (0 if it is held "
                "exactly)"
            )
    return None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Basis:
    """The surface's columns: those of the model that the runs can tell, then those left out.

    `exponents` (q, k) belong to the k moving factors; `columns` (p,) index the model matrix.
    `sd` and `fourth` (k,) describe the scatter of each setting in coded units; `centre` (k,) is
    where a noise factor stands (NaN: as set). `projection` (p, m) is A of the model-form term.
    """

    terms: Terms
    factors: tuple[Numeric, ...]
    columns: NDArray[np.intp]
    exponents: NDArray[np.int64]
    n_model: int
    sd: NDArray[np.float64]
    fourth: NDArray[np.float64]
    centre: NDArray[np.float64]
    projection: NDArray[np.float64]


def _basis(fit: MeasuredFit) -> _Basis:
    factors = moving(fit.settings.factors)
    n_columns = fit.estimates.size - fit.n_block_columns
    columns = np.flatnonzero(fit.estimable[:n_columns])
    tried = tried_exponents(fit.terms, fit.settings, factors)[columns]
    left_out = left_out_exponents(tried, _coded(fit.settings, factors))
    scatter = [_scatter(one, as_run=fit.uses_as_run) for one in factors]
    return _Basis(
        terms=fit.terms,
        factors=factors,
        columns=columns,
        exponents=np.vstack([tried, left_out]),
        n_model=columns.size,
        sd=np.array([one.sd for one in scatter]),
        fourth=np.array([one.fourth for one in scatter]),
        centre=np.array([one.centre for one in scatter]),
        projection=_projection(fit, left_out, factors),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scatter:
    sd: float
    fourth: float
    centre: float


def _scatter(factor: Numeric, *, as_run: bool) -> _Scatter:
    """Return how a setting scatters in production, in coded units.

    A fit on planned settings holds the trial's setting error in its residual, so only a fit on
    as-run settings gets it added. A noise factor's spread is in no residual.
    """
    half = (factor.high - factor.low) / 2
    if factor.spread is None:
        sd = (factor.setting_sd or 0.0) / half if as_run else 0.0
        return _Scatter(sd=sd, fourth=NORMAL, centre=np.nan)
    centre = float(factor.coded(np.array([factor.spread.centre]))[0])
    if factor.spread.shape == "uniform":
        return _Scatter(sd=factor.spread.width / half / np.sqrt(3), fourth=UNIFORM, centre=centre)
    return _Scatter(sd=factor.spread.width / half, fourth=NORMAL, centre=centre)


def _coded(settings: Settings, factors: tuple[Numeric, ...]) -> NDArray[np.float64]:
    columns = [one.coded(settings.column(one.name)) for one in factors]
    return np.column_stack(columns) if columns else np.empty((len(settings), 0))


def _projection(
    fit: MeasuredFit, left_out: NDArray[np.int64], factors: tuple[Numeric, ...]
) -> NDArray[np.float64]:
    """Return A = (F′F)⁻¹F′Z: what the fitted columns F take over of those left out, Z."""
    n_columns = fit.estimates.size - fit.n_block_columns
    model = model_matrix(fit.terms, fit.settings).X
    last = len(fit.block_labels) - 1
    own = (fit.block[:, None] == np.arange(last)).astype(float) - (fit.block == last)[:, None]
    F = np.hstack([model, own[:, : fit.n_block_columns]])[:, fit.estimable]
    Z = monomials(_coded(fit.settings, factors), left_out)
    kept = int(fit.estimable[:n_columns].sum())
    return np.asarray(np.linalg.lstsq(F, Z)[0])[:kept]


def _process(
    fit: MeasuredFit,
    basis: _Basis,
    *,
    shift: float,
    unit: float,
    n_draws: int,
    seed: int,
    kappa: float,
) -> Process:
    """Return the draws, centred and in units of the residual scatter so that float32 is enough.

    Every random number is drawn whatever kappa is, so that kappa 0 is the same processes
    without their left-out curve.
    """
    rng = stream(seed, fit.outcome.name)
    squared = float(fit.residual_variance) if not isinstance(
        fit.residual_variance, Unavailable
    ) else 0.0
    runs = variance_draws(rng, squared / unit**2, df=fit.error_df, n_draws=n_draws)
    centred = fit.estimates[basis.columns] / unit
    centred[basis.columns == 0] -= shift / unit
    unscaled = fit.unscaled_covariance[np.ix_(basis.columns, basis.columns)]
    known = coefficient_draws(rng, centred, unscaled, runs)
    first = basis.exponents[: basis.n_model].sum(axis=1) == 1
    left_out = form_draws(
        rng,
        known[:, first & _is_plain(fit, basis)],
        n_columns=basis.exponents.shape[0] - basis.n_model,
        kappa=kappa,
    )
    whole = np.hstack([known - left_out @ basis.projection.T, left_out])
    parts = _part_variance(fit, runs, rng, unit=unit)
    return Process(
        coefficients=whole.astype(np.float32), part_variance=parts.astype(np.float32)
    )


def _is_plain(fit: MeasuredFit, basis: _Basis) -> NDArray[np.bool_]:
    """Return which model columns have no categorical factor in them."""
    named = {one.name for one in fit.settings.factors if isinstance(one, Categorical)}
    owner = model_matrix(fit.terms, fit.settings.rows(np.array([0])))
    plain = [not named & set(owner.terms[index].factors) for index in owner.term]
    return np.array(plain)[basis.columns]


def _part_variance(
    fit: MeasuredFit, runs: NDArray[np.float64], rng: np.random.Generator, *, unit: float
) -> NDArray[np.float64]:
    """Return draws of the variance of a new part from a new run.

    A run mean of m parts scatters by run + part / m, a new part by run + part; so the new part
    has the run mean's variance plus part (1 − 1/m). Run scatter cannot be below zero, so the
    sum is never less than the part variance alone.
    """
    scatter = fit.part_scatter
    if scatter is None or scatter.df < 1:
        return runs
    parts = variance_draws(rng, scatter.variance / unit**2, df=scatter.df, n_draws=runs.size)
    return np.maximum(runs + parts * (1 - 1 / scatter.parts_per_run), parts)


def _spots(basis: _Basis, settings: Settings, process: Process) -> Spots:
    x = _coded(settings, basis.factors)
    x = np.where(np.isnan(basis.centre), x, basis.centre)
    shares = _categorical_part(basis, settings)
    mean = _surface(basis, x, shares)
    axes = [int(axis) for axis in np.flatnonzero(basis.sd > 0)]
    for axis in axes:
        mean = mean + basis.sd[axis] ** 2 / 2 * _surface(basis, x, shares, (axis, axis))
    touched = [np.flatnonzero(basis.exponents[:, axis] > 0) for axis in axes]
    slopes = [
        (basis.sd[axis] * _surface(basis, x, shares, (axis,))[:, some]).astype(np.float32)
        for axis, some in zip(axes, touched, strict=True)
    ]
    return Spots(
        mean=mean.astype(np.float32),
        slopes=tuple(slopes),
        slope_columns=tuple(touched),
        bend=_bend(basis, settings, process) if axes else None,
    )


def _surface(
    basis: _Basis,
    x: NDArray[np.float64],
    categorical: NDArray[np.float64],
    by: tuple[int, ...] = (),
) -> NDArray[np.float64]:
    return categorical * monomials(x, basis.exponents, by)


def _categorical_part(basis: _Basis, settings: Settings) -> NDArray[np.float64]:
    """Return what the levels of the categories multiply each column by (n, q).

    It is the model matrix with every numeric factor at coded 1; a left-out column is the same
    curve at every level.
    """
    values = np.array(settings.values)
    for j, factor in enumerate(settings.factors):
        if not isinstance(factor, Categorical):
            values[:, j] = factor.high
    fixed = Settings(factors=settings.factors, values=values)
    known = model_matrix(basis.terms, fixed).X[:, basis.columns]
    return np.hstack([known, np.ones((len(settings), basis.exponents.shape[0] - basis.n_model))])


def _bend(basis: _Basis, settings: Settings, process: Process) -> NDArray[np.float32]:
    """Return the variance (n_draws, n) that curvature adds where settings scatter.

    Σ b_jj² (fourth − 1) s_j⁴ + Σ b_jk² s_j² s_k², taken at the middle of the ranges: exact for a
    second-order model; for the left-out curve it drops what is of third order in the scatter.
    """
    levels, place = np.unique(_levels(settings), axis=0, return_inverse=True)
    first = [int(np.flatnonzero(place.ravel() == i)[0]) for i in range(levels.shape[0])]
    middles = settings.rows(np.array(first))
    categorical = _categorical_part(basis, middles)
    x = np.zeros((len(middles), len(basis.factors)))
    bend = np.zeros((process.part_variance.size, len(middles)), dtype=np.float32)
    for j, k in combinations_with_replacement(np.flatnonzero(basis.sd > 0).tolist(), 2):
        weight = (basis.fourth[j] - 1) / 4 if j == k else 1.0
        size = np.sqrt(weight) * basis.sd[j] * basis.sd[k]
        curve = (size * _surface(basis, x, categorical, (j, k))).astype(np.float32)
        bend += (process.coefficients @ curve.T) ** 2
    return np.asarray(bend[:, place.ravel()])


def _levels(settings: Settings) -> NDArray[np.float64]:
    chosen = [j for j, one in enumerate(settings.factors) if isinstance(one, Categorical)]
    return np.asarray(settings.values[:, chosen])
