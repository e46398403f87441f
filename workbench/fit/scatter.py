"""Which settings make the scatter of a measured outcome wider."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc, chdtri

from workbench.define.factors import Role
from workbench.define.model_matrix import model_matrix
from workbench.define.terms import Term, Terms
from workbench.errors import Unavailable
from workbench.fit.core import CONFIDENCE, core
from workbench.fit.linear_answers import EffectWords, Joint, Weighted, effect_table, test_table
from workbench.fit.matrix import fit_matrix
from workbench.fit.nouns import Estimate
from workbench.fit.part_rows import part_rows
from workbench.fit.run_means import run_means
from workbench.fit.scatter_cells import scatter_cells
from workbench.numerics.log_variances import (
    Cells,
    gamma_limits,
    gamma_test,
    gamma_variances,
    two_scatters,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.outcomes import Measured
    from workbench.define.settings import Settings
    from workbench.fit.nouns import Effect, TermTest
    from workbench.fit.run_means import RunMeans, Wanted
    from workbench.fit.scatter_cells import ScatterCells
    from workbench.run.record import Record

CLEAR = 0.05
FLOOR = 0.01  # of the smallest variance above zero: what a cell that reads the same is taken as
HINT = (
    "Without repeated runs this is a hint at most: a term missing from the model looks like "
    "uneven scatter (in simulation a missing product of one standard deviation raised it falsely "
    "in 18 % of trials). Repeat runs before acting on it."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScatterFit:
    """Which settings make the scatter wider: effects are ratios of standard deviations.

    `level` says whose scatter: of "run" means at the same settings, of a "part" within a run, or
    of residuals where nothing was repeated (`is_hint`). `slopes` (q,) with `covariance` (q, q)
    are those of the log variance on the coded columns of `terms` (mean left out), for those who
    draw shares; they mean something where `is_clear`.
    """

    outcome: Measured
    terms: Terms
    level: str
    is_hint: bool
    effects: tuple[Effect, ...]
    tests: tuple[TermTest, ...]
    column_names: tuple[str, ...]
    slopes: NDArray[np.float64]
    covariance: NDArray[np.float64]
    middle: NDArray[np.float64]
    notes: tuple[str, ...]

    def __post_init__(self) -> None:
        for array in (self.slopes, self.covariance, self.middle):
            array.setflags(write=False)

    @property
    def is_clear(self) -> bool:
        """Whether repeats show some setting to change the scatter (p below 5 %)."""
        known = [one.p for one in self.tests if not isinstance(one.p, Unavailable)]
        # One of several tests is below 5 % by chance alone: the smallest is held to its share.
        return not self.is_hint and bool(known) and min(known) < CLEAR / len(known)

    def columns(self, settings: Settings) -> NDArray[np.float64]:
        """Return what multiplies the slopes (n, q), so that 0 is the average cell of the trial.

        The log variance at a point is the average one plus columns @ slopes.
        """
        X = model_matrix(self.terms, settings).X[:, 1:]
        return np.asarray(X - self.middle)


def scatter_effects(
    record: Record, outcome: Measured, terms: Terms, *, wanted: Wanted
) -> ScatterFit | Unavailable:
    """Return which factors of the model change the scatter, one factor beside the others.

    With repeats by the likelihood ratio of cell variances (gamma with known shape); without, a
    hint from residuals, one factor at a time.

    Raises
    ------
    FitError
        If no run can be used.
    """
    data = part_rows(record, outcome.name, wanted)
    if (data.mark != 0).any():
        return Unavailable(reason="readings that are cut off hide how far they scatter")
    factors = _factors(data.settings, terms)
    if not factors:
        return Unavailable(reason="no factor of the model changed in these runs")
    mains = Terms(terms=tuple(Term(powers=((one.name, 1),)) for one in factors), asked="scatter")
    names = tuple(one.name for one in data.settings.factors if one.role is not Role.OBSERVED)
    cells = scatter_cells(data, outcome, names)
    if cells is not None:
        found = _from_repeats(cells, outcome, mains)
        if not isinstance(found, Unavailable):
            return found
    means = run_means(record, outcome, wanted)
    if isinstance(means, Unavailable):
        return means
    return _hint((means, terms), outcome, mains)


def _factors(settings: Settings, terms: Terms) -> tuple[Factor, ...]:
    in_model = {name for term in terms.terms for name in term.factors}
    return tuple(
        one
        for one in settings.factors
        if one.name in in_model and np.ptp(settings.column(one.name)) > 0
    )


def _from_repeats(
    cells: ScatterCells, outcome: Measured, mains: Terms
) -> ScatterFit | Unavailable:
    if not (cells.variance > 0).any():
        return Unavailable(reason="repeats read exactly the same everywhere")
    one_block = (np.zeros(cells.df.size, dtype=np.int64), ("",))
    matrix = fit_matrix(mains, cells.settings, one_block)
    structure = core(matrix, cells.variance)
    if structure.whole.rank < 2 or structure.error_df < 1:
        return Unavailable(reason="too few settings were repeated to compare their scatter")
    smallest = float(cells.variance[cells.variance > 0].min())
    kept = structure.whole.kept
    held = Cells(
        X=matrix.X[:, kept],
        variance=np.maximum(cells.variance, FLOOR * smallest),
        df=cells.df,
    )
    answers = GammaAnswers(cells=held)
    words = EffectWords(
        unit="", is_ratio=True, tail=", ratio of standard deviations", judged_by=cells.level
    )
    solved = gamma_variances(held)
    return ScatterFit(
        outcome=outcome,
        terms=mains,
        level=cells.level,
        is_hint=False,
        effects=effect_table(structure, answers, (cells.settings.factors, words)),
        tests=test_table(structure, answers, words),
        column_names=matrix.names[1:],
        slopes=_spread_out(solved.estimates, kept)[1:],
        covariance=_spread_out(_spread_out(solved.covariance, kept).T, kept)[1:, 1:],
        middle=np.average(matrix.X[:, 1:], axis=0, weights=cells.df),
        notes=_notes(cells),
    )


def _notes(cells: ScatterCells) -> tuple[str, ...]:
    whose = "run means" if cells.level == "run" else "parts within runs"
    said = [
        (
            f"From {cells.df.size} settings with {int(cells.df.sum())} degrees of freedom of "
            f"{whose}; it takes the scatter to be normal, so look at outliers first."
        )
    ]
    if cells.df.max() <= 1:
        said.append("Two repeats can hardly show a doubled standard deviation.")
    if (cells.variance == 0).any():
        said.append(
            "Some repeats read exactly the same; their scatter is taken as a tenth of the "
            "smallest other one. Check the resolution of the gauge."
        )
    return tuple(said)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GammaAnswers:
    """Profile intervals and likelihood-ratio tests of log standard deviations, by chi square."""

    cells: Cells

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return half of weights (r,) @ log-variance coefficients: a log ratio of sds."""
        solved = gamma_variances(self.cells)
        size = float(np.abs(weights).max())
        way = weights / size
        allowed = float(chdtri(1, 1 - CONFIDENCE))
        span = gamma_limits(self.cells, way, fall_allowed=allowed)
        value = float(way @ solved.estimates)
        spread = float(np.sqrt(way @ solved.covariance @ way))
        half = size / 2
        if not np.isfinite(span.low + span.high):
            reason = Unavailable(reason="repeats bound this ratio on one side only")
            return Weighted(value=half * value, estimate=reason, statistic=reason, p=reason)
        fall = self._fall(way)
        return Weighted(
            value=half * value,
            estimate=Estimate(
                value=half * value,
                std_error=half * spread,
                low=half * span.low,
                high=half * span.high,
                df=float(np.inf),
            ),
            statistic=float(np.copysign(np.sqrt(fall), value)),
            p=float(chdtrc(1, fall)),
        )

    def joint(self, places: NDArray[np.intp]) -> Joint:
        """Return the likelihood-ratio test, chi square over its df."""
        found = gamma_test(self.cells, places)
        return Joint(
            fall=found.statistic,
            df=found.df,
            error_df=float(np.inf),
            statistic=found.statistic / found.df,
            p=found.p,
        )

    def _fall(self, way: NDArray[np.float64]) -> float:
        pivot = int(np.argmax(np.abs(way)))
        others = np.delete(np.arange(way.size), pivot)
        carrier = self.cells.X[:, pivot] / way[pivot]
        columns = self.cells.X[:, others] - np.outer(carrier, way[others])
        smaller = Cells(X=columns, variance=self.cells.variance, df=self.cells.df)
        return max(gamma_variances(self.cells).fit - gamma_variances(smaller).fit, 0.0)


def _hint(
    located: tuple[RunMeans, Terms], outcome: Measured, mains: Terms
) -> ScatterFit | Unavailable:
    """Return a hint from residuals of the location model, one factor at a time (REML)."""
    means, terms = located
    location = core(
        fit_matrix(terms, means.settings, (means.block, means.block_labels)), means.response
    )
    if location.error_df < 4 or location.rss == 0:
        return Unavailable(
            reason="nothing was repeated and fewer than four residual degrees of freedom are "
            "left, so nothing can be said about scatter; repeat runs at some settings"
        )
    kept = location.matrix.X[:, location.whole.kept]
    matrix = fit_matrix(mains, means.settings, (np.zeros_like(means.block), ("",)))
    structure = core(matrix, means.response)
    answers = HintAnswers(X=kept, y=means.response, carriers=matrix.X[:, structure.whole.kept])
    words = EffectWords(
        unit="", is_ratio=True, tail=", ratio of standard deviations (a hint)", judged_by="hint"
    )
    nothing = matrix.X.shape[1] - 1
    return ScatterFit(
        outcome=outcome,
        terms=mains,
        level="residual",
        is_hint=True,
        effects=effect_table(structure, answers, (means.settings.factors, words)),
        tests=test_table(structure, answers, words),
        column_names=matrix.names[1:],
        slopes=np.zeros(nothing),
        covariance=np.zeros((nothing, nothing)),
        middle=matrix.X[:, 1:].mean(axis=0),
        notes=(HINT,),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HintAnswers:
    """Restricted-likelihood slopes of the log variance along one column at a time."""

    X: NDArray[np.float64]
    y: NDArray[np.float64]
    carriers: NDArray[np.float64]

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return half of a log-variance effect; only single columns are looked at."""
        places = np.flatnonzero(weights)
        none = Unavailable(reason="a hint is given for numeric factors and two levels only")
        if places.size != 1:
            return Weighted(value=none, estimate=none, statistic=none, p=none)
        found = two_scatters(self.X, self.y, self.carriers[:, places[0]])
        interval = Unavailable(reason="without repeats there is no interval to rely on")
        return Weighted(
            value=float(weights[places[0]]) * found.slope / 2,
            estimate=interval,
            statistic=float(np.sqrt(found.test.statistic)),
            p=found.test.p,
        )

    def joint(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        """Return the likelihood-ratio test of one column."""
        if places.size != 1:
            return Unavailable(reason="a hint is given for numeric factors and two levels only")
        found = two_scatters(self.X, self.y, self.carriers[:, places[0]])
        return Joint(
            fall=found.test.statistic,
            df=1,
            error_df=float(np.inf),
            statistic=found.test.statistic,
            p=found.test.p,
        )


def _spread_out(values: NDArray[np.float64], kept: NDArray[np.bool_]) -> NDArray[np.float64]:
    whole = np.zeros((kept.size, *values.shape[1:]))
    whole[kept] = values
    return whole
