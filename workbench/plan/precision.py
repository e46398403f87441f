"""How well a plan will know the mean over the region, before a part is spent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.define.model_matrix import model_matrix
from workbench.define.settings import Settings, from_coded, settings
from workbench.errors import PlanError
from workbench.numerics.least_squares import factored
from workbench.plan.verify import block_columns

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from workbench.define.factors import Factor, Numeric
    from workbench.define.settings import Value
    from workbench.plan.plans import Plan

POINTS = 2**12  # shares of the region are right to about one in a thousand


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
    """Standard error (ny, nx) of the mean in units of the sd over two factors.

    `held` says where the others stand.
    """

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
    """Return the standard error over two numeric factors, others at `at` or at their middle.

    Raises
    ------
    PlanError
        If x and y are not two numeric factors of the plan.
    """
    factors = plan.settings.factors
    across, up = _axis(factors, x), _axis(factors, y)
    if x == y:
        raise _no_axis(factors, y)
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


def _axis(factors: tuple[Factor, ...], name: str) -> Numeric:
    for factor in factors:
        if factor.name == name and not isinstance(factor, Categorical):
            return factor
    raise _no_axis(factors, name)


def _no_axis(factors: tuple[Factor, ...], name: str) -> PlanError:
    numeric = [repr(f.name) for f in factors if not isinstance(f, Categorical)]
    return PlanError(
        f"A map was asked for over {name!r}.",
        why="It needs two different factors with a scale.",
        next_step=f"Choose two of: {', '.join(numeric)}.",
    )


def _region(factors: tuple[Factor, ...], seed: int) -> Settings:
    """Return points that fill the region evenly: multiples of √p modulo one, p prime, shifted.

    (Richtmyer 1951; Niederreiter 1978, Bulletin of the AMS 84, 957-1041.)
    """
    shift = np.random.Generator(np.random.PCG64(seed)).random(len(factors))
    steps = np.sqrt(np.array(_primes(len(factors)), dtype=np.float64))
    points = (np.arange(1, POINTS + 1)[:, None] * steps + shift) % 1.0
    coded = 2 * points - 1
    for j, factor in enumerate(factors):
        if isinstance(factor, Categorical):
            coded[:, j] = np.floor(points[:, j] * len(factor.levels))
    return from_coded(factors, coded)


def _primes(count: int) -> list[int]:
    found: list[int] = []
    candidate = 2
    while len(found) < count:
        if all(candidate % p for p in found):
            found.append(candidate)
        candidate += 1
    return found


def _middle(factor: Factor) -> Value:
    if isinstance(factor, Categorical):
        return factor.levels[0]
    return (factor.low + factor.high) / 2


def _shown(value: Value) -> str:
    return value if isinstance(value, str) else f"{value:g}"
