"""A made-up process: its truth is known, so plans, fits and windows can be held against it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.made_up_surfaces import Surface
from workbench.define.factors import Categorical, Role
from workbench.define.settings import Settings
from workbench.errors import DefinitionError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.made_up_surfaces import Truth
    from workbench.decide.means_box import MeansBox
    from workbench.decide.windows import Window
    from workbench.define.factors import Factor
    from workbench.define.trial import Trial

__all__ = [
    "MadeUpProcess",
    "Surface",
    "Wandering",
    "lowest_true_share",
    "true_mean",
    "true_share",
    "whole_settings",
]
CHUNK = 200_000  # rows of settings looked at together: keeps a large grid within a few megabytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Wandering:
    """How something that is only read varies: normal about `centre`, drifting from run to run.

    `carry` is the correlation of a run with the one before it (0: each run anew).
    """

    factor: str
    centre: float
    sd: float
    carry: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeUpProcess:
    """A process that exists only as numbers: one surface for each outcome of a trial.

    `wandering` says how each observed factor varies.
    """

    trial: Trial
    surfaces: tuple[Truth, ...]
    wandering: tuple[Wandering, ...] = ()

    def __post_init__(self) -> None:
        named = {one.factor for one in self.wandering}
        for factor in self.trial.factors:
            if factor.role is Role.OBSERVED and factor.name not in named:
                raise DefinitionError(
                    f"The made-up process does not say how {factor.name!r} varies.",
                    why="Nobody sets it, and the outcomes may depend on it.",
                    next_step="State its centre, its sd and how far it carries over.",
                )
            if _is_set(factor) and getattr(factor, "setting_sd", 0.0) is None:
                raise DefinitionError(
                    f"The made-up process cannot set {factor.name!r}.",
                    why="Its truth needs a stated setting_sd of every numeric factor.",
                    next_step="Give the factor a range and a setting_sd (0 is allowed).",
                )

    @property
    def setting_sd(self) -> NDArray[np.float64]:
        """Standard deviations (k,) of actual about set values, natural units; 0 for categories.

        Of what is only read, it is that about its centre.
        """
        wide = {one.factor: one.sd for one in self.wandering}
        return np.array([wide.get(f.name, _held_to(f)) for f in self.trial.factors])

    def wanders(self, name: str) -> Wandering | None:
        """Return how an observed factor varies; None for one that is set."""
        return next((one for one in self.wandering if one.factor == name), None)


def true_mean(process: MadeUpProcess, settings: Settings) -> NDArray[np.float64]:
    """Return true locations (n, m) at actual settings, on each outcome's scale.

    That is the outcome's own scale if it is measured, the log odds of passing, or the hidden
    location of a grade.
    """
    coded = settings.coded()
    return np.column_stack([s.mean(coded, settings.names) for s in process.surfaces])


def true_share(
    process: MadeUpProcess, settings: Settings, *, nodes: int = 5
) -> NDArray[np.float64]:
    """Return the true share (n,) of new parts meeting every requirement at set values.

    The setting errors, and whatever is only read, are integrated out by the product rule of
    Gauss and Hermite with `nodes` points a factor; at given actual settings the made-up outcomes
    are independent.

    Raises
    ------
    DefinitionError
        If the settings lack a factor that is set.
    """
    set_to = whole_settings(process, settings)
    errors, weights = _setting_errors(process, nodes)
    step = max(1, CHUNK // len(weights))
    shares = []
    for start in range(0, len(set_to), step):
        rows = set_to.rows(np.arange(start, min(start + step, len(set_to))))
        shares.append(_share_given_errors(process, rows, errors) @ weights)
    return np.concatenate(shares)


def lowest_true_share(
    process: MadeUpProcess, window: Window | MeansBox, *, per_side: int = 5
) -> float:
    """Return the lowest true share on an even grid over the window, its corners included."""
    sides = [np.linspace(one.low, one.high, per_side) for one in window.limits]
    rows = np.array(list(product(*sides)), dtype=np.float64)
    factors: list[Factor] = [one.factor for one in window.limits]
    for name, level in window.levels:
        factor = process.trial.factor(name)
        if isinstance(factor, Categorical):
            factors.append(factor)
            rows = np.column_stack([rows, np.full(len(rows), factor.index(level))])
    grid = Settings(factors=tuple(factors), values=rows)
    return float(true_share(process, grid).min())


def whole_settings(process: MadeUpProcess, settings: Settings) -> Settings:
    """Return settings of every factor of the trial, what is only read at its centre.

    Raises
    ------
    DefinitionError
        If a factor that is set has no column.
    """
    factors = process.trial.factors
    columns = []
    for factor in factors:
        free = process.wanders(factor.name)
        if free is None:
            columns.append(settings.column(factor.name))
        else:
            columns.append(np.full(len(settings), free.centre))
    return Settings(factors=factors, values=np.column_stack(columns))


def _is_set(factor: Factor) -> bool:
    return factor.role is not Role.OBSERVED


def _held_to(factor: Factor) -> float:
    return 0.0 if isinstance(factor, Categorical) else factor.setting_sd or 0.0


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
    sd = process.setting_sd
    scatters = np.flatnonzero(sd > 0)
    grid = np.array(list(product(points, repeat=scatters.size)))
    errors = np.zeros((len(grid), sd.size))
    errors[:, scatters] = grid * sd[scatters]
    chance = np.array([np.prod(w) for w in product(weights, repeat=scatters.size)])
    return errors, chance
