"""Strata: against which scatter, and with how many degrees of freedom, a term is judged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.model_matrix import model_matrix
from workbench.errors import Unavailable
from workbench.numerics.least_squares import factored
from workbench.plan.verify import block_columns, carried_matrix

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.model_matrix import ModelMatrix
    from workbench.define.terms import Term
    from workbench.plan.plans import Plan

CONSTANT = 1e-9  # coded settings closer than this within a reset are one setting


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stratum:
    """A term's error: its df, and the covariance (q, q) of the term's coefficients.

    `is_slow` says that it is judged between resets of slow settings. The covariance is
    Unavailable where no error is left or the scatter between resets is not stated.
    """

    term: Term
    is_slow: bool
    error_df: int
    covariance: NDArray[np.float64] | Unavailable


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Degrees of freedom between resets of slow settings, or within them (between runs).

    `blocks`, `model` and `error` add up to `total`.
    """

    name: str
    total: int
    blocks: int
    model: int
    error: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Whole:
    """Model with blocks (n, p), which columns are constant within resets, and their df."""

    X: NDArray[np.float64]
    slow: NDArray[np.bool_]
    slow_df: int
    fast_df: int


def strata(plan: Plan, *, run_sd: float, setup_sd: float | None) -> tuple[Stratum, ...]:
    """Return the error of the mean and of each term of the plan's model.

    With runs that share a reset, terms constant within resets are judged with resets minus the
    rank of such terms and blocks as df, the others with what is left (exact where the two
    kinds are orthogonal; Box and Jones 1992, Journal of Applied Statistics 19, 3-26).

    Raises
    ------
    PlanError
        If the plan cannot carry its model.
    """
    model = model_matrix(plan.terms, plan.settings)
    carried_matrix(model, plan.block)
    whole = _whole(plan, model)
    shares = bool(whole.slow.any()) and np.unique(plan.setup).size < len(plan)
    covariance = _covariance(whole.X, plan.setup, (run_sd, setup_sd or 0.0))
    shift = whole.X.shape[1] - model.X.shape[1]
    found = []
    for one in model.terms:
        # Blocks stand between the mean and the terms.
        places = model.columns_of(one) + (shift if one.order else 0)
        is_slow = shares and bool(whole.slow[places].all())
        df = whole.slow_df if is_slow else whole.fast_df
        missing = _missing(df, is_slow=is_slow, setup_sd=setup_sd)
        block = covariance[np.ix_(places, places)]
        found.append(Stratum(term=one, is_slow=is_slow, error_df=df, covariance=missing or block))
    return tuple(found)


def layers(plan: Plan) -> tuple[Layer, ...]:
    """Return where the degrees of freedom go: between and within resets, or all between runs."""
    model = model_matrix(plan.terms, plan.settings)
    whole = _whole(plan, model)
    n, n_setups, blocks = len(plan), int(np.unique(plan.setup).size), plan.n_blocks - 1
    if n_setups == n:
        return (_layer("between runs", n - 1, blocks, error=whole.fast_df),)
    return (
        _layer("between resets", n_setups - 1, blocks, error=whole.slow_df),
        _layer("within resets", n - n_setups, 0, error=whole.fast_df),
    )


def _layer(name: str, total: int, blocks: int, *, error: int) -> Layer:
    return Layer(name=name, total=total, blocks=blocks, model=total - blocks - error, error=error)


def _whole(plan: Plan, model: ModelMatrix) -> _Whole:
    X = np.hstack([model.X[:, :1], block_columns(plan.block), model.X[:, 1:]])
    n_setups = np.unique(plan.setup).size
    n, p = X.shape
    if n_setups == n:
        return _Whole(X=X, slow=np.zeros(p, dtype=bool), slow_df=0, fast_df=n - p)
    within = np.array(X)
    for setup in np.unique(plan.setup):
        rows = plan.setup == setup
        within[rows] -= X[rows].mean(axis=0)
    slow = np.abs(within).max(axis=0) < CONSTANT
    between_rank = factored(X[:, slow]).rank
    resets = (plan.setup[:, None] == np.unique(plan.setup)).astype(float)
    return _Whole(
        X=X,
        slow=slow,
        slow_df=n_setups - between_rank,
        fast_df=n - factored(np.hstack([resets, X])).rank,
    )


def _covariance(
    X: NDArray[np.float64], setup: NDArray[np.int64], sds: tuple[float, float]
) -> NDArray[np.float64]:
    """Return (X′V⁻¹X)⁻¹ for runs of one sd whose resets share an error of another sd."""
    run_sd, setup_sd = sds
    information = X.T @ X
    if setup_sd > 0:
        for one in np.unique(setup):
            total = X[setup == one].sum(axis=0)
            size = int((setup == one).sum())
            # V⁻¹ of a reset of m runs is (I − c 11′)/σ² with c = η/(1 + ηm), η = σ_s²/σ².
            ratio = (setup_sd / run_sd) ** 2
            information -= ratio / (1 + ratio * size) * np.outer(total, total)
    return np.asarray(np.linalg.inv(information) * run_sd**2)


def _missing(df: int, *, is_slow: bool, setup_sd: float | None) -> Unavailable | None:
    if df < 1:
        between = "resets" if is_slow else "runs"
        return Unavailable(
            reason=f"No {between} are left over for error; add replicates or leave terms out."
        )
    if is_slow and setup_sd is None:
        return Unavailable(
            reason="It is judged against the scatter between resets of slow settings, "
            "which is not stated (setup_sd)."
        )
    return None
