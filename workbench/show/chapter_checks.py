"""Checks of a model: what it leaves over, and what it comes to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.outcome_model import OutcomeModel
from workbench.show.fit_tables import components_table, summary_table, tests_table
from workbench.show.numbers import degrees
from workbench.show.page import Screen, described, figure, folded
from workbench.show.residuals import residuals_by_fitted, residuals_in_order
from workbench.show.scatter_line import half_normal
from workbench.show.seen_expected import agreement_sentence, observed_beside_expected
from workbench.show.seen_rows import seen_rows
from workbench.show.sentences import order_sentence

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from workbench.fit.faces import Fit
    from workbench.show.escape import Html

ALPHA = 0.05


def checks_screen(fit: Fit, place: int) -> Screen:
    """Return the checks of one outcome's fit, whichever kind it is."""
    drawn = [figure(f"{key}-{place}", one, described(one)) for key, one in _figures(fit)]
    return Screen(
        key=f"checks-{place}",
        step=f"Checks of {fit.outcome.name}",
        claim=order_sentence(fit),
        say=("A model is only as good as what it leaves over.",),
        number=_df(fit),
        number_of="error degrees of freedom behind each interval" if _df(fit) else "",
        check=_check_words(fit),
        see=(*drawn, *_tables(fit), folded("Tests of each term", tests_table(fit))),
    )


def _figures(fit: Fit) -> list[tuple[str, go.Figure]]:
    made = [("order", residuals_in_order(fit))]
    if isinstance(fit, MeasuredFit):
        made.append(("fitted", residuals_by_fitted(fit)))
    elif isinstance(fit, OutcomeModel) and fit.checks.observed.size:
        made.append(("seen", observed_beside_expected(fit)))
    if len(fit.effects) > 2 and isinstance(fit, MeasuredFit):
        made.append(("half-normal", half_normal(fit)))
    return made


def _tables(fit: Fit) -> tuple[Html, ...]:
    if isinstance(fit, MeasuredFit):
        return (summary_table(fit),)
    whole = folded("The model in numbers", summary_table(fit))
    if isinstance(fit, OutcomeModel) and fit.scatter:
        return (components_table(fit), whole)
    return (whole,)


def _df(fit: Fit) -> str:
    """Return the degrees of freedom where one number stands behind each interval."""
    if isinstance(fit.error_df, Unavailable) or (isinstance(fit, OutcomeModel) and fit.scatter):
        return ""
    known = {one.error_df for one in fit.tests if one.error_df > 0}
    if isinstance(fit, OutcomeModel) and known and known != {fit.error_df}:
        return ""
    return degrees(fit.error_df)


def _check_words(fit: Fit) -> str:
    if isinstance(fit, MeasuredFit):
        return _lack_words(fit)
    if not isinstance(fit, OutcomeModel):
        return ""
    seen = seen_rows(fit)
    if seen.limits is not None:
        return f"{agreement_sentence(fit, seen)}."
    strata = dict.fromkeys(one.stratum for one in fit.tests if one.stratum)
    if len(strata) > 1:
        return (
            "Each term is judged by the scatter of its own level: see “held against” in the tests."
        )
    return "If the marks left the line by a bend or a step, the model would lack a term."


def _lack_words(fit: MeasuredFit) -> str:
    lack = fit.lack_of_fit
    if isinstance(lack, Unavailable):
        return f"Whether the model bends as the process does is open: {lack.reason}"
    if lack.p < ALPHA:
        return "Runs at equal settings agree better than the model does: it lacks a term."
    return "The model misses the runs no more than runs at equal settings miss one another."
