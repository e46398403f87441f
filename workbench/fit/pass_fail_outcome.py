"""Fit one pass/fail outcome of a record."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit

from workbench.errors import Unavailable
from workbench.fit.aliasing import aliased
from workbench.fit.crude_structure import crude_structure, structure_notes
from workbench.fit.kind_reading import kind_reading
from workbench.fit.linear_answers import EffectWords, coefficients, effect_table, test_table
from workbench.fit.outcome_model import RunChecks
from workbench.fit.pass_fail import PassFailFit
from workbench.fit.pass_fail_answers import PassAnswers, Yardstick, run_yardstick
from workbench.fit.pass_fail_facts import facts
from workbench.fit.pass_fail_rows import pass_runs
from workbench.fit.pass_fail_setups import (
    RunCounts,
    SetupAnswers,
    setup_answers,
    setup_scatter,
)
from workbench.fit.pass_fail_words import model_sentence, notes, one_sided_record, unseen
from workbench.numerics.pass_counts import pass_counts
from workbench.numerics.pass_dispersion import pass_dispersion
from workbench.numerics.penalised_logistic import intercept_shift, penalised_logistic

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import PassFail
    from workbench.define.terms import Terms
    from workbench.fit.core import Core
    from workbench.fit.linear_answers import Answers
    from workbench.fit.nouns import TermTest
    from workbench.fit.pass_fail_rows import PassRuns
    from workbench.fit.run_means import Wanted
    from workbench.numerics.penalised_logistic import PenalisedLogistic
    from workbench.run.record import Record

ODDS = EffectWords(unit="odds of passing", is_ratio=True)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Solved:
    """The runs, which columns they tell, the fit of those, and what tests are held against."""

    runs: PassRuns
    structure: Core
    fitted: PenalisedLogistic
    shift: float
    yardstick: Yardstick
    slow: tuple[str, ...]

    @property
    def X(self) -> NDArray[np.float64]:
        """Columns (n, r) that the runs can tell."""
        return np.asarray(self.structure.matrix.X[:, self.structure.whole.kept])

    @property
    def rates(self) -> NDArray[np.float64]:
        """Fitted rates (n,) of the runs, with the intercept for mean rates."""
        return np.asarray(expit(self.X @ self.fitted.estimates + self.shift))


def pass_fail_outcome(
    record: Record, outcome: PassFail, terms: Terms, *, wanted: Wanted
) -> PassFailFit | Unavailable:
    """Return the penalised logistic fit of a pass/fail outcome, or why there is none.

    Unavailable where all parts passed or all failed (with exact limits for the rate), and where
    no run is left beside the columns.

    Raises
    ------
    FitError
        If no run can be used.
    """
    runs = pass_runs(record, outcome.name, wanted)
    if runs.n_failed in (0, runs.n_parts):
        return one_sided_record(outcome, runs)
    structure = crude_structure(runs.rows, terms, (runs.passed + 0.5) / (runs.parts + 1))
    if structure.error_df < 1:
        n, columns = runs.parts.size, structure.whole.rank
        return Unavailable(
            reason=f"{n} runs for {columns} columns: no run is left to check the model by, and "
            "parts of one run do not replicate it; repeat some runs, or ask for fewer terms"
        )
    solved = _solved(runs, structure, terms)
    return _fit((outcome, terms, wanted.uses_as_run), solved)


def _solved(runs: PassRuns, structure: Core, terms: Terms) -> _Solved:
    X = structure.matrix.X[:, structure.whole.kept]
    counts = pass_counts(X, runs.passed, runs.parts)
    fitted = penalised_logistic(counts)
    shift = intercept_shift(counts, counts.X @ fitted.estimates)
    return _Solved(
        runs=runs,
        structure=structure,
        fitted=fitted,
        shift=shift,
        yardstick=_yardstick(runs, expit(X @ fitted.estimates + shift), X.shape[1]),
        slow=runs.rows.shares_setups(terms),
    )


def _yardstick(runs: PassRuns, rates: NDArray[np.float64], n_columns: int) -> Yardstick:
    """Return the dispersion of runs with several parts, never below 1.

    With one part a run, runs that differ cannot be told from parts that do, and need not be.
    """
    if not runs.has_parts:
        return Yardstick(dispersion=1.0, error_df=np.inf)
    found = pass_dispersion(
        (runs.passed, runs.parts), rates, group=runs.rows.run, n_columns=n_columns
    )
    return run_yardstick(found, error_df=float(runs.parts.size - n_columns))


def _fit(asked: tuple[PassFail, Terms, bool], solved: _Solved) -> PassFailFit:
    outcome, terms, uses_as_run = asked
    runs, structure = solved.runs, solved.structure
    answers = _answers(solved)
    effects = effect_table(structure, answers, (runs.rows.settings.factors, ODDS))
    tests = _judged(test_table(structure, answers, ODDS), answers, structure)
    same = aliased(structure)
    believed = penalised_logistic(solved.fitted.counts.divided(solved.yardstick.dispersion))
    gone = unseen(runs, solved.X, terms)
    weights = runs.parts * solved.rates * (1 - solved.rates)
    leverage = weights * np.einsum("ij,jk,ik->i", solved.X, solved.fitted.covariance, solved.X)
    return PassFailFit(
        outcome=outcome,
        kind="pass-fail",
        model=model_sentence(solved.slow, _of_runs(answers, solved)),
        settings=runs.rows.settings,
        uses_as_run=uses_as_run,
        run=runs.rows.run,
        block=runs.rows.block,
        block_labels=runs.rows.block_labels,
        terms=terms,
        column_names=structure.matrix.names,
        n_block_columns=structure.matrix.n_block_columns,
        coefficients=coefficients(structure, answers),
        effects=effects,
        tests=tests,
        aliased=same,
        scatter=(setup_scatter(_run_counts(solved), solved.slow),) if solved.slow else (),
        facts=facts(runs, effects, dispersion=_of_runs(answers, solved)),
        checks=_checks(solved, leverage),
        n_excluded=runs.rows.n_excluded,
        notes=(
            *runs.rows.notes,
            *notes(runs, solved.fitted, gone),
            *structure_notes(structure, runs.rows, terms),
        ),
        reading=kind_reading(outcome.name, (effects, tests), aliased=same, before=gone.words),
        structure=structure,
        fitted=solved.fitted,
        believed=believed,
        dispersion=solved.yardstick.dispersion,
        error_df=float(structure.error_df),
        intercept_shift=solved.shift,
        leverage=np.minimum(leverage, 1.0),
        no_points=_no_points(solved),
    )


def _answers(solved: _Solved) -> Answers:
    plain = PassAnswers(fit=solved.fitted, yardstick=solved.yardstick)
    if not solved.slow:
        return plain
    return setup_answers(_run_counts(solved), plain, solved.slow)


def _of_runs(answers: Answers, solved: _Solved) -> float:
    """Return how runs differ, what their setups differ by taken out."""
    if isinstance(answers, SetupAnswers):
        return answers.within.yardstick.dispersion
    return solved.yardstick.dispersion


def _run_counts(solved: _Solved) -> RunCounts:
    runs = solved.runs
    return RunCounts(
        X=solved.X,
        passed=runs.passed,
        parts=runs.parts,
        rates=solved.rates,
        setup=runs.rows.setup,
    )


def _judged(
    tests: tuple[TermTest, ...], answers: Answers, structure: Core
) -> tuple[TermTest, ...]:
    """Return the tests with the stratum of those that change between setups only."""
    if not isinstance(answers, SetupAnswers):
        return tests
    whole = np.zeros(structure.whole.kept.size, dtype=bool)
    whole[np.flatnonzero(structure.whole.kept)] = ~answers.columns.fast
    return tuple(
        replace(one, stratum="setup")
        if one.stratum and whole[structure.matrix.places(one.term)].any()
        else one
        for one in tests
    )


def _checks(solved: _Solved, leverage: NDArray[np.float64]) -> RunChecks:
    runs, rates = solved.runs, solved.rates
    room = np.sqrt(np.maximum(1 - leverage, 0.05) * solved.yardstick.dispersion)
    return RunChecks(
        measure="share that passes",
        residual_kind="deviance residual over its standard error",
        row_run=runs.rows.run,
        observed=runs.passed / runs.parts,
        expected=rates,
        residual=_deviance_residuals(runs, rates) / room,
        parts=runs.parts,
    )


def _deviance_residuals(runs: PassRuns, rates: NDArray[np.float64]) -> NDArray[np.float64]:
    failed, expected = runs.parts - runs.passed, runs.parts * rates
    some, none = runs.passed > 0, failed > 0
    rise = np.where(some, runs.passed * np.log(np.where(some, runs.passed, 1) / expected), 0.0)
    fall = np.where(none, failed * np.log(np.where(none, failed, 1) / (runs.parts - expected)), 0)
    return np.asarray(np.sign(runs.passed - expected) * np.sqrt(2 * np.maximum(rise + fall, 0)))


def _no_points(solved: _Solved) -> Unavailable | None:
    if not solved.slow:
        return None
    setups = int(np.unique(solved.runs.rows.setup).size)
    return Unavailable(
        reason=f"a new part comes from a new setup of {' and '.join(solved.slow)}, and how much "
        f"setups differ is not told well enough by these {setups} with passes and failures; "
        "state the requirement on a measured outcome, or reset the slow factors for every run"
    )
