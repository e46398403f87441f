"""Fit one measured outcome of a record whose readings are partly cut off."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from workbench.errors import Unavailable
from workbench.fit.aliasing import aliased
from workbench.fit.censored import CensoredFit
from workbench.fit.censored_answers import CensoredAnswers
from workbench.fit.censored_rows import cut_off_words, on_model_scale
from workbench.fit.crude_structure import crude_structure, structure_notes
from workbench.fit.kind_reading import kind_reading
from workbench.fit.linear_answers import EffectWords, coefficients, effect_table, test_table
from workbench.fit.nouns import Estimate
from workbench.fit.outcome_model import Fact, RunChecks
from workbench.fit.part_rows import middle_of_runs, part_rows
from workbench.fit.scales import off_scale, unit_on_scale
from workbench.fit.within_setups import WithinAnswers, too_few_setups, within_setups
from workbench.numerics.censored import censored
from workbench.numerics.censored_profile import CensoredProblem, sigma_in_small_samples
from workbench.numerics.least_squares import factored
from workbench.numerics.location_scale import SMALLEST, quantile, share_below

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import Measured
    from workbench.define.terms import Terms
    from workbench.fit.censored_rows import OnScale
    from workbench.fit.core import Core
    from workbench.fit.linear_answers import Answers
    from workbench.fit.part_rows import PartRows
    from workbench.fit.run_means import Wanted
    from workbench.run.record import Record

FEWEST_DF = 1.0


def censored_outcome(
    record: Record,
    outcome: Measured,
    terms: Terms,
    *,
    wanted: Wanted,
    distribution: str = "normal",
) -> CensoredFit | Unavailable:
    """Return the maximum-likelihood fit of a measured outcome with censored readings.

    `distribution` is "normal" (on the outcome's scale: lognormal on "log") or "Weibull" (on
    "log"). Readings without a mark are taken as exact, so it serves uncensored ones as well.

    Raises
    ------
    FitError
        If no run can be used, a value does not exist on the scale, or the distribution is
        unknown.
    """
    parts = part_rows(record, outcome.name, wanted)
    data = middle_of_runs(parts)
    readings = on_model_scale(data, outcome, distribution)
    structure = crude_structure(data, terms, readings.rows.middle())
    problem = _problem(structure.matrix.X[:, structure.whole.kept], readings)
    if isinstance(problem, Unavailable):
        return problem
    slow = data.shares_setups(terms)
    answers = _answers((structure, problem), data, (outcome, slow))
    found = _fit((data, terms, wanted.uses_as_run), (structure, problem), (outcome, answers, slow))
    return replace(found, no_points=_of_middles()) if parts.has_parts and not slow else found


def _problem(X: NDArray[np.float64], readings: OnScale) -> CensoredProblem | Unavailable:
    solution = censored(X, readings.rows, family=readings.family)
    if isinstance(solution, Unavailable):
        return solution
    problem = CensoredProblem(X=X, rows=readings.rows, family=readings.family, solution=solution)
    if problem.error_df < FEWEST_DF:
        n, held = readings.rows.low.size, readings.rows.n_held
        return Unavailable(
            reason=f"{n} readings, {held} of them not cut off, are too few for {X.shape[1]} "
            "columns and a scatter; add runs, or ask for fewer terms"
        )
    return problem


def _answers(
    fitted: tuple[Core, CensoredProblem], data: PartRows, said: tuple[Measured, tuple[str, ...]]
) -> Answers:
    (_, problem), (outcome, slow) = fitted, said
    is_ratio = outcome.scale == "log"
    unit = unit_on_scale(outcome.unit, outcome.scale)
    plain = CensoredAnswers(problem=problem, unit=unit, is_ratio=is_ratio)
    if not slow:
        return plain
    columns = within_setups(problem.X, data.setup)
    kept = factored(columns.X).kept
    reason = too_few_setups(slow, int(np.unique(data.setup).size))
    solution = censored(columns.X[:, kept], problem.rows, family=problem.family)
    if isinstance(solution, Unavailable):
        columns = within_setups(np.zeros_like(problem.X), data.setup)
        return WithinAnswers(plain=plain, within=plain, columns=columns, reason=reason)
    inner = CensoredProblem(
        X=columns.X[:, kept], rows=problem.rows, family=problem.family, solution=solution
    )
    within = CensoredAnswers(problem=inner, unit=unit, is_ratio=is_ratio)
    return WithinAnswers(plain=plain, within=within, columns=columns, reason=reason)


def _fit(
    asked: tuple[PartRows, Terms, bool],
    fitted: tuple[Core, CensoredProblem],
    said: tuple[Measured, Answers, tuple[str, ...]],
) -> CensoredFit:
    (data, terms, uses_as_run), (structure, problem), (outcome, answers, slow) = (
        asked,
        fitted,
        said,
    )
    words = _words(outcome)
    factors = data.settings.factors
    effects = effect_table(structure, answers, (factors, words))
    tests = test_table(structure, answers, words)
    same = aliased(structure)
    return CensoredFit(
        outcome=outcome,
        kind="censored",
        model=_sentence(data, outcome, problem),
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
        facts=_facts(data, problem),
        checks=_checks(data, outcome, problem),
        n_excluded=data.n_excluded,
        notes=(
            *data.notes,
            *_notes(data, outcome, problem),
            *structure_notes(structure, data, terms),
        ),
        reading=kind_reading(
            outcome.name, (effects, tests), aliased=same, before=_before(data, outcome)
        ),
        error_df=problem.error_df,
        residual_sd=sigma_in_small_samples(problem),
        structure=structure,
        problem=problem,
        no_points=_no_points(slow, data),
    )


def _words(outcome: Measured) -> EffectWords:
    bent = outcome.scale in ("square root", "inverse")
    return EffectWords(
        unit=unit_on_scale(outcome.unit, outcome.scale),
        is_ratio=outcome.scale == "log",
        tail=f", on the {outcome.scale} scale" if bent else "",
    )


def _sentence(data: PartRows, outcome: Measured, problem: CensoredProblem) -> str:
    if problem.family == SMALLEST:
        name = "Weibull"
    else:
        name = {"as read": "normal", "log": "lognormal"}.get(
            outcome.scale, f"normal on the {outcome.scale} scale"
        )
    count = int((data.mark != 0).sum())
    because = (
        f"{count} of {data.mark.size} readings are only known to lie beyond a value"
        if count
        else "asked for; no reading is cut off"
    )
    return f"Censored regression ({name}) by maximum likelihood: {because}."


def _no_points(slow: tuple[str, ...], data: PartRows) -> Unavailable | None:
    if not slow:
        return None
    setups = int(np.unique(data.setup).size)
    return Unavailable(
        reason=f"a new part comes from a new setup of {' and '.join(slow)}, and how much setups "
        f"differ is not told by these {setups} with censored readings; if it was set afresh for "
        'every run, say so with structure = "independent"; else test the shares in a plan that '
        "resets it for every run"
    )


def _of_middles() -> Unavailable:
    return Unavailable(
        reason="runs stand for their parts by the middle one, which does not tell how single "
        "parts scatter when some readings are cut off; test one part a run to predict parts"
    )


def _facts(data: PartRows, problem: CensoredProblem) -> tuple[Fact, ...]:
    cut = int((data.mark != 0).sum())
    found = [
        Fact(
            name="readings cut off",
            value=float(cut),
            words=f"{cut} of {data.mark.size} readings are only known to lie beyond a value.",
        ),
        Fact(
            name="readings that count",
            value=problem.rows.information,
            words="A cut-off reading counts half in the error degrees of freedom.",
        ),
    ]
    if problem.family == SMALLEST:
        found.append(_shape(problem))
    return tuple(found)


def _shape(problem: CensoredProblem) -> Fact:
    solution = problem.solution
    spread = float(np.sqrt(solution.covariance[-1, -1]))
    reach = spread * -float(ndtri(0.025))
    value, low, high = np.exp(-solution.log_sigma + reach * np.array([0.0, -1.0, 1.0]))
    return Fact(
        name="Weibull shape",
        value=Estimate(
            value=float(value),
            std_error=float(value * spread),
            low=float(low),
            high=float(high),
            df=problem.error_df,
        ),
        words="1 over the scatter of the logarithm; below 1 most parts fail early, above 1 late "
        "(maximum likelihood, interval by the normal approximation).",
    )


def _checks(data: PartRows, outcome: Measured, problem: CensoredProblem) -> RunChecks:
    """Return quantile residuals (Dunn and Smyth 1996), of a cut-off reading the middle one."""
    solution, family = problem.solution, problem.family
    location = problem.X @ solution.estimates
    low, high = (
        share_below((end - location) / solution.sigma, family)
        for end in (problem.rows.low, problem.rows.high)
    )
    share = np.clip((low + high) / 2, 1e-12, 1 - 1e-12)
    centre = location + float(quantile(np.array([0.5]), family)[0]) * solution.sigma
    return RunChecks(
        measure=outcome.unit or "reading",
        residual_kind="quantile residual (of a cut-off reading the middle of what is possible)",
        row_run=data.run,
        observed=data.value,
        expected=off_scale(centre, outcome.scale),
        residual=np.asarray(ndtri(share)),
        mark=data.mark,
    )


def _notes(data: PartRows, outcome: Measured, problem: CensoredProblem) -> list[str]:
    said = []
    words = cut_off_words(data, outcome.unit)
    if words:
        said.append(
            f"{words}. They are used as what they say, never as if they had been read; where "
            "something else gave way first (such as the substrate), the bond is only known to "
            "be stronger, and its strength is that of its own mode of failure alone."
        )
    if problem.solution.endless is not None:
        runs = np.unique(data.run[problem.solution.endless.rows])
        said.append(
            "The readings of run"
            f"{'s' if runs.size > 1 else ''} {', '.join(str(run) for run in runs)} bound the "
            "model on one side only: what rests on them has one end, no estimate."
        )
    said.append(
        "Intervals and tests are by likelihood ratio with the threshold h log(1 + t²/(h − p)), "
        f"h = {problem.rows.information:g} (a cut-off reading counts half)."
    )
    return said


def _before(data: PartRows, outcome: Measured) -> tuple[str, ...]:
    words = cut_off_words(data, outcome.unit)
    return (f"{words}.",) if words else ()
