"""Readings that stand far from the others, by one rule for all rows; nothing is left out.

The rule: the externally studentised residual of each run's mean from the planned model, and of
each part from the mean of its run, each held against Student's t with the chance divided by the
number of residuals looked at (Bonferroni; Cook and Weisberg 1982, Residuals and Influence in
Regression, section 2.2.2; Beckman and Cook 1983, Technometrics 25, 119-149). The chance is 5 % of
one false alarm or more in the whole trial.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy  # its parts load when a function of theirs is first called

from workbench.define.algebra import parse_terms
from workbench.define.model_matrix import model_matrix
from workbench.numerics.least_squares import factored, solved, studentised_residuals
from workbench.run.finding import Finding, Kind, Weight
from workbench.run.means import by_run, measured_outcomes
from workbench.run.words import count_words, listed, signed, with_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.terms import Terms
    from workbench.run.means import ByRun
    from workbench.run.record import Record

CHANCE = 0.05
FEWEST_DF = 3  # below this only a gross error could ever stand out
NOTHING_LEFT = 1e-9  # of a column's length within groups: rounding, not a difference of settings
RULE = (
    "One rule for all rows: a run's mean is held against the planned model (blocks and setups "
    "taken out), a part against the mean of its run; flagged is what chance would bring in less "
    "than 5 % of trials (externally studentised residuals with a Bonferroni bound, Cook and "
    "Weisberg 1982). Nothing is left out by it."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Residuals:
    """Studentised residuals (m,) of one outcome on `df` degrees of freedom, and whose they are."""

    outcome: Measured
    runs: ByRun
    of_parts: bool
    t: NDArray[np.float64]
    df: int

    def chance(self) -> NDArray[np.float64]:
        """Return the chance (m,) of one so far out among all, by Bonferroni's bound."""
        n_known = max(1, int((self.t != 0).sum()))
        return np.asarray(2 * scipy.special.stdtr(self.df - 1, -np.abs(self.t)) * n_known)


def outlier_findings(record: Record) -> tuple[Finding, ...]:
    """Return readings that stand out, and outcomes in which none could be looked for."""
    terms = _terms(record)
    looked_at: list[_Residuals] = []
    cannot: list[str] = []
    for outcome in measured_outcomes(record):
        runs = by_run(record, outcome)
        own = [_of_means(record, outcome, runs, terms=terms), _of_parts(outcome, runs)]
        found = [one for one in own if one is not None]
        looked_at += found
        if not found:
            cannot.append(outcome.name)
    bound = CHANCE / max(1, len(looked_at))
    findings = [one for each in looked_at for one in _far(record, each, bound)]
    return (*findings, *_no_check(cannot))


def _terms(record: Record) -> Terms:
    if record.plan is not None:
        return record.plan.terms
    return parse_terms(record.trial.model or "first-order", record.trial.factors)


def _of_means(
    record: Record, outcome: Measured, runs: ByRun, *, terms: Terms
) -> _Residuals | None:
    if runs.row.size <= FEWEST_DF:
        return None
    known = record.as_run.rows(runs.row)
    X = model_matrix(terms, known).X
    if not np.isfinite(X).all():  # a factor that the record lacks altogether
        return None
    for groups in _groupings(record, runs):
        fitted = _studentised(X, runs.mean, groups)
        if fitted is not None:
            t, df = fitted
            return _Residuals(outcome=outcome, runs=runs, of_parts=False, t=t, df=df)
    return None


def _groupings(record: Record, runs: ByRun) -> tuple[NDArray[np.intp], ...]:
    """Return the group (r,) of each run, setups within blocks first, then blocks alone."""
    block = record.block[runs.row]
    blocks = np.unique(block, return_inverse=True)[1]
    if not any(factor.slow for factor in record.trial.factors):
        return (blocks,)
    both = np.column_stack([block, record.setup[runs.row]])
    return (np.unique(both, axis=0, return_inverse=True)[1].ravel(), blocks)


def _studentised(
    X: NDArray[np.float64], y: NDArray[np.float64], groups: NDArray[np.intp]
) -> tuple[NDArray[np.float64], int] | None:
    """Return studentised residuals (n,) and their error df, group means taken out of X and y.

    A fit with one column a group leaves the same residuals (Frisch and Waugh 1933, Econometrica
    1, 387-401) and has the leverage 1/m of the group more.
    """
    size = np.bincount(groups)
    y_means = np.bincount(groups, weights=y) / size
    means = np.stack([np.bincount(groups, weights=column) for column in X.T], axis=1)
    inner = X - (means / size[:, None])[groups]
    length = np.linalg.norm(inner, axis=0)
    inner = inner[:, length > NOTHING_LEFT * np.linalg.norm(X, axis=0)]
    within, leverage, rank = y - y_means[groups], 1 / size[groups], 0
    if inner.shape[1]:
        whole = factored(inner)
        within = solved(whole, within).residuals
        leverage, rank = leverage + whole.leverage(), whole.rank
    df = y.size - size.size - rank
    if df < FEWEST_DF:
        return None
    return studentised_residuals(within, leverage, df), df


def _of_parts(outcome: Measured, runs: ByRun) -> _Residuals | None:
    df = int((runs.count - 1).sum())
    if df < FEWEST_DF:
        return None
    residuals = runs.value - runs.mean[runs.of]
    t = studentised_residuals(residuals, 1 / runs.count[runs.of], df)
    return _Residuals(outcome=outcome, runs=runs, of_parts=True, t=t, df=df)


def _far(record: Record, each: _Residuals, bound: float) -> tuple[Finding, ...]:
    return tuple(
        _part_finding(record, each, int(i))
        if each.of_parts
        else _run_finding(record, each, int(i))
        for i in np.flatnonzero(each.chance() < bound)
    )


def _run_finding(record: Record, each: _Residuals, i: int) -> Finding:
    run = int(record.run[each.runs.row[i]])
    side = "above" if each.t[i] > 0 else "below"
    return Finding(
        kind=Kind.OUTLIER,
        runs=(run,),
        about=each.outcome.name,
        sentence=f"{each.outcome.name} of run {run} stands far {side} what the other runs let "
        f"expect{_on_scale(each.outcome)} (studentised residual "
        f"{signed(each.t[i], '.1f')}).",
        next_step=_LOOK,
        weight=Weight.CHECK,
    )


def _part_finding(record: Record, each: _Residuals, i: int) -> Finding:
    readings = record.readings[each.outcome.name]
    j = each.runs.index[i]
    run = int(record.run[readings.row[j]])
    side = "above" if each.t[i] > 0 else "below"
    return Finding(
        kind=Kind.OUTLIER,
        runs=(run,),
        about=each.outcome.name,
        sentence=f"{each.outcome.name} of part {readings.part[j]} in run {run}, "
        f"{with_unit(float(readings.value[j]), each.outcome.unit)}, stands far {side} the other "
        f"parts of its run{_on_scale(each.outcome)} (studentised residual "
        f"{signed(each.t[i], '.1f')}).",
        next_step=_LOOK,
        weight=Weight.CHECK,
    )


_LOOK = (
    "Look at the part, the note and the gauge. Correct it if it was misread; exclude the run only "
    "for a cause found, and say it. It counts until then."
)


def _on_scale(outcome: Measured) -> str:
    return "" if outcome.scale == "as read" else f" on the {outcome.scale} scale"


def _no_check(cannot: list[str]) -> tuple[Finding, ...]:
    if not cannot:
        return ()
    return (
        Finding(
            kind=Kind.NO_OUTLIER_CHECK,
            about=cannot[0] if len(cannot) == 1 else "",
            sentence=f"A wrong value in {listed(cannot)} would not show: the model takes up all "
            f"but {count_words(FEWEST_DF - 1, 'run')} or fewer, and no run has parts enough.",
        ),
    )
