"""The share of new parts that pass: draws of it from the Jeffreys-penalised likelihood."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

import numpy as np

from workbench.fit.foreseen import CurvedParts
from workbench.fit.share_basis import Surfaced, share_basis
from workbench.fit.shares import wanting
from workbench.fit.surface_draws import surfaces
from workbench.numerics.jeffreys_draws import posterior_draws
from workbench.numerics.link_shares import odds_share
from workbench.numerics.posterior import stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.outcomes import PassFail
    from workbench.define.settings import Settings
    from workbench.errors import Unavailable
    from workbench.fit.surface_draws import Surfaces
    from workbench.numerics.penalised_logistic import PenalisedLogistic
    from workbench.numerics.posterior import Some

RECENT = 16  # draws kept: a few outcomes, each for the search and its check


class Believed(Surfaced, Protocol):
    """What the draws need of a fit."""

    @property
    def outcome(self) -> PassFail:
        """The outcome."""

    @property
    def believed(self) -> PenalisedLogistic:
        """The fit whose penalised likelihood is the posterior."""

    def __hash__(self) -> int:
        """Return a hash: draws are kept for each fit."""


def pass_foreseen(
    fit: Believed, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> CurvedParts | Unavailable:
    """Return new parts at settings (n, k), in draws of the share that fails, as too low.

    A draw is one process: coefficients from the penalised likelihood, plus a curve that the
    model form leaves out, on the logit scale; the settings of a new part scatter about what was
    set. Unavailable where a factor's spread in production is not stated.
    """
    lacking = wanting(fit)
    if lacking is not None:
        return lacking
    drawn = _drawn(fit, n_draws=n_draws, seed=seed).bent(model_form)
    return CurvedParts(
        process=drawn.process, spots=drawn.spots(settings), falling=_failing, rising=None
    )


def _failing(logits: NDArray[np.float32], draws: Some) -> NDArray[np.float32]:
    del draws  # the curve is the same in all of them
    return odds_share(-logits)


@lru_cache(maxsize=RECENT)
def _drawn(fit: Believed, *, n_draws: int, seed: int) -> Surfaces:
    rng = stream(seed, fit.outcome.name)
    known = posterior_draws(fit.believed, rng, n_draws=n_draws).points
    return surfaces(share_basis(fit), known, rng, variance=np.zeros(n_draws))
