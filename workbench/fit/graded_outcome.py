"""Fit one graded outcome of a record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from workbench.define.terms import MEAN
from workbench.errors import Unavailable
from workbench.fit.aliasing import aliased
from workbench.fit.crude_structure import crude_structure, structure_notes
from workbench.fit.graded import GradedFit
from workbench.fit.graded_answers import GradedAnswers
from workbench.fit.graded_rows import run_grades, unused_words
from workbench.fit.kind_reading import kind_reading
from workbench.fit.linear_answers import EffectWords, coefficients, effect_table, test_table
from workbench.fit.matrix import BLOCKS
from workbench.fit.measured_rates import grade_rates
from workbench.fit.missing_combinations import missing_combinations
from workbench.fit.outcome_model import Fact, RunChecks
from workbench.fit.part_rows import part_rows
from workbench.fit.within_setups import WithinAnswers, too_few_setups, within_setups
from workbench.numerics.ordered_likelihood import grade_chances, grades
from workbench.numerics.proportional_odds import proportional_odds
from workbench.numerics.proportionality import proportionality, slopes_by_threshold

if TYPE_CHECKING:
    from workbench.define.outcomes import Graded
    from workbench.define.terms import Terms
    from workbench.fit.core import Core
    from workbench.fit.graded_rows import RunGrades
    from workbench.fit.linear_answers import Answers
    from workbench.fit.run_means import Wanted
    from workbench.numerics.proportional_odds import OrderedSolution
    from workbench.run.record import Record

DOUBTED = 0.05
STRONG = 1.5  # logits a half range, between the slopes 1 and 2 that were simulated


def graded_outcome(
    record: Record, outcome: Graded, terms: Terms, *, wanted: Wanted
) -> GradedFit | Unavailable:
    """Return the penalised proportional-odds fit of a graded outcome.

    Raises
    ------
    FitError
        If no run can be used, or a reading is no grade.
    """
    seen = run_grades(part_rows(record, outcome.name, wanted), outcome)
    if isinstance(seen, Unavailable):
        return seen
    structure = crude_structure(seen.data, terms, seen.grade.astype(np.float64))
    if structure.error_df <= 0:
        return Unavailable(
            reason=f"{seen.grade.size} runs cannot carry {structure.whole.rank} columns of a "
            "model of grades; repeat some runs, or ask for fewer terms"
        )
    X = structure.matrix.X[:, structure.whole.kept][:, 1:]
    solution = proportional_odds(grades(X, seen.grade))
    slow = seen.data.shares_setups(terms)
    answers = _answers((structure, solution), seen, slow)
    return _fit((seen, terms, wanted.uses_as_run), (structure, solution, answers), (outcome, slow))


def _answers(
    fitted: tuple[Core, OrderedSolution], seen: RunGrades, slow: tuple[str, ...]
) -> Answers:
    structure, solution = fitted
    plain = GradedAnswers(solution=solution, skip=1)
    if not slow:
        return plain
    setup = seen.data.setup
    columns = within_setups(structure.matrix.X[:, structure.whole.kept], setup)
    n_fast = int(columns.fast.sum())
    setups = columns.X[:, n_fast:]
    inner = np.hstack([columns.X[:, :n_fast], setups[:, :-1] - setups[:, -1:]])
    within = proportional_odds(grades(inner, seen.grade))
    return WithinAnswers(
        plain=plain,
        within=GradedAnswers(solution=within, skip=0),
        columns=columns,
        reason=too_few_setups(slow, int(np.unique(setup).size)),
    )


def _fit(
    asked: tuple[RunGrades, Terms, bool],
    fitted: tuple[Core, OrderedSolution, Answers],
    said: tuple[Graded, tuple[str, ...]],
) -> GradedFit:
    (seen, terms, uses_as_run), (structure, solution, answers), (outcome, slow) = (
        asked,
        fitted,
        said,
    )
    data = seen.data
    words = EffectWords(unit="", is_ratio=True, tail=", ratio of odds of a higher grade")
    effects = effect_table(structure, answers, (data.settings.factors, words))
    tests = test_table(structure, answers, words)
    same = aliased(structure)
    proportions = _proportions(structure, solution)
    return GradedFit(
        outcome=outcome,
        kind="graded",
        model=(
            f"Proportional odds over {seen.used.size} grades, with a penalty that keeps every "
            "estimate finite (Jeffreys): grades have an order but no distances."
        ),
        settings=data.settings,
        uses_as_run=uses_as_run,
        run=data.run,
        block=data.block,
        block_labels=data.block_labels,
        terms=terms,
        column_names=structure.matrix.names,
        n_block_columns=structure.matrix.n_block_columns,
        coefficients=coefficients(structure, answers, with_mean=False),
        effects=effects,
        tests=tests,
        aliased=same,
        scatter=(),
        facts=(*_thresholds(seen, outcome, solution), *proportions),
        checks=_checks(seen, solution),
        n_excluded=data.n_excluded,
        notes=(
            *data.notes,
            *unused_words(seen, outcome),
            *missing_combinations(data.settings, terms),
            *_doubts(proportions),
            *([grade_rates()] if np.abs(solution.slopes).max(initial=0.0) >= STRONG else []),
            *structure_notes(structure, data, terms),
        ),
        reading=kind_reading(outcome.name, (effects, tests), aliased=same),
        structure=structure,
        solution=solution,
        used=seen.used,
        no_points=_no_points(seen, slow),
    )


def _no_points(seen: RunGrades, slow: tuple[str, ...]) -> Unavailable | None:
    if slow:
        setups = int(np.unique(seen.data.setup).size)
        return Unavailable(
            reason=f"a new part comes from a new setup of {' and '.join(slow)}, and how much "
            f"setups differ is not told by these {setups} for grades; if it was set afresh for "
            'every run, say so with structure = "independent"; else read a measured size behind '
            "the grade"
        )
    if seen.has_middles:
        return Unavailable(
            reason="runs stand for their parts by a middle grade, which does not tell how single "
            "parts scatter; grade one part a run to predict parts"
        )
    return None


def _thresholds(seen: RunGrades, outcome: Graded, solution: OrderedSolution) -> tuple[Fact, ...]:
    return tuple(
        Fact(
            name=f"up to {outcome.grades[int(index)]}",
            value=float(value),
            unit="logit",
            words="Log odds of this grade or a lower one in the middle of all factors.",
        )
        for index, value in zip(seen.used, solution.thresholds, strict=False)
    )


def _proportions(structure: Core, solution: OrderedSolution) -> tuple[Fact, ...]:
    """Return whether one slope serves all thresholds, term by term."""
    if solution.data.n_thresholds < 2:
        return ()
    kept = np.flatnonzero(structure.whole.kept)[1:]
    slopes = slopes_by_threshold(solution)
    found = []
    for term in structure.matrix.tested:
        own = np.flatnonzero(np.isin(kept, structure.matrix.places(term)))
        test = proportionality(solution, own)
        if term in (BLOCKS, MEAN) or test is None:
            continue
        shown = "; ".join(", ".join(f"{one:.2f}" for one in slopes[:, j]) for j in own)
        found.append(
            Fact(
                name=f"one slope of {term}",
                value=test.p,
                words=f"p of the score test that all thresholds share its slope (threshold by "
                f"threshold: {shown}). With few runs it is a rough guide.",
            )
        )
    return tuple(found)


def _doubts(proportions: tuple[Fact, ...]) -> list[str]:
    doubted = [
        one.name.removeprefix("one slope of ")
        for one in proportions
        if isinstance(one.value, float) and one.value < DOUBTED
    ]
    if not doubted:
        return []
    return [
        (
            f"What {' and '.join(doubted)} does may not be the same at every grade (score test "
            "of proportional odds): look at the slopes threshold by threshold."
        )
    ]


def _checks(seen: RunGrades, solution: OrderedSolution) -> RunChecks:
    """Return quantile residuals, of each grade the middle of its share."""
    chances = grade_chances(solution.thresholds, solution.data.X @ solution.slopes)
    number = np.arange(chances.shape[1])
    up_to = np.cumsum(chances, axis=1)
    rows = np.arange(seen.grade.size)
    middle = up_to[rows, seen.grade] - chances[rows, seen.grade] / 2
    return RunChecks(
        measure="number of the grade",
        residual_kind="quantile residual (of each grade the middle of its share)",
        row_run=seen.data.run,
        observed=seen.used[seen.grade].astype(np.float64),
        expected=chances @ seen.used[number],
        residual=np.asarray(ndtri(np.clip(middle, 1e-12, 1 - 1e-12))),
    )
