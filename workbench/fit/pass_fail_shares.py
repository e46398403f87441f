"""The share of new parts that pass: draws of it from the Jeffreys-penalised likelihood."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

import numpy as np
from scipy.special import expit

from workbench.fit.faces import ShareDraws
from workbench.fit.share_basis import Surfaced, share_basis
from workbench.fit.shares import spots, wanting
from workbench.fit.surface_draws import surface_draws
from workbench.numerics.jeffreys_draws import posterior_draws
from workbench.numerics.link_shares import locations
from workbench.numerics.posterior import Process, stream

if TYPE_CHECKING:
    from workbench.define.outcomes import PassFail
    from workbench.define.settings import Settings
    from workbench.errors import Unavailable
    from workbench.fit.share_basis import ShareBasis
    from workbench.numerics.penalised_logistic import PenalisedLogistic

RECENT = 24  # draws kept: a few outcomes, each for the search, its checks and kappa 0
AT_ONCE = 1 << 20  # numbers worked on at once


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Drawn:
    basis: ShareBasis
    process: Process


def pass_share_draws(
    fit: Believed, settings: Settings, *, n_draws: int, seed: int, model_form: float
) -> ShareDraws | Unavailable:
    """Return draws (n_draws, n) of the share of new parts that fail, as too low.

    A draw is one process: coefficients from the penalised likelihood, plus a curve that the
    model form leaves out, on the logit scale; the settings of a new part scatter about what was
    set. Unavailable where a factor's spread in production is not stated.
    """
    lacking = wanting(fit)
    if lacking is not None:
        return lacking
    drawn = _drawn(fit, n_draws=n_draws, seed=seed, kappa=model_form)
    where = spots(drawn.basis, settings, drawn.process)
    failing = np.empty((n_draws, len(settings)), dtype=np.float32)
    rows = max(1, AT_ONCE // max(len(settings), 1))
    for start in range(0, n_draws, rows):
        some = slice(start, start + rows)
        process = Process(
            coefficients=drawn.process.coefficients[some],
            part_variance=drawn.process.part_variance[some],
        )
        found = locations(process, replace(where, bend=where.bend[some]))
        failing[some] = found.averaged(lambda logits: np.asarray(expit(-logits)))
    return ShareDraws(too_low=failing, too_high=np.zeros_like(failing))


@lru_cache(maxsize=RECENT)
def _drawn(fit: Believed, *, n_draws: int, seed: int, kappa: float) -> _Drawn:
    basis = share_basis(fit)
    rng = stream(seed, fit.outcome.name)
    known = posterior_draws(fit.believed, rng, n_draws=n_draws).coefficients
    process = surface_draws(basis, known, rng, kappa=kappa, variance=np.zeros(n_draws))
    return _Drawn(basis=basis, process=process)
