"""A made-up process: its truth is known, so plans, fits and windows can be held against it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr

from workbench.define.factors import Categorical
from workbench.define.settings import Settings
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.windows import Window
    from workbench.define.outcomes import Measured, Requirement
    from workbench.define.terms import Term
    from workbench.define.trial import Trial

CHUNK = 200_000  # rows of settings looked at together: keeps a large grid within a few megabytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """The truth of one measured outcome, on its own scale (natural logarithm for "log").

    `coefficients` are (term, size) pairs in coded settings (low −1, high +1), the mean among
    them as the empty term. `run_sd` is the scatter from run to run at settings held exactly,
    `part_sd` that of parts within a run.
    """

    outcome: Measured
    coefficients: tuple[tuple[Term, float], ...]
    run_sd: float
    part_sd: float

    def __post_init__(self) -> None:
        if self.outcome.scale not in ("as read", "log"):
            raise DefinitionError(
                f"The made-up outcome {self.outcome.name!r} is on the {self.outcome.scale} scale.",
                why="Made-up outcomes are simulated as read or by their logarithm.",
                next_step='Set scale = "as read" or "log" in the trial.',
            )
        if min(self.run_sd, self.part_sd) < 0 or self.sd == 0:
            raise DefinitionError(
                f"The made-up outcome {self.outcome.name!r} has run_sd {self.run_sd:g} and "
                f"part_sd {self.part_sd:g}.",
                why="A process without scatter needs no trial, and a scatter is never below zero.",
                next_step="State both at 0 or above, one of them above 0.",
            )

    @property
    def sd(self) -> float:
        """Standard deviation of a new part from a new run, on the outcome's scale."""
        return float(np.hypot(self.run_sd, self.part_sd))

    def mean(self, coded: NDArray[np.float64], names: tuple[str, ...]) -> NDArray[np.float64]:
        """Return the true mean (n,) on the outcome's scale at coded actual settings (n, k)."""
        total = np.zeros(coded.shape[0])
        for term, size in self.coefficients:
            column = np.full(coded.shape[0], size)
            for name, power in term.powers:
                column *= coded[:, names.index(name)] ** power
            total += column
        return total

    def share(self, mean: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the share (n,) of new parts that meet the requirement, given the true mean."""
        limits = self.outcome.requirement
        if limits is None:
            return np.ones_like(mean)
        low, high = _on_scale(limits, self.outcome.scale)
        return np.asarray(ndtr((high - mean) / self.sd) - ndtr((low - mean) / self.sd))


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeUpProcess:
    """A process that exists only as numbers: one surface for each measured outcome of a trial."""

    trial: Trial
    surfaces: tuple[Surface, ...]

    def __post_init__(self) -> None:
        for factor in self.trial.factors:
            if isinstance(factor, Categorical) or factor.setting_sd is None:
                raise DefinitionError(
                    f"The made-up process cannot set {factor.name!r}.",
                    why="Its truth needs numeric factors with a stated setting_sd.",
                    next_step="Give the factor a range and a setting_sd (0 is allowed).",
                )

    @property
    def setting_sd(self) -> NDArray[np.float64]:
        """Standard deviations (k,) with which the line holds the set values, natural units."""
        stated = (f.setting_sd for f in self.trial.factors if not isinstance(f, Categorical))
        return np.array([sd for sd in stated if sd is not None])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MadeUpReadings:
    """Readings (n_runs, n_parts, n_outcomes) in natural units, rounded as the gauge shows them.

    `actual` (n_runs, k) are the settings as they really were, setting error included: nobody
    on the line sees them.
    """

    values: NDArray[np.float64]
    actual: Settings

    def __post_init__(self) -> None:
        self.values.setflags(write=False)


def true_mean(process: MadeUpProcess, settings: Settings) -> NDArray[np.float64]:
    """Return true means (n, m) at actual settings, on each outcome's scale."""
    coded = settings.coded()
    return np.column_stack([s.mean(coded, settings.names) for s in process.surfaces])


def true_share(
    process: MadeUpProcess, settings: Settings, *, nodes: int = 5
) -> NDArray[np.float64]:
    """Return the true share (n,) of new parts meeting every requirement at set values.

    The setting errors are integrated out by the product rule of Gauss and Hermite with `nodes`
    points a factor; at given actual settings the made-up outcomes are independent.
    """
    errors, weights = _setting_errors(process, nodes)
    step = max(1, CHUNK // len(weights))
    shares = []
    for start in range(0, len(settings), step):
        rows = settings.rows(np.arange(start, min(start + step, len(settings))))
        shares.append(_share_given_errors(process, rows, errors) @ weights)
    return np.concatenate(shares)


def lowest_true_share(process: MadeUpProcess, window: Window, *, per_side: int = 5) -> float:
    """Return the lowest true share on an even grid over the window, its corners included."""
    sides = [np.linspace(one.low, one.high, per_side) for one in window.limits]
    factors = tuple(one.factor for one in window.limits)
    rows = np.array(list(product(*sides)), dtype=np.float64)
    grid = Settings(factors=factors, values=rows)
    return float(true_share(process, grid).min())


def simulate(
    process: MadeUpProcess, settings: Settings, *, parts_per_run: int, seed: int
) -> MadeUpReadings:
    """Run the made-up process at set values (n, k) and read `parts_per_run` parts a run."""
    rng = np.random.default_rng(seed)
    wander = rng.standard_normal(settings.values.shape) * process.setting_sd
    actual = Settings(factors=settings.factors, values=settings.values + wander)
    mean = true_mean(process, actual)
    n, m = mean.shape
    run_sd = np.array([s.run_sd for s in process.surfaces])
    part_sd = np.array([s.part_sd for s in process.surfaces])
    runs = mean + rng.standard_normal((n, m)) * run_sd
    parts = runs[:, None, :] + rng.standard_normal((n, parts_per_run, m)) * part_sd
    columns = [_read(parts[:, :, j], s.outcome) for j, s in enumerate(process.surfaces)]
    return MadeUpReadings(values=np.stack(columns, axis=2), actual=actual)


def _share_given_errors(
    process: MadeUpProcess, settings: Settings, errors: NDArray[np.float64]
) -> NDArray[np.float64]:
    n, k = settings.values.shape
    moved = (settings.values[:, None, :] + errors[None, :, :]).reshape(-1, k)
    actual = Settings(factors=settings.factors, values=moved)
    mean = true_mean(process, actual)
    share = np.ones(len(actual))
    for j, surface in enumerate(process.surfaces):
        share *= surface.share(mean[:, j])
    return share.reshape(n, -1)


def _setting_errors(
    process: MadeUpProcess, nodes: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    points, weights = np.polynomial.hermite_e.hermegauss(nodes)
    weights = weights / weights.sum()
    k = len(process.setting_sd)
    grid = np.array(list(product(points, repeat=k)))
    return grid * process.setting_sd, np.array([np.prod(w) for w in product(weights, repeat=k)])


def _on_scale(limits: Requirement, scale: str) -> tuple[float, float]:
    low = -np.inf if limits.low is None else limits.low
    high = np.inf if limits.high is None else limits.high
    if scale != "log":
        return float(low), float(high)
    return float(np.log(max(low, 0.0))) if low > 0 else -np.inf, float(np.log(high))


def _read(on_scale: NDArray[np.float64], outcome: Measured) -> NDArray[np.float64]:
    values = np.exp(on_scale) if outcome.scale == "log" else on_scale
    step = outcome.resolution
    return values if step is None else np.round(values / step) * step
