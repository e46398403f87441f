"""What a window promises, requirement by requirement and for all together."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.windows import Window
from workbench.define.factors import Categorical
from workbench.define.settings import Settings
from workbench.errors import Unavailable
from workbench.show.story import Promise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.fit.faces import Fit
    from workbench.steps.windows import WindowAnswer

PER_SIDE = 5  # places along each side of the window; its corners are among them


def promises(answer: WindowAnswer) -> tuple[Promise, ...]:
    """Return the shares at the set point and the lowest assured, last for all together.

    One outcome's lowest share is the 1 − confidence quantile, over draws of the process, of its
    lowest share on an even grid over the window.
    """
    window = answer.best
    if not isinstance(window, Window):
        return ()
    found = [_promise(fit, window) for fit in answer.fits]
    together = Promise(
        outcome="", at_set_point=window.chance_at_set_point, lowest=window.lowest_share
    )
    return (*(one for one in found if one is not None), together)


def _promise(fit: Fit, window: Window) -> Promise | None:
    factors = fit.settings.factors
    shares = fit.share_draws(
        Settings(factors=factors, values=_grid(factors, window)),
        n_draws=window.n_draws,
        seed=window.seed,
        model_form=window.model_form,
    )
    if isinstance(shares, Unavailable):
        return None
    share = shares.share
    return Promise(
        outcome=fit.outcome.name,
        at_set_point=float(share[:, 0].mean()),
        lowest=float(np.quantile(share.min(axis=1), 1 - window.confidence)),
    )


def _grid(factors: tuple[Factor, ...], window: Window) -> NDArray[np.float64]:
    """Return the set point in the first row, then the grid over the window."""
    ends = {one.factor.name: (one.low, one.high) for one in window.limits}
    point = window.set_point()
    sides = [
        np.linspace(*ends[f.name], PER_SIDE)
        if f.name in ends
        else np.array([_stored(f, point.get(f.name))])
        for f in factors
    ]
    first = [_stored(f, point.get(f.name)) for f in factors]
    return np.array([first, *product(*sides)], dtype=np.float64)


def _stored(factor: Factor, value: float | str | None) -> float:
    if isinstance(factor, Categorical):
        return float(factor.index(str(value))) if value is not None else 0.0
    return (factor.low + factor.high) / 2 if value is None else float(value)
