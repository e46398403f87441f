"""The least-squares fit of one measured outcome on the means of its runs."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
from workbench.fit.natural_units import natural_columns
from workbench.fit.remarks import remarks
from workbench.fit.term_tests import lack_of_fit, term_tests

if TYPE_CHECKING:
    from workbench.define.outcomes import Measured
    from workbench.define.terms import Terms
    from workbench.fit.run_means import RunMeans


def least_squares_fit(
    data: RunMeans, measured: Measured, terms: Terms, *, uses_as_run: bool
) -> MeasuredFit:
    """Return the fit in which every run counts as set afresh."""
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
