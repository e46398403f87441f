"""Fit one counted outcome of a record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.aliasing import aliased
from workbench.fit.counted import CountedFit
from workbench.fit.counted_answers import CountedAnswers
from workbench.fit.counted_rows import run_counts
from workbench.fit.crude_structure import crude_structure, structure_notes
from workbench.fit.kind_reading import kind_reading
from workbench.fit.linear_answers import EffectWords, coefficients, effect_table, test_table
from workbench.fit.measured_rates import count_rates
from workbench.fit.missing_combinations import missing_combinations
from workbench.fit.outcome_model import Fact, RunChecks
from workbench.fit.part_rows import part_rows
from workbench.fit.within_setups import WithinAnswers, too_few_setups, within_setups
from workbench.numerics.count_tests import CountProblem
from workbench.numerics.counts import count_regression
from workbench.numerics.least_squares import factored
from workbench.numerics.overdispersed import overdispersed

if TYPE_CHECKING:
    from workbench.define.outcomes import Counted
    from workbench.define.terms import Terms
    from workbench.fit.core import Core
    from workbench.fit.counted_rows import RunCounts
    from workbench.fit.linear_answers import Answers
    from workbench.fit.run_means import Wanted
    from workbench.run.record import Record


def counted_outcome(
    record: Record,
    outcome: Counted,
    terms: Terms,
    *,
    wanted: Wanted,
    exposure: str = "",
) -> CountedFit | Unavailable:
    """Return the quasi-Poisson fit of counts, quasi-binomial for x out of n.

    Parts of a run are added up. `exposure` names a factor (such as the inspected area) that
    counts are in proportion to.

    Raises
    ------
    FitError
        If no run can be used, or a value is no count.
    """
    data = part_rows(record, outcome.name, wanted)
    counts = run_counts(data, outcome, exposure)
    if isinstance(counts, Unavailable):
        return counts
    if _says_nothing(counts):
        return Unavailable(reason=_nothing_counted(counts, outcome))
    structure = crude_structure(counts.data, terms, counts.rows.count)
    X = structure.matrix.X[:, structure.whole.kept]
    problem = _problem(X, counts)
    slow = counts.data.shares_setups(terms)
    answers = _answers(problem, counts, slow)
    return _fit(
        (counts, terms, wanted.uses_as_run),
        (structure, problem, answers),
        (outcome, exposure, slow),
    )


def _says_nothing(counts: RunCounts) -> bool:
    return bool((counts.rows.pull < 0).all() or (counts.rows.pull > 0).all())


def _nothing_counted(counts: RunCounts, outcome: Counted) -> str:
    n, unit = counts.rows.count.size, outcome.unit or "events"
    if (counts.rows.count == 0).all():
        return (
            f"no {unit} were counted in any of the {n} runs, so nothing can be told about what "
            "changes them; count on more places, or look at a measured outcome"
        )
    return f"every place counted in every one of the {n} runs, so nothing can be told apart"


def _problem(X: object, counts: RunCounts) -> CountProblem:
    columns = np.asarray(X, dtype=np.float64)
    solution = count_regression(columns, counts.rows)
    return CountProblem(
        X=columns, rows=counts.rows, solution=solution, dispersion=solution.dispersion
    )


def _answers(problem: CountProblem, counts: RunCounts, slow: tuple[str, ...]) -> Answers:
    plain = CountedAnswers(problem=problem)
    if not slow:
        return plain
    setup = counts.data.setup
    columns = within_setups(problem.X, setup)
    inner = _problem(columns.X[:, factored(columns.X).kept], counts)
    return WithinAnswers(
        plain=plain,
        within=CountedAnswers(problem=inner),
        columns=columns,
        reason=too_few_setups(slow, int(np.unique(setup).size)),
    )


def _fit(
    asked: tuple[RunCounts, Terms, bool],
    fitted: tuple[Core, CountProblem, Answers],
    said: tuple[Counted, str, tuple[str, ...]],
) -> CountedFit:
    (counts, terms, uses_as_run), (structure, problem, answers), (outcome, exposure, slow) = (
        asked,
        fitted,
        said,
    )
    data = counts.data
    words = EffectWords(
        unit="",
        is_ratio=True,
        tail=", ratio of counts" if outcome.out_of is None else ", ratio of odds",
    )
    effects = effect_table(structure, answers, (data.settings.factors, words))
    tests = test_table(structure, answers, words)
    same = aliased(structure)
    left = problem.solution.error_df
    return CountedFit(
        outcome=outcome,
        kind="counted",
        model=_sentence(outcome, problem, exposure),
        settings=data.settings,
        uses_as_run=uses_as_run,
        run=data.run,
        block=data.block,
        block_labels=data.block_labels,
        terms=terms,
        column_names=structure.matrix.names,
        n_block_columns=structure.matrix.n_block_columns,
        coefficients=coefficients(structure, answers),
        effects=effects,
        tests=tests,
        aliased=same,
        scatter=(),
        facts=_facts(problem),
        checks=_checks(counts, outcome, problem),
        n_excluded=data.n_excluded,
        notes=(
            *data.notes,
            *missing_combinations(data.settings, terms),
            *_notes(counts, problem),
            *structure_notes(structure, data, terms),
        ),
        reading=kind_reading(outcome.name, (effects, tests), aliased=same),
        error_df=left if left > 0 else Unavailable(reason="every run is used up by the model"),
        structure=structure,
        problem=problem,
        exposure=exposure,
        within=counts.within,
        no_points=_no_points(slow, counts),
    )


def _sentence(outcome: Counted, problem: CountProblem, exposure: str) -> str:
    per = f", in proportion to {exposure}" if exposure else ""
    if outcome.out_of is None:
        kind = f"Counts on a log scale (quasi-Poisson){per}"
        more = "negative binomial"
    else:
        kind = f"Counts out of {outcome.out_of} on the log odds (quasi-binomial)"
        more = "beta-binomial"
    if np.isinf(problem.solution.judging_df):
        judged = "they scatter no more than by chance, so tests are by chi square"
    else:
        judged = f"tests by F with the Pearson dispersion, {problem.dispersion:.2f}"
    return f"{kind}: {judged}; new parts are {more}."


def _no_points(slow: tuple[str, ...], counts: RunCounts) -> Unavailable | None:
    if not slow:
        return None
    setups = int(np.unique(counts.data.setup).size)
    return Unavailable(
        reason=f"a new part comes from a new setup of {' and '.join(slow)}, and how much setups "
        f"differ is not told by these {setups} for counts; if it was set afresh for every run, "
        'say so with structure = "independent"; else ask again with a plan that resets it for '
        "every run"
    )


def _facts(problem: CountProblem) -> tuple[Fact, ...]:
    solution = problem.solution
    raw = solution.pearson / solution.error_df if solution.error_df > 0 else None
    found = [
        Fact(
            name="dispersion",
            value=Unavailable(reason="no run is left to judge it by") if raw is None else raw,
            words="Pearson statistic over its degrees of freedom: 1 is chance alone, more is "
            "scatter of the rate from run to run.",
        ),
        Fact(
            name="deviance",
            value=solution.deviance,
            words=f"Residual deviance on {solution.error_df} degrees of freedom.",
        ),
    ]
    if solution.error_df > 0:
        spread = overdispersed(problem.X, problem.rows, solution).spread
        found.append(
            Fact(
                name="spread",
                value=spread if spread > 1e-5 else 0.0,
                words="Squared coefficient of variation of the rate behind the counts (for x out "
                "of n the a of a beta share), by maximum likelihood.",
            )
        )
    return tuple(found)


def _checks(counts: RunCounts, outcome: Counted, problem: CountProblem) -> RunChecks:
    solution, rows = problem.solution, counts.rows
    signs = np.sign(rows.count - solution.mean)
    deviance = np.maximum(rows.deviances(np.maximum(solution.mean, 1e-12)), 0.0)
    return RunChecks(
        measure=outcome.unit or "count",
        residual_kind="deviance residual over the root of the dispersion",
        row_run=counts.data.run,
        observed=rows.count,
        expected=solution.mean,
        residual=signs * np.sqrt(deviance / problem.dispersion),
        parts=counts.parts,
    )


def _notes(counts: RunCounts, problem: CountProblem) -> list[str]:
    solution = problem.solution
    said = []
    if solution.error_df > 0 and solution.pearson > solution.error_df:
        said.append(
            f"Counts scatter {solution.dispersion:.2f} times as much as chance alone would, so "
            f"standard errors are {np.sqrt(solution.dispersion):.2f} times those of Poisson's "
            "(or the binomial) law."
        )
    if solution.endless is not None:
        runs = counts.data.run[solution.endless.rows]
        said.append(
            f"Nothing (or everything) was counted in all runs at some settings (runs "
            f"{', '.join(str(run) for run in runs[:20])}): what rests on them has one end, no "
            "estimate."
        )
    if solution.error_df > 0:
        scatters = solution.pearson > solution.error_df
        said.append(count_rates(out_of=counts.rows.trials is not None, scatters=scatters))
    if counts.rows.trials is not None:
        said.append("Effects are ratios of odds: counted over not counted.")
    return said
