"""What a second-order fit says of its shape: the level point, the axes, the way up.

Box and Wilson (1951), Journal of the Royal Statistical Society B 13, 1-45.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.model_matrix import model_matrix
from workbench.define.settings import Settings
from workbench.errors import FitError, Unavailable
from workbench.numerics.quadratic_surface import (
    canonical,
    cone,
    may_be_level,
    stationary_point,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from workbench.define.factors import Numeric
    from workbench.fit.measured import MeasuredFit
    from workbench.numerics.quadratic_surface import Canonical, Cone

CONFIDENCE = 0.95
STEPS = 21  # grid points a factor over the range tried, on which the region of the point is judged


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelPoint:
    """Where the fitted surface is level (a top, a bottom, a saddle), on the model scale.

    `at` (k,) are natural units of `factors`, `value` the fitted outcome there (on the model
    scale), `axes` the curvatures in coded units. `possible_low` and `possible_high` (k,) frame
    the settings within the ranges tried that scatter allows to be level (95 %, Box and Hunter
    1954); Unavailable if there is no such setting or no error estimate. `is_inside`: within
    every range tried.
    """

    factors: tuple[Numeric, ...]
    at: NDArray[np.float64]
    value: float
    axes: Canonical
    possible_low: NDArray[np.float64] | Unavailable
    possible_high: NDArray[np.float64] | Unavailable
    is_inside: bool

    @property
    def shape(self) -> str:
        """Return what the point is: top, bottom or saddle."""
        if (self.axes.eigenvalues < 0).all():
            return "top"
        return "bottom" if (self.axes.eigenvalues > 0).all() else "saddle"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ascent:
    """The direction in which the fitted outcome changes fastest, from the middle of the ranges.

    `direction` (k,) has length 1 in coded units. `path` (m, k) are settings in natural units,
    the first the middle; `inside` (m,) says which lie in the ranges tried: beyond them the fit
    promises nothing. `cone` are the directions that scatter leaves possible (Box and Draper 1987,
    section 6.3); Unavailable without an error estimate or with a single factor.
    """

    factors: tuple[Numeric, ...]
    rises: bool
    direction: NDArray[np.float64]
    path: NDArray[np.float64]
    inside: NDArray[np.bool_]
    cone: Cone | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Surface:
    """Weights that take the estimates (p,) to c, b (k, p) and the pairs of B (k, k, p)."""

    factors: tuple[Numeric, ...]
    constant: NDArray[np.float64]
    slopes: NDArray[np.float64]
    bends: NDArray[np.float64]


def level_point(fit: MeasuredFit, *, levels: Mapping[str, str]) -> LevelPoint | Unavailable:
    """Return where the second-order surface is level, at one level of each category.

    Raises
    ------
    FitError
        If a category has no level in `levels`.
    """
    surface = _surface(fit, levels)
    if isinstance(surface, Unavailable):
        return surface
    slopes, bends = surface.slopes @ fit.estimates, surface.bends @ fit.estimates
    axes = canonical(bends)
    if axes.is_flat:
        return Unavailable(
            reason="the fitted surface does not bend in every direction, so no point of it is "
            "level; a second-order model with axial runs could show one"
        )
    x = stationary_point(slopes, bends)
    low, high = _possible(fit, surface)
    return LevelPoint(
        factors=surface.factors,
        at=_natural(surface.factors, x[None])[0],
        value=float(surface.constant @ fit.estimates + slopes @ x / 2),
        axes=axes,
        possible_low=low,
        possible_high=high,
        is_inside=bool((np.abs(x) <= 1).all()),
    )


def steepest_ascent(
    fit: MeasuredFit,
    *,
    levels: Mapping[str, str],
    rises: bool,
    n_steps: int = 5,
    step: tuple[str, float] | None = None,
) -> Ascent | Unavailable:
    """Return the path of steepest ascent (or descent) from the middle of the ranges.

    `step` names a factor and how far one step takes it, in its unit; by default one step is one
    coded unit along the direction.

    Raises
    ------
    FitError
        If a category has no level in `levels`, or `step` names no numeric factor of the model or
        one that the direction does not move.
    """
    surface = _surface(fit, levels)
    if isinstance(surface, Unavailable):
        return surface
    slopes = surface.slopes @ fit.estimates
    size = float(np.linalg.norm(slopes))
    if size == 0:
        return Unavailable(reason="the fitted surface has no slope in the middle of the ranges")
    direction = slopes / size * (1 if rises else -1)
    along = _stride(surface.factors, direction, step)
    coded = np.arange(n_steps + 1)[:, None] * along * direction
    return Ascent(
        factors=surface.factors,
        rises=rises,
        direction=direction,
        path=_natural(surface.factors, coded),
        inside=np.asarray((np.abs(coded) <= 1 + 1e-9).all(axis=1)),
        cone=_cone(fit, surface, slopes),
    )


def _surface(fit: MeasuredFit, levels: Mapping[str, str]) -> _Surface | Unavailable:
    if fit.aliased:
        return Unavailable(
            reason=f"these cannot be told apart: {'; '.join(one.line for one in fit.aliased)}"
        )
    factors = _moving(fit)
    if not factors:
        return Unavailable(reason="no numeric factor stands in the model")
    names = {one.name for one in factors}
    for term in fit.terms.terms:
        if sum(power for name, power in term.powers if name in names) > 2:
            return Unavailable(reason=f"{term} is of third order or more")
    k = len(factors)
    steps = np.vstack([np.zeros(k), np.eye(k), -np.eye(k)])
    pairs = [(i, j) for i in range(k) for j in range(i + 1, k)]
    corners = np.array([np.eye(k)[i] + np.eye(k)[j] for i, j in pairs]).reshape(-1, k)
    # A polynomial of second order is known from its values here: differences give b and B.
    rows = _rows(fit, np.vstack([steps, corners]), levels)
    middle, up, down = rows[0], rows[1 : k + 1], rows[k + 1 : 2 * k + 1]
    bends = np.zeros((k, k, rows.shape[1]))
    bends[np.arange(k), np.arange(k)] = (up + down) / 2 - middle
    for (i, j), corner in zip(pairs, rows[2 * k + 1 :], strict=True):
        bends[i, j] = bends[j, i] = (corner - up[i] - up[j] + middle) / 2
    return _Surface(factors=factors, constant=middle, slopes=(up - down) / 2, bends=bends)


def _moving(fit: MeasuredFit) -> tuple[Numeric, ...]:
    in_model = {name for term in fit.terms.terms for name in term.factors}
    return tuple(
        one
        for one in fit.settings.factors
        if not isinstance(one, Categorical) and one.name in in_model
    )


def _rows(
    fit: MeasuredFit, coded: NDArray[np.float64], levels: Mapping[str, str]
) -> NDArray[np.float64]:
    """Return the model matrix at coded points of the numeric factors in the model."""
    factors = _moving(fit)
    natural = _natural(factors, coded)
    place = {one.name: i for i, one in enumerate(factors)}
    values = np.zeros((len(coded), len(fit.settings.factors)))
    for j, one in enumerate(fit.settings.factors):
        if isinstance(one, Categorical):
            values[:, j] = one.index(_level(one, levels))
        else:
            values[:, j] = (one.low + one.high) / 2
            if one.name in place:
                values[:, j] = natural[:, place[one.name]]
    base = model_matrix(fit.terms, Settings(factors=fit.settings.factors, values=values)).X
    return np.hstack([base, np.zeros((len(base), fit.n_block_columns))])


def _level(factor: Categorical, levels: Mapping[str, str]) -> str:
    if factor.name not in levels:
        raise FitError(
            f"No level of {factor.name} is given.",
            why="Each level has its own surface.",
            next_step=f"Name one of: {', '.join(factor.levels)}.",
        )
    return levels[factor.name]


def _natural(factors: tuple[Numeric, ...], coded: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack([one.natural(coded[:, i]) for i, one in enumerate(factors)])


def _possible(
    fit: MeasuredFit, surface: _Surface
) -> tuple[NDArray[np.float64] | Unavailable, NDArray[np.float64] | Unavailable]:
    variance = fit.residual_variance
    if isinstance(variance, Unavailable):
        return variance, variance
    k = len(surface.factors)
    side = np.linspace(-1, 1, STEPS if k < 4 else 9)
    points = np.stack(np.meshgrid(*[side] * k, indexing="ij"), axis=-1).reshape(-1, k)
    weights = surface.slopes + 2 * np.einsum("ijp,mj->mip", surface.bends, points)
    covariances = variance * (weights @ fit.unscaled_covariance @ weights.transpose(0, 2, 1))
    level = may_be_level(
        weights @ fit.estimates, covariances, error_df=fit.error_df, confidence=CONFIDENCE
    )
    if not level.any():
        none = Unavailable(reason="no setting within the ranges tried may be level")
        return none, none
    frame = _natural(surface.factors, points[level])
    return frame.min(axis=0), frame.max(axis=0)


def _cone(fit: MeasuredFit, surface: _Surface, slopes: NDArray[np.float64]) -> Cone | Unavailable:
    variance = fit.residual_variance
    if isinstance(variance, Unavailable):
        return variance
    if slopes.size < 2:
        return Unavailable(reason="with one factor there is one direction")
    covariance = variance * (surface.slopes @ fit.unscaled_covariance @ surface.slopes.T)
    return cone(slopes, covariance, error_df=fit.error_df, confidence=CONFIDENCE)


def _stride(
    factors: tuple[Numeric, ...],
    direction: NDArray[np.float64],
    step: tuple[str, float] | None,
) -> float:
    if step is None:
        return 1.0
    name, size = step
    found = [i for i, one in enumerate(factors) if one.name == name]
    if not found or direction[found[0]] == 0 or size <= 0:
        raise FitError(
            f"A step of {size:g} in {name} makes no path.",
            why="A step is above zero, in a numeric factor that the path moves.",
            next_step=f"Use one of: {', '.join(one.name for one in factors)}.",
        )
    half = (factors[found[0]].high - factors[found[0]].low) / 2
    return size / half / abs(float(direction[found[0]]))
