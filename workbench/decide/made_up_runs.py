"""Runs of a made-up process: settings missed, lots and setups shared, parts read by a gauge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit, logit, ndtr

from workbench.decide.made_up import true_mean
from workbench.decide.made_up_surfaces import GradeSurface, PassSurface
from workbench.define.factors import Categorical
from workbench.define.settings import Settings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.decide.made_up import MadeUpProcess, Wandering
    from workbench.decide.made_up_surfaces import Breaking, Surface, Truth

BELOW, PLAIN, ABOVE = -1, 0, 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MadeUpReadings:
    """Readings (n_runs, n_parts, n_outcomes) in natural units, rounded as the gauge shows them.

    Pass is 1 and fail 0; a grade is its index. `mark` is −1 where the gauge only says "below"
    the value, +1 where it only says "above" (off the gauge, or something else broke there).
    `actual` (n_runs, k) are the settings as they really were, setting error included: nobody on
    the line sees them, save what is only read.
    """

    values: NDArray[np.float64]
    mark: NDArray[np.int64]
    actual: Settings

    def __post_init__(self) -> None:
        self.values.setflags(write=False)
        self.mark.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shared:
    """Which runs share a setup and which a lot: labels (n,) each."""

    setup: NDArray[np.int64]
    lot: NDArray[np.int64]


def simulate(
    process: MadeUpProcess,
    settings: Settings,
    *,
    parts_per_run: int,
    seed: int,
    shared: Shared | None = None,
) -> MadeUpReadings:
    """Run the made-up process at set values (n, k) and read `parts_per_run` parts a run.

    Without `shared` every run is a setup and a lot of its own. Runs of one setup share the
    setting error of the slow factors.

    Raises
    ------
    DefinitionError
        If the settings lack a factor that is set.
    """
    n = len(settings)
    own = np.arange(n)
    shared = shared or Shared(setup=own, lot=own)
    rng, apart = np.random.default_rng(seed), np.random.default_rng([seed, 1])
    actual = _actual(process, settings, shared.setup, rng=rng)
    mean = true_mean(process, actual)
    m = mean.shape[1]
    runs = mean + rng.standard_normal((n, m)) * [s.run_sd for s in process.surfaces]
    runs += _of_groups(shared.setup, [s.setup_sd for s in process.surfaces], apart)
    runs += _of_groups(shared.lot, [s.lot_sd for s in process.surfaces], apart)
    scatter = rng.standard_normal((n, parts_per_run, m))
    breaking = apart.standard_normal((n, parts_per_run, m))
    values, mark = np.empty_like(scatter), np.zeros(scatter.shape, dtype=np.int64)
    for j, surface in enumerate(process.surfaces):
        seen = _read(surface, runs[:, None, j], (scatter[:, :, j], breaking[:, :, j]))
        values[:, :, j], mark[:, :, j] = seen.value, seen.mark
    return MadeUpReadings(values=values, mark=mark, actual=actual)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seen:
    value: NDArray[np.float64]
    mark: NDArray[np.int64]


def _actual(
    process: MadeUpProcess,
    settings: Settings,
    setup: NDArray[np.int64],
    *,
    rng: np.random.Generator,
) -> Settings:
    factors = process.trial.factors
    errors = rng.standard_normal((len(settings), len(factors)))
    _, first, number = np.unique(setup, return_index=True, return_inverse=True)
    columns = []
    for j, factor in enumerate(factors):
        free = process.wanders(factor.name)
        if free is not None:
            columns.append(_walk(free, errors[:, j]))
            continue
        miss = errors[first, j][number.ravel()] if factor.slow else errors[:, j]
        sd = 0.0 if isinstance(factor, Categorical) else factor.setting_sd or 0.0
        columns.append(settings.column(factor.name) + sd * miss)
    return Settings(factors=factors, values=np.column_stack(columns))


def _walk(free: Wandering, noise: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a stationary walk (n,): each value keeps `carry` of the one before."""
    path = np.empty_like(noise)
    path[0] = noise[0]
    fresh = np.sqrt(1 - free.carry**2)
    for i in range(1, noise.size):
        path[i] = free.carry * path[i - 1] + fresh * noise[i]
    return np.asarray(free.centre + free.sd * path)


def _of_groups(
    label: NDArray[np.int64], sds: list[float], rng: np.random.Generator
) -> NDArray[np.float64]:
    """Return what runs (n, m) of one group have in common."""
    group = np.unique(label, return_inverse=True)[1].ravel()
    return np.asarray(rng.standard_normal((int(group.max()) + 1, len(sds)))[group] * sds)


def _read(
    surface: Truth,
    run: NDArray[np.float64],
    noise: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> _Seen:
    """Return what is read of parts (n, p) of runs at locations (n, 1)."""
    scatter, breaking = noise
    plain = np.zeros(scatter.shape, dtype=np.int64)
    if isinstance(surface, PassSurface):
        return _Seen(value=(ndtr(scatter) < expit(run)).astype(np.float64), mark=plain)
    if isinstance(surface, GradeSurface):
        # A standard logistic part about its run, from the same normal numbers.
        hidden = run + logit(ndtr(scatter))
        return _Seen(value=np.digitize(hidden, surface.thresholds).astype(np.float64), mark=plain)
    return _measured(surface, run + scatter * surface.part_sd, breaking)


def _measured(
    surface: Surface, on_scale: NDArray[np.float64], breaking: NDArray[np.float64]
) -> _Seen:
    outcome = surface.outcome
    value = np.exp(on_scale) if outcome.scale == "log" else on_scale
    mark = np.full(value.shape, PLAIN, dtype=np.int64)
    if surface.breaks is not None:
        gave_way = _strength(surface.breaks, breaking)
        mark[value > gave_way] = ABOVE
        value = np.minimum(value, gave_way)
    step = outcome.resolution
    value = value if step is None else np.round(value / step) * step
    if outcome.gauge_high is not None:
        mark[value > outcome.gauge_high] = ABOVE
        value = np.minimum(value, outcome.gauge_high)
    if outcome.gauge_low is not None:
        mark[value < outcome.gauge_low] = BELOW
        value = np.maximum(value, outcome.gauge_low)
    return _Seen(value=value, mark=mark)


def _strength(breaks: Breaking, noise: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(breaks.mean + breaks.sd * noise)
