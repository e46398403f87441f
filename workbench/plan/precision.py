"""How well a plan will know the mean over the region, before a part is spent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.model_matrix import model_matrix
from workbench.define.settings import Settings, Value, from_coded, settings
from workbench.numerics.least_squares import factored
from workbench.plan.verify import block_columns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor, Numeric
    from workbench.plan.plans import Plan

POINTS = 2**12  # relative error of an average over the cube below 1e-5 with Sobol points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Precision:
    """Standard error of the mean, in units of the run-to-run sd, over the region (m,) sorted.

    Points fill the box between low and high evenly, categories at every combination of levels
    (share of the region: Zahran, Anderson-Cook and Myers 2003, Journal of Quality Technology
    35, 377-386).
    """

    standard_error: NDArray[np.float64]

    def __post_init__(self) -> None:
        self.standard_error.setflags(write=False)

    def share_below(self, limit: float) -> float:
        """Return the share of the region in which the standard error is below `limit` sd."""
        return float(np.searchsorted(self.standard_error, limit) / self.standard_error.size)

    def at_share(self, share: float) -> float:
        """Return the standard error, in sd, that this share of the region does not exceed."""
        return float(np.quantile(self.standard_error, share))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrecisionMap:
    """Standard error (ny, nx) of the mean in units of the sd, over two factors; `held` says where."""

    x_factor: Numeric
    y_factor: Numeric
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    standard_error: NDArray[np.float64]
    held: str


def precision(plan: Plan, *, seed: int) -> Precision:
    """Return the standard error of the mean over the whole region of the plan's factors."""
    found = _standard_error(plan, _region(plan.settings.factors, seed))
    return Precision(standard_error=np.sort(found))


def precision_map(
    plan: Plan, *, x: str, y: str, at: Mapping[str, Value] | None = None, n_points: int = 41
) -> PrecisionMap:
    """Return the standard error over two numeric factors, others at `at` or at their middle."""
    factors = plan.settings.factors
    by_name = {factor.name: factor for factor in factors}
    across, up = by_name[x], by_name[y]
    if isinstance(across, Categorical) or isinstance(up, Categorical):
        raise TypeError("a map needs two numeric factors")
    middle = {f.name: _middle(f) for f in factors} | dict(at or {})
    xs = np.linspace(across.low, across.high, n_points)
    ys = np.linspace(up.low, up.high, n_points)
    base = settings(factors, [middle])
    values = np.tile(base.values, (n_points * n_points, 1))
    values[:, base.names.index(x)] = np.tile(xs, n_points)
    values[:, base.names.index(y)] = np.repeat(ys, n_points)
    grid = Settings(factors=factors, values=values)
    rest = [f for f in factors if f.name not in (x, y)]
    return PrecisionMap(
        x_factor=across,
        y_factor=up,
        x=xs,
        y=ys,
        standard_error=_standard_error(plan, grid).reshape(n_points, n_points),
        held=", ".join(f"{f.name} {_shown(middle[f.name])} {f.unit}".strip() for f in rest),
    )


def _standard_error(plan: Plan, points: Settings) -> NDArray[np.float64]:
    """Return √(x′(X′X)⁻¹x) of the average block at the points (m,)."""
    model = model_matrix(plan.terms, plan.settings)
    X = np.hstack([model.X, block_columns(plan.block)])
    covariance = factored(X).unscaled_covariance()
    p = model.X.shape[1]
    at = model_matrix(plan.terms, points).X
    return np.asarray(np.sqrt(np.einsum("ij,jk,ik->i", at, covariance[:p, :p], at)))


def _region(factors: tuple[Factor, ...], seed: int) -> Settings:
    from scipy.stats import qmc  # noqa: PLC0415 -- slow to import, and only needed here

    points = qmc.Sobol(len(factors), rng=np.random.default_rng(seed)).random(POINTS)
    coded = 2 * points - 1
    for j, factor in enumerate(factors):
        if isinstance(factor, Categorical):
            coded[:, j] = np.floor(points[:, j] * len(factor.levels))
    return from_coded(factors, coded)


def _middle(factor: Factor) -> Value:
    if isinstance(factor, Categorical):
        return factor.levels[0]
    return (factor.low + factor.high) / 2


def _shown(value: Value) -> str:
    return value if isinstance(value, str) else f"{value:g}"
