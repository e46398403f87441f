"""The fit of a graded outcome."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.faces import Prediction
from workbench.fit.foreseen import CurvedParts, shares_of
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.points import points
from workbench.fit.share_basis import share_basis
from workbench.fit.shares import wanting
from workbench.fit.surface_draws import surfaces
from workbench.numerics.link_shares import odds_share
from workbench.numerics.ordered_likelihood import grade_chances
from workbench.numerics.ordered_posterior import ordered_draws
from workbench.numerics.posterior import stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Graded
    from workbench.define.settings import Settings
    from workbench.fit.core import Core
    from workbench.fit.faces import ShareDraws
    from workbench.fit.surface_draws import Surfaces
    from workbench.numerics.ordered_posterior import OrderedDraws
    from workbench.numerics.posterior import Some
    from workbench.numerics.proportional_odds import OrderedSolution

PREDICTED = 2000
RECENT = 16


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

    def inside(self, settings: Settings) -> NDArray[np.bool_] | Unavailable:
        """Return which points (n,) lie in the region tried."""
        return self.no_points or points(self, self.structure, settings).inside

    def foreseen(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> CurvedParts | Unavailable:
        """Return new parts, in draws of the share with a grade below or above those required.

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
        grades = _processes(self, n_draws=n_draws, seed=seed)
        drawn = grades.surfaces.bent(model_form)
        n_low, n_up_to = self._passing()
        last = self.used.size
        return CurvedParts(
            process=drawn.process,
            spots=drawn.spots(settings),
            falling=_Below(grades.edges[:, [n_low]]) if n_low > 0 else None,
            rising=_Above(grades.edges[:, [n_up_to]]) if n_up_to < last else None,
        )

    def share_draws(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> ShareDraws | Unavailable:
        """Return draws of the true share of new parts whose grade meets the requirement."""
        return shares_of(
            self.foreseen(settings, n_draws=n_draws, seed=seed, model_form=model_form)
        )

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
    """The share of parts below a threshold (n_draws, 1), by location."""

    threshold: NDArray[np.float32]

    def __call__(self, location: NDArray[np.float32], draws: Some) -> NDArray[np.float32]:
        """Return the share (a, n)."""
        return odds_share(self.threshold[draws] - location)


@dataclass(frozen=True, slots=True, eq=False)
class _Above:
    """The share of parts above a threshold (n_draws, 1), by location."""

    threshold: NDArray[np.float32]

    def __call__(self, location: NDArray[np.float32], draws: Some) -> NDArray[np.float32]:
        """Return the share (a, n)."""
        return odds_share(location - self.threshold[draws])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Grades:
    """Surfaces drawn, and the edges (n_draws, m + 2) of the grades: −inf, thresholds, inf."""

    surfaces: Surfaces
    edges: NDArray[np.float32]


@lru_cache(maxsize=RECENT)
def _processes(fit: GradedFit, *, n_draws: int, seed: int) -> _Grades:
    rng = stream(seed, fit.outcome.name)
    drawn = ordered_draws(fit.solution, rng, n_draws=n_draws)
    # The thresholds stand for the mean, whose column is nothing here.
    known = np.hstack([np.zeros((n_draws, 1)), drawn.slopes])
    found = surfaces(share_basis(fit), known, rng, variance=np.zeros(n_draws))
    edges = np.pad(drawn.thresholds, ((0, 0), (1, 1)), constant_values=np.inf)
    edges[:, 0] = -np.inf
    return _Grades(surfaces=found, edges=edges.astype(np.float32))


@lru_cache(maxsize=8)
def _drawn(fit: GradedFit, *, n_draws: int, seed: int) -> OrderedDraws:
    return ordered_draws(fit.solution, stream(seed, fit.outcome.name), n_draws=n_draws)
