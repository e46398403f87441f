"""Points at which a model is asked: their columns, leverage, and whether they were tried."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical, Role
from workbench.define.model_matrix import model_matrix
from workbench.errors import FitError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.settings import Settings
    from workbench.fit.core import Core
    from workbench.fit.share_basis import Surfaced


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Columns X (n, p) of the model, leverage (n,) and whether each point is inside (n,)."""

    X: NDArray[np.float64]
    leverage: NDArray[np.float64]
    inside: NDArray[np.bool_]


def points(fit: Surfaced, structure: Core, settings: Settings) -> Points:
    """Return the points at settings (n, k), at the average of fixed blocks.

    Raises
    ------
    FitError
        If the settings are those of other factors, or lack one that stands in the model.
    """
    if settings.names != fit.settings.names:
        raise FitError(
            f"The points have the factors {', '.join(settings.names)}.",
            why=f"This fit is over {', '.join(fit.settings.names)}.",
            next_step="Give each point one value for every factor of the trial, in order.",
        )
    X = _columns(fit, settings)
    if not np.isfinite(X).all():
        raise FitError(
            "A point lacks a setting that stands in the model.",
            why="Without it there is nothing to predict.",
            next_step=f"Give a value for each factor in: {fit.terms}.",
        )
    leverage = np.einsum("ij,jk,ik->i", X, structure.unscaled, X)
    return Points(X=X, leverage=leverage, inside=_inside(fit, structure, (settings, X, leverage)))


def _columns(fit: Surfaced, settings: Settings) -> NDArray[np.float64]:
    base = model_matrix(fit.terms, settings).X
    return np.hstack([base, np.zeros((len(settings), fit.n_block_columns))])


def _inside(
    fit: Surfaced,
    structure: Core,
    asked: tuple[Settings, NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.bool_]:
    settings, X, leverage = asked
    tried = _columns(fit, fit.settings)
    highest = np.einsum("ij,jk,ik->i", tried, structure.unscaled, tried).max()
    known = (X * structure.whole.kept) @ structure.whole.combination
    inside = (leverage <= highest * (1 + 1e-9)) & (np.abs(X - known) < 1e-7).all(axis=1)
    in_model = {name for term in fit.terms.terms for name in term.factors}
    for factor in fit.settings.factors:
        if factor.name in in_model or factor.role in (Role.CONTROL, Role.NOISE):
            seen = fit.settings.column(factor.name)
            inside &= _was_tried(factor, settings.column(factor.name), seen)
    return np.asarray(inside)


def _was_tried(
    factor: Factor, asked: NDArray[np.float64], seen: NDArray[np.float64]
) -> NDArray[np.bool_]:
    known = seen[np.isfinite(seen)]
    if known.size == 0:
        return np.ones(asked.size, dtype=bool)
    if isinstance(factor, Categorical):
        return np.isin(asked, known)
    slack = 1e-9 * np.ptp(known)
    return np.asarray((asked >= known.min() - slack) & (asked <= known.max() + slack))
