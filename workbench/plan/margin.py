"""How far from its limit an outcome has to lie for a plan of this size to assure anything."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy  # its parts load when a function of theirs is first called

from workbench.define.model_matrix import model_matrix
from workbench.errors import Unavailable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.plan.plans import Plan

LEAST_ERROR_DF = 8  # below it a window is refused
LEAST_LEVERAGE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """Distance to the nearest limit, in sd of a part, that the best point needs to be assured.

    `if_known` is the distance that a process known exactly would need, `leverage` the least of
    the plan's own settings, `error_df` what its runs leave for scatter.
    """

    share: float
    confidence: float
    needed: float
    if_known: float
    leverage: float
    error_df: int


def margin(plan: Plan, *, share: float, confidence: float) -> Margin | Unavailable:
    """Return the margin that the plan needs to assure a share at its best known setting.

    One limit, one measured outcome whose parts are normal, one part a run, the plan's own model
    taken as right: the least that any window needs, since it must hold over a box and with what
    the model leaves out. Runs that share a reset of a slow factor are counted as if each were
    set anew, so with slow factors more is needed than is said.

    Nothing is interpolated: margin = √h t′, with h the least leverage of the settings of the plan
    and t′ the `confidence` quantile of the noncentral t distribution with the error df and
    noncentrality z(share) / √h (Krishnamoorthy and Mathew 2009, Statistical Tolerance Regions,
    section 3.4, one-sided tolerance limits in regression).
    """
    X = np.asarray(model_matrix(plan.terms, plan.settings).X, dtype=np.float64)
    Q, R = np.linalg.qr(X)
    if X.shape[0] < X.shape[1] or _is_singular(R):
        return Unavailable(reason="the plan cannot tell all terms of its model apart")
    error_df = int(X.shape[0] - X.shape[1] - (np.unique(plan.block).size - 1))
    if error_df < LEAST_ERROR_DF:
        return Unavailable(
            reason=f"the plan leaves {error_df} error degrees of freedom, and a window needs "
            f"{LEAST_ERROR_DF}: no margin is enough"
        )
    least = max(float((Q**2).sum(axis=1).min()), LEAST_LEVERAGE)
    return Margin(
        share=share,
        confidence=confidence,
        needed=needed_margin(least, error_df, share=share, confidence=confidence),
        if_known=float(scipy.special.ndtri(share)),
        leverage=least,
        error_df=error_df,
    )


def needed_margin(leverage: float, error_df: int, *, share: float, confidence: float) -> float:
    """Return the margin in sd at a point of that leverage.

    With leverage 1 / n and error df n − 1 it is the one-sided tolerance factor of n parts.

    Examples
    --------
    >>> round(needed_margin(1 / 10, 9, share=0.9, confidence=0.95), 3)
    2.355
    """
    root = float(np.sqrt(leverage))
    return float(
        root * scipy.special.nctdtrit(error_df, scipy.special.ndtri(share) / root, confidence)
    )


def _is_singular(R: NDArray[np.float64]) -> bool:
    size = np.abs(np.diag(R))
    return bool(size.min() <= 1e-10 * size.max())
