"""The truth of one made-up outcome of each kind: a location over the settings, and scatter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit, ndtr

from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Graded, Measured, PassFail, Requirement
    from workbench.define.terms import Term

NODES = 41  # of Gauss and Hermite over a normal scatter: a logistic share to 1e-9 at scatter 1


@dataclass(frozen=True, slots=True, kw_only=True)
class AtLevel:
    """What is added to a location at one level (its index) of a category."""

    factor: str
    level: int
    coefficients: tuple[tuple[Term, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Breaking:
    """Something else that gives way first: its strength is normal, in the outcome's unit.

    A part whose joint is stronger is read as "above" the force at which `what` broke.
    """

    what: str
    mean: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Location:
    """A polynomial over coded settings (low −1, high +1), and how it differs without cause.

    `coefficients` are (term, size) pairs, the mean among them as the empty term; `at_levels` is
    added at its level of a category. `run_sd` is the scatter from run to run at settings held
    exactly, `setup_sd` that from one reset of the slow settings to the next, `lot_sd` that from
    lot to lot, all on the scale of the location.
    """

    coefficients: tuple[tuple[Term, float], ...]
    run_sd: float
    at_levels: tuple[AtLevel, ...] = ()
    setup_sd: float = 0.0
    lot_sd: float = 0.0

    @property
    def shared_sd(self) -> float:
        """Standard deviation of the location of a new run, from a new setup and a new lot."""
        return float(np.sqrt(self.run_sd**2 + self.setup_sd**2 + self.lot_sd**2))

    def mean(self, coded: NDArray[np.float64], names: tuple[str, ...]) -> NDArray[np.float64]:
        """Return the true location (n,) at coded actual settings (n, k)."""
        total = _polynomial(self.coefficients, coded, names)
        for one in self.at_levels:
            there = coded[:, names.index(one.factor)] == one.level
            total[there] += _polynomial(one.coefficients, coded[there], names)
        return total


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface(Location):
    """The truth of one measured outcome, on its own scale (natural logarithm for "log").

    `part_sd` is the scatter of parts within a run; `breaks` is what may give way first.
    """

    outcome: Measured
    part_sd: float
    breaks: Breaking | None = None

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
        """Standard deviation of a new part from a new run, setup and lot, on that scale."""
        return float(np.hypot(self.shared_sd, self.part_sd))

    def share(self, mean: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the share (n,) of new parts that meet the requirement, given the true mean.

        What breaks first hides the strength of a joint and does not change it.
        """
        limits = self.outcome.requirement
        if limits is None:
            return np.ones_like(mean)
        low, high = _on_scale(limits, self.outcome.scale)
        return np.asarray(ndtr((high - mean) / self.sd) - ndtr((low - mean) / self.sd))


@dataclass(frozen=True, slots=True, kw_only=True)
class PassSurface(Location):
    """The truth of a pass/fail outcome: its location is the log of the odds that a part passes."""

    outcome: PassFail

    def share(self, mean: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the share (n,) of new parts that pass, given the true location."""
        return _averaged(mean, self.shared_sd)


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeSurface(Location):
    """The truth of a graded outcome: a hidden location and the thresholds between the grades.

    A part is at or below grade j with log odds `thresholds[j]` less the location (proportional
    odds; McCullagh 1980, Journal of the Royal Statistical Society B 42, 109-142).
    """

    outcome: Graded
    thresholds: tuple[float, ...]

    def __post_init__(self) -> None:
        ascend = list(self.thresholds) == sorted(set(self.thresholds))
        if len(self.thresholds) != len(self.outcome.grades) - 1 or not ascend:
            raise DefinitionError(
                f"The made-up outcome {self.outcome.name!r} has the thresholds "
                f"{', '.join(f'{t:g}' for t in self.thresholds) or 'none'}.",
                why="Between two neighbouring grades stands one threshold, and they ascend.",
                next_step=f"State {len(self.outcome.grades) - 1} thresholds.",
            )

    def share(self, mean: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the share (n,) of new parts that meet the requirement, given the location."""
        limits = self.outcome.requirement
        if limits is None:
            return np.ones_like(mean)
        share = np.ones_like(mean)
        if limits.high is not None and limits.high < len(self.thresholds):
            share = _averaged(self.thresholds[int(limits.high)] - mean, self.shared_sd)
        if limits.low is not None and limits.low > 0:
            share = share - _averaged(self.thresholds[int(limits.low) - 1] - mean, self.shared_sd)
        return share


Truth = Surface | PassSurface | GradeSurface


def _polynomial(
    coefficients: tuple[tuple[Term, float], ...],
    coded: NDArray[np.float64],
    names: tuple[str, ...],
) -> NDArray[np.float64]:
    total = np.zeros(coded.shape[0])
    for term, size in coefficients:
        column = np.full(coded.shape[0], size)
        for name, power in term.powers:
            column *= coded[:, names.index(name)] ** power
        total += column
    return total


def _averaged(log_odds: NDArray[np.float64], sd: float) -> NDArray[np.float64]:
    """Return the mean chance (n,) where the log odds scatter normally by `sd`."""
    if sd == 0:
        return np.asarray(expit(log_odds))
    points, weights = np.polynomial.hermite_e.hermegauss(NODES)
    total = np.zeros_like(log_odds)
    for point, weight in zip(points, weights / weights.sum(), strict=True):
        total += weight * expit(log_odds + sd * point)
    return total


def _on_scale(limits: Requirement, scale: str) -> tuple[float, float]:
    low = -np.inf if limits.low is None else limits.low
    high = np.inf if limits.high is None else limits.high
    if scale != "log":
        return float(low), float(high)
    return float(np.log(max(low, 0.0))) if low > 0 else -np.inf, float(np.log(high))
