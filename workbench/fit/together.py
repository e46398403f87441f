"""Several outcomes at once: which settings help one and hurt another, and what parts share.

Residual correlation after the models are fitted: Johnson and Wichern (2007), Applied
Multivariate Statistical Analysis, 6th ed., section 7.7; its limits by Fisher's z (Fisher 1921,
Metron 1, 3-32).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from workbench.define.outcomes import Counted, Graded, Measured, PassFail
from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.nouns import Estimate
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.scales import turns_round

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.define.outcomes import Outcome
    from workbench.fit.faces import Fit
    from workbench.fit.nouns import Effect

CONFIDENCE = 0.95
LEAST_SHARED = 5  # runs below which a correlation says nothing at all


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeOff:
    """One effect on one outcome: whether more of the setting helps, hurts, or is open.

    `verdict` is "helps", "hurts", "either way" (a target between two limits), "no requirement"
    or "open".
    """

    effect: str
    outcome: str
    value: float
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """How the residuals of two outcomes go together, run by run."""

    first: str
    second: str
    n_runs: int
    correlation: Estimate | Unavailable


def trade_offs(fits: Sequence[Fit]) -> tuple[TradeOff, ...]:
    """Return every main effect on every outcome with what it does to the requirement."""
    return tuple(
        TradeOff(
            effect=effect.name,
            outcome=fit.outcome.name,
            value=effect.value,
            verdict=_verdict(effect, fit.outcome),
        )
        for fit in fits
        for effect in fit.effects
        if effect.term.order == 1
    )


def pulled_apart(found: Sequence[TradeOff]) -> tuple[str, ...]:
    """Return the effects that help one outcome and hurt another."""
    names = dict.fromkeys(one.effect for one in found)
    verdicts = {name: {one.verdict for one in found if one.effect == name} for name in names}
    return tuple(name for name in names if {"helps", "hurts"} <= verdicts[name])


def shared_scatter(fits: Sequence[Fit]) -> tuple[Shared, ...]:
    """Return the residual correlation of each pair of outcomes over the runs that have both."""
    residuals = [(fit.outcome.name, _residuals(fit)) for fit in fits]
    return tuple(
        _shared(first, second)
        for i, first in enumerate(residuals)
        for second in residuals[i + 1 :]
    )


def _verdict(effect: Effect, outcome: Outcome) -> str:
    wanted = _wanted(outcome)
    if wanted == "":
        return "no requirement"
    sign = _sign(effect, outcome)
    if sign == 0:
        return "open"
    if wanted == "between":
        return "either way"
    return "helps" if (sign > 0) == (wanted == "more") else "hurts"


def _wanted(outcome: Outcome) -> str:
    """Return which way is better: more, less, between two limits, or nobody said."""
    if isinstance(outcome, PassFail):
        return "more"
    requirement = outcome.requirement
    if requirement is None:
        return ""
    if requirement.low is not None and requirement.high is not None:
        return "between"
    return "more" if requirement.low is not None else "less"


def _sign(effect: Effect, outcome: Outcome) -> int:
    if isinstance(effect.estimate, Unavailable):
        return 0
    nothing = 1.0 if effect.is_ratio else 0.0
    turned = isinstance(outcome, Measured) and turns_round(outcome.scale)
    if effect.estimate.low > nothing:
        return -1 if turned else 1
    if effect.estimate.high < nothing:
        return 1 if turned else -1
    return 0


@dataclass(frozen=True, slots=True)
class _ByRun:
    """Residuals (n,) by run; `why` says why they can be held against no other."""

    run: NDArray[np.int64]
    residual: NDArray[np.float64]
    error_df: float
    why: str = ""


def _residuals(fit: Fit) -> _ByRun:
    if isinstance(fit, MeasuredFit):
        return _ByRun(fit.run, fit.diagnostics.residuals, float(fit.error_df))
    if isinstance(fit, OutcomeModel) and not isinstance(fit.outcome, Graded | Counted):
        runs = np.unique(fit.checks.row_run)
        mean = [float(fit.checks.residual[fit.checks.row_run == run].mean()) for run in runs]
        left = fit.error_df if not isinstance(fit.error_df, Unavailable) else 0.0
        return _ByRun(runs, np.array(mean), left or float(runs.size - len(fit.column_names)))
    runs = np.unique(fit.run)
    kind = "grades" if isinstance(fit.outcome, Graded) else "counts"
    why = (
        f"{fit.outcome.name} is read in {kind}, whose residuals have no scatter of one size that "
        "another outcome's could be held against"
    )
    return _ByRun(runs, np.zeros(runs.size), 0.0, why)


def _shared(first: tuple[str, _ByRun], second: tuple[str, _ByRun]) -> Shared:
    (name, one), (other_name, other) = first, second
    why = " and ".join(dict.fromkeys(reason for reason in (one.why, other.why) if reason))
    both, at, there = np.intersect1d(one.run, other.run, return_indices=True)
    return Shared(
        first=name,
        second=other_name,
        n_runs=int(both.size),
        correlation=Unavailable(reason=f"{both.size} runs have both outcomes, but {why}")
        if why
        else correlation_of(
            one.residual[at], other.residual[there], df=min(one.error_df, other.error_df)
        ),
    )


def correlation_of(
    a: NDArray[np.float64], b: NDArray[np.float64], *, df: float
) -> Estimate | Unavailable:
    """Return the correlation of two sets of residuals (n,) with its 95 % limits.

    `df` are the error degrees of freedom behind them.
    """
    if a.size < LEAST_SHARED or df < 3:
        return Unavailable(
            reason=f"{a.size} runs have both outcomes, with {max(df, 0):g} error degrees of "
            "freedom: too few to say how they go together"
        )
    size = float(np.sqrt((a @ a) * (b @ b)))
    if size == 0:
        return Unavailable(reason="the residuals of one of them are all zero")
    value = float(np.clip(a @ b / size, -1, 1))
    # The model has used up degrees of freedom: n − 3 of Fisher's z becomes df − 2.
    spread = 1 / np.sqrt(df - 2)
    z = np.arctanh(np.clip(value, -1 + 1e-12, 1 - 1e-12))
    reach = float(ndtri((1 + CONFIDENCE) / 2)) * spread
    return Estimate(
        value=value,
        std_error=float((1 - value**2) * spread),
        low=float(np.tanh(z - reach)),
        high=float(np.tanh(z + reach)),
        df=df,
    )
