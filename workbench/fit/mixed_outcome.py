"""Fit one measured outcome of a record as it was really randomised: setups, lots, parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.aliasing import aliased
from workbench.fit.core import core
from workbench.fit.linear_answers import EffectWords, coefficients, effect_table
from workbench.fit.matrix import fit_matrix
from workbench.fit.mixed import MixedFit
from workbench.fit.mixed_rows import mixed_rows
from workbench.fit.mixed_solving import Asked, mixed_solved, positive
from workbench.fit.mixed_tables import (
    components,
    level_facts,
    mixed_tests,
    natural_coefficients,
)
from workbench.fit.mixed_words import mixed_notes, mixed_reading, model_sentence
from workbench.fit.natural_units import natural_columns
from workbench.fit.outcome_model import NO_SUCH_NUMBER, Fact, RunChecks
from workbench.fit.plurals import plural
from workbench.fit.scales import off_scale, unit_on_scale
from workbench.numerics.mixed_residuals import conditional_residuals
from workbench.numerics.random_terms import without

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.terms import Terms
    from workbench.fit.mixed_answers import Method
    from workbench.fit.mixed_rows import MixedRows
    from workbench.fit.mixed_solving import Solved
    from workbench.fit.run_means import Wanted
    from workbench.fit.strata import Strata
    from workbench.run.record import Record


def mixed_outcome(
    record: Record,
    outcome: Measured,
    terms: Terms,
    *,
    wanted: Wanted,
    strata: Strata,
    method: Method = "Kenward-Roger",
) -> MixedFit | Unavailable:
    """Return the mixed model of one measured outcome with the random terms of `strata`.

    Intervals and tests are Kenward and Roger's, or Satterthwaite's where asked for or where the
    former have no answer. Where the rows leave no error, the fit holds its numbers with the
    reason in place of each interval and test.

    Raises
    ------
    FitError
        If no run can be used, or a value is not above zero on a scale that needs it.
    """
    rows = mixed_rows(record, outcome, wanted=wanted, strata=strata)
    if isinstance(rows, Unavailable):
        return rows
    data = rows.data
    matrix = fit_matrix(terms, data.settings, (data.block, data.block_labels))
    solved = mixed_solved(core(matrix, data.response), rows, method)
    return _fit(
        Asked(outcome=outcome, terms=terms, uses_as_run=wanted.uses_as_run, strata=strata),
        rows,
        solved,
    )


def _fit(asked: Asked, rows: MixedRows, solved: Solved) -> MixedFit:
    structure, data, outcome = solved.structure, rows.data, asked.outcome
    words = EffectWords(
        unit=unit_on_scale(outcome.unit, outcome.scale),
        is_ratio=outcome.scale == "log",
        tail=f", on the {outcome.scale} scale"
        if outcome.scale in ("square root", "inverse")
        else "",
    )
    effects = effect_table(structure, solved.answers, (data.settings.factors, words))
    tests = mixed_tests(structure, solved.answers, rows.random)
    found_aliases = aliased(structure)
    no_points = _no_points(rows, solved)
    natural = natural_columns(asked.terms, data.settings.factors)
    return MixedFit(
        outcome=outcome,
        kind="measured",
        model=model_sentence(asked, rows, solved),
        settings=data.settings,
        uses_as_run=asked.uses_as_run,
        run=data.run,
        block=data.block,
        block_labels=data.block_labels,
        terms=asked.terms,
        column_names=structure.matrix.names,
        n_block_columns=structure.matrix.n_block_columns,
        coefficients=coefficients(structure, solved.answers),
        effects=effects,
        tests=tests,
        aliased=found_aliases,
        scatter=() if solved.reason else components(rows, solved.ruled, solved.y),
        facts=_facts(rows, solved),
        checks=_checks(outcome, rows, solved),
        n_excluded=data.n_excluded,
        notes=mixed_notes(asked, rows, solved),
        reading=mixed_reading(outcome, (effects, tests), (asked, rows, solved)),
        error_df=solved.reason or float(max(solved.layout.residual_df, 0)),
        residual_sd=solved.reason or float(np.sqrt(solved.ruled.bounded.residual)),
        structure=structure,
        response=data.response,
        estimates=_estimates(solved),
        unscaled_covariance=structure.unscaled,
        random=rows.random,
        noticed=asked.strata.noticed,
        natural_coefficients=natural_coefficients(structure, solved.answers, natural),
        part_scatter=data.part_scatter,
        method=solved.method,
        predicting=solved.predicting,
        all_terms=solved.ruled.bounded_terms,
        no_points=no_points,
    )


def _estimates(solved: Solved) -> NDArray[np.float64]:
    if solved.predicting is None:
        return solved.structure.estimates
    found = solved.predicting.solution.estimates.copy()
    found[0] += solved.predicting.shift
    return found


def _no_points(rows: MixedRows, solved: Solved) -> Unavailable | None:
    if solved.reason is not None:
        return solved.reason
    if solved.predicting is None:
        return NO_SUCH_NUMBER
    hidden = solved.predicting.hidden(np.eye(1, solved.structure.whole.kept.size))
    if hidden is None:
        return None
    names = " and ".join(
        one.name
        for one, known in zip(rows.random, solved.ruled.estimable, strict=True)
        if not known
    )
    return Unavailable(
        reason=f"a new part comes from a new {names}, and how much these differ is not told by "
        "the runs; repeat some of them"
    )


def _facts(rows: MixedRows, solved: Solved) -> tuple[Fact, ...]:
    counts = tuple(
        Fact(
            name=plural(one.name),
            value=float(one.n_levels),
            words=f"{rows.data.run.size} rows share {one.n_levels} {plural(one.name)}.",
        )
        for one in rows.random
    )
    if solved.reason is not None:
        return counts
    return (*counts, *level_facts(rows, solved.structure, solved.y))


def _checks(outcome: Measured, rows: MixedRows, solved: Solved) -> RunChecks:
    data = rows.data
    ruled = solved.predicting.ruled if solved.predicting is not None else None
    if solved.predicting is None or ruled is None:
        expected, residual = solved.structure.residuals, np.zeros(data.run.size)
        middle = data.response - expected
    else:
        terms = without(ruled.bounded_terms, positive(solved)) if not ruled.reason else ruled.terms
        found = conditional_residuals(terms, solved.y, ruled.fit)
        residual, middle = found.standardised, data.response - found.residuals
    return RunChecks(
        measure=outcome.unit or "reading",
        residual_kind="residual within levels over its standard deviation",
        row_run=data.run,
        observed=data.as_read,
        expected=off_scale(middle, outcome.scale),
        residual=residual,
    )
