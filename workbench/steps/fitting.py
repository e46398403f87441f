"""Fit the outcomes of an open trial, with and without excluded runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from workbench import define, fit
from workbench.errors import RecordError
from workbench.fit.crossings import crossings
from workbench.fit.measured import MeasuredFit
from workbench.run.record import Status

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.define.outcomes import Outcome
    from workbench.errors import Unavailable
    from workbench.fit.crossings import Crossing
    from workbench.fit.faces import Fit
    from workbench.run.record import Record
    from workbench.steps.trials import OpenTrial


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutcomeFit:
    """One outcome's fit, or why there is none.

    `with_excluded` is the same model on all runs, those excluded by hand among them; None where
    no run is excluded. `crossings` are the settings at which an interaction turns an effect.
    """

    outcome: Outcome
    fit: Fit | Unavailable
    with_excluded: Fit | Unavailable | None
    crossings: tuple[Crossing, ...]


def fit_all(
    opened: OpenTrial,
    *,
    outcomes: Sequence[str] = (),
    terms: str | None = None,
    scale: str | None = None,
    uses_as_run: bool = True,
    with_excluded: bool = False,
) -> tuple[OutcomeFit, ...]:
    """Fit the named outcomes, or all of them.

    `terms` (a preset or a list in algebra) and `scale` stand instead of those in trial.toml;
    `with_excluded` counts the runs excluded by hand in. An outcome that the runs cannot answer
    is there with its reason.

    Raises
    ------
    WorkbenchError
        If no run has a result yet, or an outcome, term or scale is not known.
    """
    check_has_results(opened)
    wanted = [opened.trial.outcome(name) for name in outcomes] or list(opened.trial.outcomes)
    model = None if terms is None else define.parse_terms(terms, opened.trial.factors)

    def one_fit(name: str, *, counts_excluded: bool) -> Fit | Unavailable:
        return fit.outcome(
            opened.record,
            name,
            terms=model,
            uses_as_run=uses_as_run,
            scale=scale,
            with_excluded=counts_excluded,
        )

    found = []
    for outcome in wanted:
        counted = one_fit(outcome.name, counts_excluded=with_excluded)
        both = has_excluded(opened.record) and not with_excluded
        found.append(
            OutcomeFit(
                outcome=outcome,
                fit=counted,
                with_excluded=one_fit(outcome.name, counts_excluded=True) if both else None,
                crossings=crossings(counted) if isinstance(counted, MeasuredFit) else (),
            )
        )
    return tuple(found)


def has_excluded(record: Record) -> bool:
    """Return whether a run was excluded by hand."""
    return Status.EXCLUDED in record.status


def check_has_results(opened: OpenTrial) -> None:
    """Check that at least one run has a result.

    Raises
    ------
    RecordError
        If nothing has been recorded.
    """
    if opened.record.used().any():
        return
    raise RecordError(
        "No run of this trial has a result yet.",
        why="Without results there is nothing to fit.",
        next_step=f"Fill in the run sheet and take it in: workbench take {opened.folder} TABLE.",
        place=str(opened.folder),
    )
