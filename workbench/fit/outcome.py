"""Fit one outcome of a record: the model that its kind and its structure ask for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workbench.define.algebra import parse_terms
from workbench.define.factors import components
from workbench.define.outcomes import Counted, Graded, PassFail
from workbench.define.terms import PRESETS, Terms, preset
from workbench.errors import FitError, Unavailable
from workbench.fit.censored_outcome import censored_outcome
from workbench.fit.counted_outcome import counted_outcome
from workbench.fit.graded_outcome import graded_outcome
from workbench.fit.least_squares_fit import least_squares_fit
from workbench.fit.mixed_outcome import mixed_outcome
from workbench.fit.mixture import mixture_outcome
from workbench.fit.pass_fail_outcome import pass_fail_outcome
from workbench.fit.run_means import Wanted, run_means
from workbench.fit.scatter import scatter_effects
from workbench.fit.strata import AS_RUN, strata

if TYPE_CHECKING:
    from workbench.define.outcomes import Measured
    from workbench.fit.faces import Fit
    from workbench.fit.measured import MeasuredFit
    from workbench.fit.nouns import Effect
    from workbench.run.record import Record

DISTRIBUTIONS = ("normal", "Weibull")


def outcome(  # noqa: PLR0913 (each is asked for by name, and each can be left alone)
    record: Record,
    name: str,
    *,
    terms: Terms | str | None = None,
    uses_as_run: bool = True,
    scale: str | None = None,
    with_excluded: bool = False,
    structure: str = AS_RUN,
    distribution: str | None = None,
) -> Fit | Unavailable:
    """Return the fit of one outcome, or why there is no model for it.

    The kind of the outcome and the structure of the runs pick the model: least squares on run
    means, restricted likelihood where runs share setups or lots, maximum likelihood where
    readings are cut off, blending models for shares; penalised likelihood for pass or fail and
    for grades, quasi-likelihood for counts. The fit says which in `model`.

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
        planned" (as the plan says, whatever was run), "in groups" (as the order of the runs
        shows, though nobody said so), or "independent" (none; right only if every run was set
        afresh).
    distribution
        "normal" or "Weibull" (on the log scale) asks for maximum likelihood on single parts,
        cut off or not; by default normal, and only where readings are cut off.

    Raises
    ------
    WorkbenchError
        If the outcome, a term, the scale, structure or distribution is unknown, no run can be
        used, or a value does not exist on the scale.
    """
    asked = record.trial.outcome(name)
    model = _model(record, terms)
    wanted = Wanted(
        factors=tuple(dict.fromkeys(one for term in model.terms for one in term.factors)),
        uses_as_run=uses_as_run,
        with_excluded=with_excluded,
        structure=structure,
    )
    match asked:
        case PassFail():
            return pass_fail_outcome(record, asked, model, wanted=wanted)
        case Graded():
            return graded_outcome(record, asked, model, wanted=wanted)
        case Counted():
            return counted_outcome(record, asked, model, wanted=wanted)
        case _:
            measured = _rescaled(asked, _scale(scale, distribution))
            _check_distribution(distribution)
            return _measured(record, measured, _How(model, wanted, distribution))


@dataclass(frozen=True, slots=True)
class _How:
    model: Terms
    wanted: Wanted
    distribution: str | None


def _measured(record: Record, measured: Measured, how: _How) -> Fit | Unavailable:
    model, wanted, distribution = how.model, how.wanted, how.distribution
    if components(record.trial.factors):
        return mixture_outcome(record, measured, model, wanted=wanted)
    if distribution is not None or _is_cut_off(record, measured.name):
        return censored_outcome(
            record, measured, model, wanted=wanted, distribution=distribution or "normal"
        )
    data = run_means(record, measured, wanted)
    if isinstance(data, Unavailable):
        return data
    found = strata(record, data, model, structure=wanted.structure)
    if found.random:
        return mixed_outcome(record, measured, model, wanted=wanted, strata=found)
    fit = least_squares_fit(data, measured, model, uses_as_run=wanted.uses_as_run)
    return _with_scatter(record, replace(fit, notes=(*fit.notes, *found.notes)), wanted)


def _with_scatter(record: Record, fit: MeasuredFit, wanted: Wanted) -> MeasuredFit:
    """Return the fit with what repeats say of the scatter, where they say it clearly."""
    wider = scatter_effects(record, fit.outcome, fit.terms, wanted=wanted)
    if isinstance(wider, Unavailable) or not wider.is_clear:
        return fit
    names = ", ".join(one.name for one in wider.effects if _is_clear(one))
    note = f"Repeats scatter more at some settings than at others ({names}): shares follow that."
    return replace(fit, scatter=wider, notes=(*fit.notes, note))


def _is_clear(effect: Effect) -> bool:
    estimate = effect.estimate
    return not isinstance(estimate, Unavailable) and not estimate.low <= 1 <= estimate.high


def _is_cut_off(record: Record, name: str) -> bool:
    readings = record.readings.get(name)
    if readings is None:
        return False
    return bool((readings.mark[record.used()[readings.row]] != 0).any())


def _scale(scale: str | None, distribution: str | None) -> str | None:
    return "log" if distribution == "Weibull" and scale is None else scale


def _check_distribution(distribution: str | None) -> None:
    if distribution is not None and distribution not in DISTRIBUTIONS:
        raise FitError(
            f"The distribution {distribution!r} is not known.",
            why="Cut-off readings are placed by the distribution of the parts.",
            next_step=f"Use one of: {', '.join(DISTRIBUTIONS)}; lognormal is normal with "
            'scale = "log".',
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
