"""What a plan stands to lose: a run, clear estimates, or its clean order to a drift."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.model_matrix import model_matrix
from workbench.errors import PlanError, Unavailable
from workbench.numerics.least_squares import LEVERAGE_ONE, factored
from workbench.plan.changed import changed, in_order
from workbench.plan.order import run_order
from workbench.plan.strata import layers
from workbench.plan.verify import block_columns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.model_matrix import ModelMatrix
    from workbench.plan.plans import Plan
    from workbench.plan.strata import Layer


@dataclass(frozen=True, slots=True, kw_only=True)
class LostRun:
    """What the loss of one run would cost at worst.

    `growth` is the factor by which the standard error of the worst hit coefficient (`term`)
    grows; Unavailable where the coefficient could no longer be estimated.
    """

    run: int
    term: str
    growth: float | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EstimateOverlap:
    """Correlations (p, p) of the estimates of the model's columns, and the worst pair of terms."""

    names: tuple[str, ...]
    correlation: NDArray[np.float64]
    worst: tuple[str, str]
    largest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DegreesOfFreedom:
    """Where the runs of a plan go: mean, blocks, model, lack of fit, pure error.

    `layers` shares them out by what they are judged against: between resets of slow settings
    and within them, or all between runs.
    """

    blocks: int
    model: int
    lack_of_fit: int
    pure_error: int
    layers: tuple[Layer, ...]

    @property
    def error(self) -> int:
        """Degrees of freedom left for error in all."""
        return self.lack_of_fit + self.pure_error


def worst_lost_run(plan: Plan) -> LostRun:
    """Return the run whose loss would hurt most.

    Without row x the covariance is C + Cxx′C/(1 − h) (Sherman and Morrison 1950, Annals of
    Mathematical Statistics 21, 124-127), h the leverage of the run.
    """
    model = model_matrix(plan.terms, plan.settings)
    whole = factored(_with_blocks(model, plan))
    covariance = whole.unscaled_covariance()
    reach = whole.X @ covariance
    room = 1 - whole.leverage()
    lost = room < LEVERAGE_ONE
    names = [str(model.terms[t]) for t in model.term]
    if lost.any():
        run = int(np.flatnonzero(lost)[0])
        column = int(np.argmax(np.abs(reach[run, : len(names)])))
        reason = f"Without run {run + 1} {names[column]} could not be estimated."
        return LostRun(run=run + 1, term=names[column], growth=Unavailable(reason=reason))
    own = np.diagonal(covariance)
    growth = np.sqrt(1 + reach**2 / room[:, None] / own)[:, : len(names)]
    if len(plan.terms):
        growth[:, model.term == 0] = 0.0  # the mean is nobody's question
    run, column = (int(i) for i in np.unravel_index(np.argmax(growth), growth.shape))
    return LostRun(run=run + 1, term=names[column], growth=float(growth[run, column]))


def estimate_overlap(plan: Plan) -> EstimateOverlap:
    """Return how far the estimates of the plan's model lean on one another."""
    model = model_matrix(plan.terms, plan.settings)
    covariance = factored(_with_blocks(model, plan)).unscaled_covariance()
    p = model.X.shape[1]
    size = np.sqrt(np.diagonal(covariance)[:p])
    correlation = covariance[:p, :p] / np.outer(size, size)
    off = np.abs(np.triu(correlation, 1))
    a, b = (int(i) for i in np.unravel_index(np.argmax(off), off.shape))
    return EstimateOverlap(
        names=model.names,
        correlation=correlation,
        worst=(model.names[a], model.names[b]),
        largest=float(off[a, b]),
    )


def leverages(plan: Plan) -> NDArray[np.float64]:
    """Return the leverage (n,) of each run in the plan's model, blocks in it."""
    return factored(_with_blocks(model_matrix(plan.terms, plan.settings), plan)).leverage()


def degrees_of_freedom(plan: Plan) -> DegreesOfFreedom:
    """Return where the degrees of freedom of the runs go."""
    model = model_matrix(plan.terms, plan.settings)
    blocks = plan.n_blocks - 1
    rank = factored(_with_blocks(model, plan)).rank
    cells = np.unique(np.column_stack([plan.settings.values, plan.block]), axis=0)
    pure = len(plan) - len(cells)
    return DegreesOfFreedom(
        blocks=blocks,
        model=rank - 1 - blocks,
        lack_of_fit=len(plan) - rank - pure,
        pure_error=pure,
        layers=layers(plan),
    )


def drift_left(plan: Plan) -> float:
    """Return the largest correlation of a model column with a straight or bent trend in time.

    Blocks and the mean are taken out of the trend first, as the fit does.
    """
    model = model_matrix(plan.terms, plan.settings)
    return _drift(model.X[:, 1:], plan.block)


def against_drift(plan: Plan, *, seed: int, n_orders: int = 500) -> Plan:
    """Return the plan in that of `n_orders` random run orders which a slow drift disturbs least.

    Blocks and resets stay as they are (Cox 1951, Biometrika 38, 312-323, on orders free of
    trend); the notes give the size of what is left.

    Raises
    ------
    PlanError
        If fewer than one order is to be tried.
    """
    if n_orders < 1:
        raise PlanError(
            f"{n_orders} orders were to be tried.",
            why="The best of none cannot be chosen.",
            next_step="Ask for 1 or more, such as 500.",
        )
    rng = np.random.Generator(np.random.PCG64(seed))
    X = model_matrix(plan.terms, plan.settings).X[:, 1:]
    last = plan.closing_block
    tried = [run_order(plan.block, plan.setup, last_block=last, rng=rng) for _ in range(n_orders)]
    sizes = [_drift(X[order.rows], order.block) for order in tried]
    best = tried[int(np.argmin(sizes))]
    note = (
        f"Best of {n_orders} random orders against drift: a steady or bending trend is at most "
        f"{min(sizes):.2f} correlated with any effect (median order {np.median(sizes):.2f})."
    )
    options = (("orders tried", str(n_orders)), ("order seed", str(seed)))
    new = in_order(plan, best.rows, order=best, standard=plan.standard[best.rows])
    return changed(plan, new, options=options, note=note)


def _with_blocks(model: ModelMatrix, plan: Plan) -> NDArray[np.float64]:
    return np.hstack([model.X, block_columns(plan.block)])


def _drift(X: NDArray[np.float64], block: NDArray[np.int64]) -> float:
    time = np.linspace(-1, 1, len(X))
    trend = np.column_stack([time, time**2 - np.mean(time**2)])
    # Sum-to-zero block columns and the mean span the block indicators.
    base = np.column_stack([np.ones(len(X)), block_columns(block)])
    Q = np.linalg.qr(base)[0]
    trend, X = trend - Q @ (Q.T @ trend), X - Q @ (Q.T @ X)
    sizes = np.outer(np.linalg.norm(trend, axis=0), np.linalg.norm(X, axis=0))
    return float((np.abs(trend.T @ X) / np.where(sizes > 1e-12, sizes, np.inf)).max(initial=0.0))
