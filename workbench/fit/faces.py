"""The face that every fit shows, so that `decide` and `show` never ask which kind it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from workbench.define.outcomes import Outcome
    from workbench.define.settings import Settings
    from workbench.define.terms import Terms
    from workbench.errors import Unavailable
    from workbench.fit.nouns import Aliased, Coefficient, Effect, TermTest
    from workbench.numerics.posterior import Some


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prediction:
    """Mean and new-part intervals (n,) at given settings, in the outcome's unit.

    `leverage` is x′(X′X)⁻¹x; `inside` says whether a point lies in the region tried: within
    every range and with a leverage no larger than the largest of the runs (Montgomery, Peck and
    Vining 2012, section 3.8, hidden extrapolation). For pass/fail the mean is the share that
    passes; for grades it is the share that meets the requirement (without one, the mean number
    of the grade); for counts it is the mean count. `new_part` ends are Unavailable where a single
    part has no interval (it passes or it does not).
    """

    settings: Settings
    mean: NDArray[np.float64]
    mean_low: NDArray[np.float64]
    mean_high: NDArray[np.float64]
    new_part_low: NDArray[np.float64] | Unavailable
    new_part_high: NDArray[np.float64] | Unavailable
    leverage: NDArray[np.float64]
    inside: NDArray[np.bool_]
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShareDraws:
    """Draws (n_draws, n_points) of the true share of new parts that meet the requirement.

    Kept apart by side, so that what limits a window can be named: the share of new parts below
    the low limit and above the high one.
    """

    too_low: NDArray[np.float32]
    too_high: NDArray[np.float32]

    def __post_init__(self) -> None:
        self.too_low.setflags(write=False)
        self.too_high.setflags(write=False)

    @property
    def share(self) -> NDArray[np.float32]:
        """Share that meets the requirement (n_draws, n_points)."""
        return 1 - self.too_low - self.too_high


class Foreseen(Protocol):
    """Processes drawn once (n_draws) and points worked out once (n), asked for shares in parts."""

    def shares(self, draws: Some = ..., points: Some = ...) -> ShareDraws:
        """Return the shares outside each limit in some of the draws at some of the points."""

    def failing(self, draws: Some = ..., points: Some = ...) -> NDArray[np.float32]:
        """Return the share outside either limit, the sum of both sides of `shares`."""

    def worst(self, draws: Some, starts: NDArray[np.intp]) -> NDArray[np.float32]:
        """Return a share (a, g) that what fails does not exceed anywhere in a group.

        Groups are neighbouring points that begin at `starts` (g,). It is an upper bound, not the
        largest share itself: where it is small nothing in the group need be computed.
        """


class Fit(Protocol):
    """What every kind of fit offers."""

    @property
    def outcome(self) -> Outcome:
        """The outcome that was fitted."""

    @property
    def kind(self) -> str:
        """Kind of model: measured, censored, pass-fail, graded or counted."""

    @property
    def model(self) -> str:
        """One sentence: which model this is, and why."""

    @property
    def settings(self) -> Settings:
        """Settings (n, k) of the rows used, as the fit saw them."""

    @property
    def run(self) -> NDArray[np.int64]:
        """Run number (n,) of each row used."""

    @property
    def terms(self) -> Terms:
        """The model terms asked for."""

    @property
    def effects(self) -> tuple[Effect, ...]:
        """What each term changes, with intervals, on a scale an engineer reads."""

    @property
    def tests(self) -> tuple[TermTest, ...]:
        """A test of each whole term, adjusted for all others, with its stratum."""

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """Estimates of the columns on the model scale, in coded units."""

    @property
    def aliased(self) -> tuple[Aliased, ...]:
        """Terms that share one number."""

    @property
    def uses_as_run(self) -> bool:
        """Whether the settings are those really set, not those planned."""

    @property
    def error_df(self) -> float | Unavailable:
        """Error degrees of freedom, where the kind of model has them."""

    @property
    def residual_sd(self) -> float | Unavailable:
        """Scatter of a run about the model on its scale, where the kind of model has it."""

    @property
    def r_squared(self) -> float | Unavailable:
        """Share of the variation explained, where the kind of model has it."""

    @property
    def adjusted_r_squared(self) -> float | Unavailable:
        """The same, for the columns spent."""

    @property
    def predicted_r_squared(self) -> float | Unavailable:
        """The same, each run predicted from the others."""

    @property
    def n_excluded(self) -> int:
        """Number of runs left out by hand."""

    @property
    def notes(self) -> tuple[str, ...]:
        """What the fit cannot tell, in sentences."""

    def predict(self, settings: Settings, *, confidence: float) -> Prediction | Unavailable:
        """Return mean and new-part intervals at the settings."""

    def inside(self, settings: Settings) -> NDArray[np.bool_] | Unavailable:
        """Return which points (n,) lie in the region tried (see `Prediction`), and nothing more.

        Unavailable where nothing can be predicted.
        """

    def foreseen(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> Foreseen | Unavailable:
        """Return the draws of `share_draws` to be asked in parts."""

    def share_draws(
        self, settings: Settings, *, n_draws: int, seed: int, model_form: float
    ) -> ShareDraws | Unavailable:
        """Return draws of the true share of new parts that meet the requirement.

        `model_form` is kappa of the model-form term (0: the model form is taken as right).
        Draw d is one process: the same for all points of a call, and for every call with the
        same seed and number of draws, so that boxes and faces can be compared.
        """
