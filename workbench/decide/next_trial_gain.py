"""What added runs would change at one place, if the scatter stays as it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.next_trial import Gain
from workbench.decide.next_trial_stand import plain_margin
from workbench.define.model_matrix import model_matrix
from workbench.define.settings import Settings
from workbench.errors import Unavailable
from workbench.numerics.margins import known_at, needed_margin
from workbench.plan.verify import block_columns

LEAST_SHARE, MOST_SHARE = 0.01, 0.9999  # assured shares that a factor can be told of

if TYPE_CHECKING:
    from workbench.decide.next_trial_stand import Stand
    from workbench.define.terms import Terms
    from workbench.fit.faces import Fit
    from workbench.numerics.margins import Known


def gain(at: Stand, runs: Settings, *, terms: Terms | None = None) -> Gain | Unavailable:
    """Return what the runs (m, k) would change for the outcome that limits.

    `terms` stand instead of those that were fitted. The added runs are a block of their own, and
    what is promised is the mean over the blocks tried, as a fit has it.
    """
    model = at.limiting.terms if terms is None else terms
    lacking = _lacking(at.limiting, model, runs)
    if lacking is not None:
        return lacking
    before = _known(at, model, runs=None)
    after = _known(at, model, runs=runs)
    return Gain(
        outcome=at.limiting.outcome.name,
        error_before=_error(before),
        error_after=_error(after),
        margin=margin(at),
        needed_before=_needed(before, at),
        needed_after=_needed(after, at),
    )


def margin(at: Stand) -> float | Unavailable:
    """Return how many sd inside its limit the mean stands, what else fails parts taken off.

    The share that is assured at the place, all told, is less than the mean and scatter of one
    outcome alone would give: setting error, model form and the other outcomes take some. The
    margin is the one at which the tolerance factor gives just that share.
    """
    plain = plain_margin(at)
    if at.assured is None or isinstance(plain, Unavailable):
        return plain
    known = _known(at, at.limiting.terms, runs=None)
    share = min(max(at.assured, LEAST_SHARE), MOST_SHARE)
    return min(plain, needed_margin(known, share=share, confidence=at.ask.confidence))


def needed_now(at: Stand) -> float | Unavailable:
    """Return how many sd of a new part the mean has to stand inside its limit, by these runs."""
    return _needed(_known(at, at.limiting.terms, runs=None), at)


def _lacking(fit: Fit, model: Terms, runs: Settings) -> Unavailable | None:
    in_model = {name for term in model.terms for name in term.factors}
    missing = sorted(in_model - set(runs.names))
    if not missing:
        return None
    return Unavailable(
        reason=f"{', '.join(missing)} stands in the model of {fit.outcome.name} and is only read, "
        "so what it will be in the added runs is not known"
    )


def _known(at: Stand, model: Terms, *, runs: Settings | None) -> Known:
    fit = at.limiting
    rows = model_matrix(model, fit.settings).X
    block = np.asarray(getattr(fit, "block", np.zeros(len(rows))), dtype=np.int64)
    if runs is not None:
        rows = np.vstack([rows, model_matrix(model, _as_fitted(fit, runs)).X])
        block = np.concatenate([block, np.full(len(runs), block.max(initial=0) + 1)])
    columns = block_columns(block)
    point = model_matrix(model, at.place).X[0]
    return known_at(
        np.hstack([rows, columns]), np.concatenate([point, np.zeros(columns.shape[1])])
    )


def _as_fitted(fit: Fit, runs: Settings) -> Settings:
    """Return runs over the factors of the fit; what is only read, and so in no model, as 0."""
    values = np.zeros((len(runs), len(fit.settings.factors)))
    for j, factor in enumerate(fit.settings.factors):
        if factor.name in runs.names:
            values[:, j] = runs.column(factor.name)
    return Settings(factors=fit.settings.factors, values=values)


def _error(known: Known) -> float | Unavailable:
    if not np.isfinite(known.leverage):
        return Unavailable(reason="the runs do not tell the mean there")
    return float(np.sqrt(known.leverage))


def _needed(known: Known, at: Stand) -> float | Unavailable:
    needed = needed_margin(known, share=at.ask.share, confidence=at.ask.confidence)
    if not np.isfinite(needed):
        return Unavailable(reason="no margin is enough while the mean or the scatter is not told")
    return needed


def enough(found: Gain | Unavailable) -> bool:
    """Return whether the margin that is there would be enough after the runs."""
    if isinstance(found, Unavailable):
        return False
    return _reaches(found.margin, found.needed_after)


def holds_already(found: Gain | Unavailable) -> bool:
    """Return whether the margin that is there is enough by these runs."""
    return not isinstance(found, Unavailable) and _reaches(found.margin, found.needed_before)


def _reaches(has: float | Unavailable, needs: float | Unavailable) -> bool:
    if isinstance(has, Unavailable) or isinstance(needs, Unavailable):
        return False
    return has >= needs
