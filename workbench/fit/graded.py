"""The fit of a graded outcome."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.faces import Prediction, ShareDraws
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.points import points
from workbench.fit.share_basis import share_basis
from workbench.fit.shares import spots, wanting
from workbench.fit.surface_draws import surface_draws
from workbench.numerics.link_shares import locations
from workbench.numerics.ordered_likelihood import grade_chances
from workbench.numerics.ordered_posterior import ordered_draws
from workbench.numerics.posterior import stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Graded
    from workbench.define.settings import Settings
    from workbench.fit.core import Core
    from workbench.fit.share_basis import ShareBasis
    from workbench.numerics.ordered_posterior import OrderedDraws
    from workbench.numerics.posterior import Process
    from workbench.numerics.proportional_odds import OrderedSolution

PREDICTED = 2000
RECENT = 24


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GradedFit(OutcomeModel):
    """One graded outcome's model, and what it says of points: predictions and shares.

    `structure` tells which columns (p,) the rows can tell (`estimable`), the mean among them, for
    which `solution` has thresholds instead. `used` (m + 1,) are the indices of the grades seen.
    `no_points` says why no point can be predicted, where runs shared setups or stand for several
    parts.
    """

    outcome: Graded
    structure: Core
    solution: OrderedSolution
    used: NDArray[np.int64]
    no_points: Unavailable | None = None

    @property
    def estimable(self) -> NDArray[np.bool_]:
        """Columns (p,) that have an estimate of their own."""
        return self.structure.whole.kept

    def predict(self, settings: Settings, *, confidence: float) -> Prediction | Unavailable:
        """Return the share that meets the requirement (without one, the mean number of the grade).

        Means and ends over draws of the posterior at settings (n, k). A single part has one
        grade, so it has no interval.

        Raises
        ------
        FitError
            If the settings are those of other factors, or lack one that stands in the model.
        """
        if self.no_points is not None:
            return self.no_points
        asked = points(self, self.structure, settings)
        drawn = _drawn(self, n_draws=PREDICTED, seed=0)
        location = drawn.slopes @ asked.X[:, self.estimable][:, 1:].T
        chances = grade_chances(drawn.thresholds[:, None, :], location)
        told = chances @ self._worth()
        ends = np.quantile(told, [(1 - confidence) / 2, (1 + confidence) / 2], axis=0)
        none = Unavailable(reason="a single part has one grade, so it has no interval")
        return Prediction(
            settings=settings,
            mean=told.mean(axis=0),
            mean_low=ends[0],
            mean_high=ends[1],
            new_part_low=none,
            new_part_high=none,
            leverage=asked.leverage,
            inside=asked.inside,
            confidence=confidence,
        )

    def share_draws(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> ShareDraws | Unavailable:
        """Return draws of the true share of new parts with a grade below or above those required.

        A draw is one process that the grades leave possible (`numerics.ordered_posterior`), plus
        a curve that the model form leaves out.
        """
        if self.no_points is not None:
            return self.no_points
        lacking = wanting(self)
        if self.outcome.requirement is None:
            return Unavailable(
                reason=f"{self.outcome.name} has no requirement; state which grades pass"
            )
        if lacking is not None:
            return lacking
        drawn = _processes(self, n_draws=n_draws, seed=seed, kappa=model_form)
        found = locations(drawn.process, spots(drawn.basis, settings, drawn.process))
        n_low, n_up_to = self._passing()
        below = found.averaged(_Below(drawn.thresholds, n_low))
        within = found.averaged(_Below(drawn.thresholds, n_up_to))
        return ShareDraws(too_low=below, too_high=np.maximum(1 - within, 0))

    def _passing(self) -> tuple[int, int]:
        """Return how many of the grades seen lie below the required ones, and up to their end."""
        requirement = self.outcome.requirement
        low = -np.inf if requirement is None or requirement.low is None else requirement.low
        high = np.inf if requirement is None or requirement.high is None else requirement.high
        return int((self.used < low).sum()), int((self.used <= high).sum())

    def _worth(self) -> NDArray[np.float64]:
        """Return 1 for grades (m + 1,) that pass, else 0; without requirement their numbers."""
        if self.outcome.requirement is None:
            return self.used.astype(np.float64)
        first, last = self._passing()
        place = np.arange(self.used.size)
        return np.asarray((place >= first) & (place < last), dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class _Below:
    """The share of parts in the first `count` of the grades seen, by location."""

    thresholds: NDArray[np.float64]
    count: int

    def __call__(self, location: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the share (n_draws, n)."""
        if self.count == 0:
            return np.zeros(location.shape)
        if self.count > self.thresholds.shape[1]:
            return np.ones(location.shape)
        logit = self.thresholds[:, self.count - 1, None] - location
        return np.asarray(1 / (1 + np.exp(-np.clip(logit, -500, 500))))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Processes:
    basis: ShareBasis
    process: Process
    thresholds: NDArray[np.float64]


@lru_cache(maxsize=RECENT)
def _processes(fit: GradedFit, *, n_draws: int, seed: int, kappa: float) -> _Processes:
    basis = share_basis(fit)
    rng = stream(seed, fit.outcome.name)
    drawn = ordered_draws(fit.solution, rng, n_draws=n_draws)
    # The thresholds stand for the mean, whose column is nothing here.
    known = np.hstack([np.zeros((n_draws, 1)), drawn.slopes])
    process = surface_draws(basis, known, rng, kappa=kappa, variance=np.zeros(n_draws))
    return _Processes(basis=basis, process=process, thresholds=drawn.thresholds)


@lru_cache(maxsize=8)
def _drawn(fit: GradedFit, *, n_draws: int, seed: int) -> OrderedDraws:
    return ordered_draws(fit.solution, stream(seed, fit.outcome.name), n_draws=n_draws)
