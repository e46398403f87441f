"""Whether a window may rest on a fit, and what stands in doubt if it may."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.mixed_model import MixedModel
from workbench.fit.outcome_model import OutcomeModel
from workbench.fit.plurals import plural
from workbench.numerics.random_terms import indicators

if TYPE_CHECKING:
    from workbench.fit.faces import Fit

LEAST_ERROR_DF = 8  # below it a window's promise was not kept in simulation
LEAST_LEVEL_DF = 4  # of setups or lots: fewer do not tell how far new ones may lie
RANK = 1e-8
DOUBTED, REFUSED = 0.05, 0.01  # p of lack of fit


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a decision must know of a fit, whatever its kind.

    `refusals` say why no window may rest on it, `form_doubts` why its model form may not be
    taken as right, `notes` what else to say beside a window; each is a whole sentence.
    """

    refusals: tuple[str, ...] = ()
    form_doubts: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def standing(fit: Fit) -> Standing:
    """Return whether a window may rest on the fit.

    Fewer than 8 error degrees of freedom are refused, and fewer than 4 between the setups or lots
    that new parts come from. Lack of fit with p below 0.01 is refused;
    below 0.05 it is a doubt: the window keeps its model-form term, but the window that takes the
    form as right is not offered.
    """
    if isinstance(fit, OutcomeModel):
        return Standing(refusals=(*_too_few_df(fit), *_too_few_levels(fit)), notes=_blocks(fit))
    if not isinstance(fit, MeasuredFit):
        return Standing()
    return Standing(
        refusals=(*_too_few_df(fit), *_no_scatter(fit), *_misfit(fit, 0.0, REFUSED)),
        form_doubts=_misfit(fit, REFUSED, DOUBTED),
        notes=(*_misfit(fit, REFUSED, DOUBTED), *_blocks(fit), *_nothing_matters(fit)),
    )


def _too_few_df(fit: MeasuredFit | OutcomeModel) -> tuple[str, ...]:
    left = fit.error_df
    if isinstance(left, Unavailable) or left >= LEAST_ERROR_DF:
        return ()
    lacking = math.ceil(LEAST_ERROR_DF - left)
    return (
        (
            f"{fit.outcome.name} leaves {left:g} error degrees of freedom to judge scatter "
            f"by; a window needs {LEAST_ERROR_DF}: {lacking} more run{'s' if lacking > 1 else ''} "
            "(repeats or centre points), or fewer terms."
        ),
    )


def _too_few_levels(fit: OutcomeModel) -> tuple[str, ...]:
    """Return which levels are too few, once those that the model uses up are taken off."""
    if not isinstance(fit, MixedModel):
        return ()
    found = []
    for one in fit.random:
        columns = indicators(one.levels)
        basis = fit.all_terms.fixed.Q
        left = int(np.linalg.matrix_rank(columns - basis @ (basis.T @ columns), tol=RANK))
        if one.what != "run" and left < LEAST_LEVEL_DF:
            found.append(
                f"{fit.outcome.name} has {one.n_levels} {plural(one.name)}, which leaves {left} "
                f"degrees of freedom to judge how far new ones may lie; a window needs "
                f"{LEAST_LEVEL_DF}: reset more often, or use fewer terms of what changes between "
                "them."
            )
    return tuple(found)


def _no_scatter(fit: MeasuredFit) -> tuple[str, ...]:
    if fit.residual_variance != 0:
        return ()
    return (
        (
            f"The model of {fit.outcome.name} meets every run exactly, so there is no scatter "
            "from which a share could be told; check the resolution of the readings."
        ),
    )


def _misfit(fit: MeasuredFit, above: float, below: float) -> tuple[str, ...]:
    test = fit.lack_of_fit
    if isinstance(test, Unavailable) or not above <= test.p < below:
        return ()
    return (
        (
            f"The model of {fit.outcome.name} does not follow its runs: lack of fit "
            f"p = {test.p:.2g} ({test.df} and {test.pure_error_df} df). Ask for more terms, "
            "another scale, or add runs between the levels."
        ),
    )


def _blocks(fit: MeasuredFit | OutcomeModel) -> tuple[str, ...]:
    count = len(fit.block_labels)
    if count < 2:
        return ()
    return (
        (
            f"{fit.outcome.name}: the chance is for the average of the {count} blocks tried; for "
            "lots like these, not for any new lot, whose scatter these runs do not tell."
        ),
    )


def _nothing_matters(fit: MeasuredFit) -> tuple[str, ...]:
    predicted = fit.predicted_r_squared
    if isinstance(predicted, Unavailable) or predicted > 0:
        return ()
    return (
        (
            f"Nothing seems to matter to {fit.outcome.name} over these ranges (predicted "
            f"R² {predicted:.2f}): its model predicts no better than its mean. The window rests "
            "on the whole model all the same; a fit of the mean alone would be wider."
        ),
    )
