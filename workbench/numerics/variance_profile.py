"""Limits of a variance component from its restricted profile likelihood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtri

from workbench.numerics.reml_likelihood import contrasts, information, pieces
from workbench.numerics.spans import Span

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from workbench.numerics.random_terms import RandomTerms
    from workbench.numerics.reml import VarianceFit
    from workbench.numerics.reml_likelihood import Contrasts, Information

MOST_STEPS = 60
DOUBLINGS = 80
CLOSE_ENOUGH = 1e-12  # Newton decrement: twelve digits of a log-likelihood compared with 1.92
NOTHING = 1e-10  # of the total scatter: as far down as a limit is looked for before it is 0


def variance_limits_by_profile(
    terms: RandomTerms, y: NDArray[np.float64], *, fit: VarianceFit, confidence: float
) -> tuple[Span, ...]:
    """Return the limits of each variance (R + 1), residual last, in the squared unit of y.

    All values whose restricted profile log-likelihood lies within half a chi-square quantile of
    the maximum (Pawitan 2001, In All Likelihood, section 2.6), the quantile stretched by
    1 + 1/(3 df) of the stratum: Bartlett's (1937, Proceedings of the Royal Society A 160,
    268-282) correction for one variance. `fit` is the bounded maximum.
    """
    profile = _Profile(terms, contrasts(terms, y), fit)
    half = float(chdtri(1, 1 - confidence)) / 2
    return tuple(
        _span(profile, which, half * (1 + 1 / (3 * df)))
        for which, df in enumerate(_stratum_df(terms))
    )


def _stratum_df(terms: RandomTerms) -> list[int]:
    """Return the error contrasts that each term reaches, and those that see the residual only."""
    ranks = [
        int(np.linalg.matrix_rank(terms.W[:, terms.owner == term]))
        for term in range(terms.n_terms)
    ]
    return [*(max(rank, 1) for rank in ranks), terms.residual_df or terms.error_df]


@dataclass(slots=True, eq=False)
class _Held:
    """Variances (R + 1,) with one held, at the highest likelihood found with it."""

    variances: NDArray[np.float64]
    value: float


class _Profile:
    """The restricted likelihood with one variance held, all others at their best."""

    def __init__(self, terms: RandomTerms, seen: Contrasts, fit: VarianceFit) -> None:
        self.terms = terms
        self.seen = seen
        self.best = fit.variances
        self.belongs = terms.membership()
        self.total = (float(seen.inside @ seen.inside) + seen.outside) / seen.n

    def at(self, variances: NDArray[np.float64]) -> Information | None:
        ratios = variances[:-1] / variances[-1]
        found = pieces(
            self.terms.W,
            self.seen,
            per_column=ratios[self.terms.owner],
            belongs=self.belongs,
        )
        return None if found is None else information(found, ratios, float(variances[-1]))

    def held(self, which: int, value: float, start: NDArray[np.float64]) -> _Held:
        """Return the best variances with number `which` at `value`, from those of `start`."""
        variances = start.copy()
        variances[which] = value
        floor = np.zeros(variances.size)
        floor[-1] = NOTHING * self.total
        variances = np.maximum(variances, floor)
        here = self.at(variances)
        for _ in range(MOST_STEPS):
            if here is None:
                break
            free = (variances > floor) | (here.gradient > 0)
            free[which] = False
            step = _step(here, free)
            if float(here.gradient @ step) < CLOSE_ENOUGH:
                break
            further = self._stepped((variances, here, step), floor)
            if further is None:
                break
            variances, here = further
        return _Held(variances=variances, value=-np.inf if here is None else here.value)

    def _stepped(
        self,
        at: tuple[NDArray[np.float64], Information, NDArray[np.float64]],
        floor: NDArray[np.float64],
    ) -> tuple[NDArray[np.float64], Information] | None:
        variances, here, step = at
        for halvings in range(40):
            trial = np.maximum(variances + step / 2**halvings, floor)
            # The residual is never emptied: the ratios to it would leave the scale.
            trial[-1] = max(trial[-1], 0.1 * variances[-1])
            there = self.at(trial)
            if there is not None and there.value > here.value:
                return trial, there
        return None


def _step(here: Information, free: NDArray[np.bool_]) -> NDArray[np.float64]:
    step = np.zeros(free.size)
    inside = np.ix_(free, free)
    for matrix in (here.observed[inside], here.expected[inside]):
        try:
            np.linalg.cholesky(matrix)
        except np.linalg.LinAlgError:
            continue
        step[free] = np.linalg.solve(matrix, here.gradient[free])
        return step
    return step


def _span(profile: _Profile, which: int, allowed: float) -> Span:
    best = profile.best
    top = profile.held(which, float(best[which]), best).value
    so_far = best
    terms_besides = best.size - 2

    def lack(value: float) -> float:
        nonlocal so_far
        # The optimum of the others may jump; the likelier of two starts is followed.
        starts = [so_far] if terms_besides == 0 else [so_far, best]
        found = max((profile.held(which, value, one) for one in starts), key=_value)
        so_far = found.variances
        return top - found.value - allowed

    high = _upper(lack, float(best[which]), 1e-3 * profile.total)
    so_far = best
    least = NOTHING * profile.total
    if best[which] <= least or lack(least) <= 0:
        return Span(low=0.0, high=high)
    so_far = best
    return Span(low=float(brentq(lack, least, best[which], rtol=1e-10)), high=high)


def _value(held: _Held) -> float:
    return held.value


def _upper(lack: Callable[[float], float], best: float, least_step: float) -> float:
    low, high = best, max(2 * best, best + least_step)
    for _ in range(DOUBLINGS):
        if lack(high) > 0:
            return float(brentq(lack, low, high, rtol=1e-10))
        low, high = high, 2 * high
    return float(np.inf)
