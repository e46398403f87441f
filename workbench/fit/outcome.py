"""Fit one measured outcome of a record."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.define.algebra import parse_terms
from workbench.define.factors import components
from workbench.define.outcomes import Graded, Measured, PassFail
from workbench.define.terms import PRESETS, Terms, preset
from workbench.errors import Unavailable
from workbench.fit.aliasing import aliased
from workbench.fit.checks import (
    diagnostics,
    power_family,
    pseudo_error,
    scale_checks,
    shares,
)
from workbench.fit.coefficients import coded_coefficients, natural_coefficients
from workbench.fit.core import core
from workbench.fit.effects import effects
from workbench.fit.left_out_remarks import left_out
from workbench.fit.matrix import fit_matrix
from workbench.fit.measured import MeasuredFit
from workbench.fit.mixture import mixture_outcome
from workbench.fit.natural_units import natural_columns
from workbench.fit.remarks import remarks
from workbench.fit.run_means import Wanted, run_means
from workbench.fit.term_tests import lack_of_fit, term_tests

if TYPE_CHECKING:
    from workbench.define.outcomes import Counted
    from workbench.fit.mixture import MixtureFit
    from workbench.fit.run_means import RunMeans
    from workbench.run.record import Record


AS_RUN, AS_PLANNED, INDEPENDENT = "as run", "as planned", "independent"
STRUCTURES = (AS_RUN, AS_PLANNED, INDEPENDENT)


def outcome(
    record: Record,
    name: str,
    *,
    terms: Terms | str | None = None,
    uses_as_run: bool = True,
    scale: str | None = None,
    with_excluded: bool = False,
    structure: str = AS_RUN,
) -> MeasuredFit | MixtureFit | Unavailable:
    """Return the fit of one outcome, or why there is no model for it.

    Parameters
    ----------
    record
        What was set and seen.
    name
        The outcome.
    terms
        The model; by default that of the trial, else that of the plan, else first-order.
    uses_as_run
        Whether settings are those really set, coded by the planned low and high, or the planned.
    scale
        Scale for this fit instead of the outcome's own.
    with_excluded
        Whether runs that were excluded by hand are counted in.
    structure
        Which runs are taken to share a setup or a lot: "as run" (as the record shows), "as
        planned" (as the plan says, whatever was run), or "independent" (none; right only if
        every run was set afresh).

    Raises
    ------
    WorkbenchError
        If the outcome, a term or the scale is unknown, no run can be used, or a value does not
        exist on the scale.
    """
    asked = record.trial.outcome(name)
    if not isinstance(asked, Measured):
        return _no_model(asked)
    measured = _rescaled(asked, scale)
    model = _model(record, terms)
    if components(record.trial.factors):
        return mixture_outcome(
            record, measured, model, uses_as_run=uses_as_run, with_excluded=with_excluded
        )
    in_model = tuple(dict.fromkeys(name for term in model.terms for name in term.factors))
    wanted = Wanted(factors=in_model, uses_as_run=uses_as_run, with_excluded=with_excluded)
    data = run_means(record, measured, wanted)
    if isinstance(data, Unavailable):
        return data
    return _fitted(data, measured, model, uses_as_run=uses_as_run)


def _fitted(data: RunMeans, measured: Measured, terms: Terms, *, uses_as_run: bool) -> MeasuredFit:
    matrix = fit_matrix(terms, data.settings, (data.block, data.block_labels))
    solved = core(matrix, data.response)
    found_effects = effects(solved, measured, data.settings.factors)
    explained = shares(solved)
    return MeasuredFit(
        outcome=measured,
        settings=data.settings,
        uses_as_run=uses_as_run,
        run=data.run,
        block=data.block,
        block_labels=data.block_labels,
        response=data.response,
        terms=terms,
        column_names=matrix.names,
        n_block_columns=matrix.n_block_columns,
        estimates=solved.estimates,
        unscaled_covariance=solved.unscaled,
        estimable=solved.whole.kept,
        error_df=solved.error_df,
        residual_variance=solved.variance,
        part_scatter=data.part_scatter,
        r_squared=explained.r_squared,
        adjusted_r_squared=explained.adjusted,
        predicted_r_squared=explained.predicted,
        coefficients=coded_coefficients(solved),
        natural_coefficients=natural_coefficients(
            solved, natural_columns(terms, data.settings.factors)
        ),
        effects=found_effects,
        tests=term_tests(solved),
        lack_of_fit=lack_of_fit(solved, data, terms),
        pseudo_error=pseudo_error(solved, found_effects),
        aliased=aliased(solved),
        diagnostics=diagnostics(solved),
        power_family=power_family(solved, data.as_read),
        scale_checks=scale_checks(solved, data.as_read, measured.scale),
        n_excluded=data.n_excluded,
        notes=(*remarks(solved, data, measured), *left_out(solved, data, terms)),
        combination=solved.whole.combination,
        as_read=data.as_read,
    )


def _model(record: Record, terms: Terms | str | None) -> Terms:
    if isinstance(terms, Terms):
        return terms
    asked = terms or record.trial.model
    if not asked and record.plan is not None:
        return record.plan.terms
    asked = asked or "first-order"
    if asked in PRESETS:
        # Covariates stand in a model only where they are named.
        return preset(asked, record.trial.planned_factors or record.trial.factors)
    return parse_terms(asked, record.trial.factors)


def _rescaled(measured: Measured, scale: str | None) -> Measured:
    if scale is None or scale == measured.scale:
        return measured
    # Differences worth finding and scatter were stated on the old scale.
    return replace(measured, scale=scale, worth_finding=None, expected_sd=None)


def _no_model(asked: PassFail | Graded | Counted) -> Unavailable:
    if isinstance(asked, PassFail):
        kind, instead = "pass or fail", "the number that was measured behind it"
    elif isinstance(asked, Graded):
        kind, instead = "a grade", "a measured size behind the grade"
    else:
        kind, instead = "a count", "a measured size as well, such as a length or an area"
    return Unavailable(
        reason=f"no model yet for {asked.name!r}, which is {kind}: it is stored and planned for. "
        f"If a model is needed now, record {instead}"
    )
