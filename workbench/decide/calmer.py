"""The same processes with less scatter of one outcome."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr, ndtri

from workbench.decide.sample import Sample
from workbench.fit.faces import ShareDraws

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.settings import Settings
    from workbench.fit.faces import Fit, Foreseen
    from workbench.numerics.posterior import Some

EVERY = slice(None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CalmerSample(Sample):
    """A sample in which new parts of outcome `calmer` scatter `part` as much about their mean.

    A share beyond a limit is Φ(z) with z the distance of the limit in standard deviations, so
    with scatter times c it is Φ(z / c): right for parts that are normal on the outcome's scale.
    What the runs leave unknown stays as it was.
    """

    calmer: str
    part: float

    def foreseen(self, settings: Settings) -> tuple[Foreseen, ...]:
        """Return new parts at settings (n, k), one outcome each."""
        seen = Sample.foreseen(self, settings)
        return tuple(self._calmed(fit, one) for fit, one in zip(self.fits, seen, strict=True))

    def _calmed(self, fit: Fit, seen: Foreseen) -> Foreseen:
        return _Calmed(seen=seen, part=self.part) if fit.outcome.name == self.calmer else seen


@dataclass(frozen=True, slots=True, kw_only=True)
class _Calmed:
    seen: Foreseen
    part: float

    def shares(self, draws: Some = EVERY, points: Some = EVERY) -> ShareDraws:
        found = self.seen.shares(draws, points)
        return ShareDraws(
            too_low=_calmed(found.too_low, self.part), too_high=_calmed(found.too_high, self.part)
        )

    def failing(self, draws: Some = EVERY, points: Some = EVERY) -> NDArray[np.float32]:
        found = self.shares(draws, points)
        return np.asarray(found.too_low + found.too_high)

    def worst(self, draws: Some, starts: NDArray[np.intp]) -> NDArray[np.float32]:
        # Either side is at most the old bound, so both together at most twice the new one.
        return np.float32(2) * _calmed(self.seen.worst(draws, starts), self.part)


def _calmed(shares: NDArray[np.float32], part: float) -> NDArray[np.float32]:
    # A bound may lie above 1, where the normal quantile has no value.
    kept = np.minimum(shares, np.float32(1)).astype(np.float64)
    return np.asarray(ndtr(ndtri(kept) / part), dtype=np.float32)
