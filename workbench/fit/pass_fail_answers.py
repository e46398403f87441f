"""What a pass/fail fit says of weighted sums of its coefficients: profiles and tests."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc, chdtri, fdtrc, fdtri

from workbench.errors import Unavailable
from workbench.fit.core import CONFIDENCE
from workbench.fit.linear_answers import Joint, Weighted
from workbench.fit.nouns import Estimate
from workbench.numerics.pass_counts import PassCounts
from workbench.numerics.penalised_logistic import penalised_logistic
from workbench.numerics.penalised_profile import profile_limits, ratio_tests

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.numerics.penalised_logistic import PenalisedLogistic


@dataclass(frozen=True, slots=True, kw_only=True)
class Yardstick:
    """What a fall of the likelihood is held against: dispersion and its error df.

    Dispersion 1 with inf degrees of freedom is the plain χ² (parts scatter by chance alone).
    """

    dispersion: float
    error_df: float

    def threshold(self) -> float:
        """Return how far twice the log-likelihood may fall within a 95 % interval."""
        if np.isinf(self.error_df):
            return float(chdtri(1, 1 - CONFIDENCE))
        return self.dispersion * float(fdtri(1, self.error_df, CONFIDENCE))

    def statistic(self, fall: float, df: int) -> float:
        """Return the fall as χ² (as it is) or as F."""
        return fall if np.isinf(self.error_df) else fall / df / self.dispersion

    def p(self, fall: float, df: int) -> float:
        """Return the chance of such a fall where nothing matters."""
        if np.isinf(self.error_df):
            return float(chdtrc(df, fall))
        return float(fdtrc(df, self.error_df, self.statistic(fall, df)))


def run_yardstick(dispersion: float, *, error_df: float) -> Yardstick:
    """Return what tests are held against where runs show this dispersion, never below 1."""
    if dispersion <= 1:
        return Yardstick(dispersion=1.0, error_df=np.inf)
    return Yardstick(dispersion=dispersion, error_df=error_df)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Profile:
    """Ends of one coefficient's profile, whether both were found, and the fall at zero."""

    low: float
    high: float
    found: bool
    fall: float

    def turned(self, sign: float) -> _Profile:
        """Return the profile of the coefficient times 1 or −1."""
        return self if sign > 0 else replace(self, low=-self.high, high=-self.low)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassAnswers:
    """Profile penalised-likelihood intervals and ratio tests over the columns (r,) of a fit.

    What was found is kept for each direction, since an effect is a multiple of a coefficient.
    """

    fit: PenalisedLogistic
    yardstick: Yardstick
    found: dict[bytes, Weighted] = field(default_factory=dict)
    columns: list[_Profile] = field(default_factory=list)

    def weighted(self, weights: NDArray[np.float64]) -> Weighted:
        """Return value, profile interval and ratio test of weights (r,) @ coefficients."""
        size = float(np.abs(weights).max())
        way = weights / size
        key = way.tobytes()
        if key not in self.found:
            self.found[key] = self._along(way)
        return _scaled(self.found[key], size)

    def joint(self, places: NDArray[np.intp]) -> Joint | Unavailable:
        """Return the penalised likelihood-ratio test that the coefficients at places are zero."""
        test = ratio_tests(self.fit, [places.tolist()])[0]
        return Joint(
            fall=test.statistic,
            df=test.df,
            error_df=self.yardstick.error_df,
            statistic=self.yardstick.statistic(test.statistic, test.df),
            p=self.yardstick.p(test.statistic, test.df),
        )

    def _along(self, way: NDArray[np.float64]) -> Weighted:
        place = int(np.argmax(np.abs(way)))
        if np.count_nonzero(way) > 1:
            turned = _turned(self.fit, way, place)
            return self._told(way, _profiles(turned, [place], self.yardstick)[0])
        if not self.columns:
            every = range(self.fit.estimates.size)
            self.columns.extend(_profiles(self.fit, every, self.yardstick))
        return self._told(way, self.columns[place].turned(float(way[place])))

    def _told(self, way: NDArray[np.float64], ends: _Profile) -> Weighted:
        value = float(way @ self.fit.estimates)
        if not ends.found:
            lacking = Unavailable(
                reason="its interval reaches further out than so few failures or passes can tell"
            )
            return Weighted(
                value=value,
                estimate=lacking,
                statistic=self.yardstick.statistic(ends.fall, 1),
                p=self.yardstick.p(ends.fall, 1),
            )
        spread = float(way @ self.fit.covariance @ way) * self.yardstick.dispersion
        return Weighted(
            value=value,
            estimate=Estimate(
                value=value,
                std_error=float(np.sqrt(spread)),
                low=ends.low,
                high=ends.high,
                df=self.yardstick.error_df,
            ),
            statistic=self.yardstick.statistic(ends.fall, 1),
            p=self.yardstick.p(ends.fall, 1),
        )


def _profiles(
    fit: PenalisedLogistic, places: Sequence[int], yardstick: Yardstick
) -> list[_Profile]:
    """Return the profiles of coefficients, sought side by side."""
    ends = profile_limits(fit, places, threshold=yardstick.threshold())
    tests = ratio_tests(fit, [[place] for place in places])
    return [
        _Profile(low=float(low), high=float(high), found=bool(found), fall=test.statistic)
        for low, high, found, test in zip(ends.low, ends.high, ends.found, tests, strict=True)
    ]


def _turned(fit: PenalisedLogistic, way: NDArray[np.float64], place: int) -> PenalisedLogistic:
    """Return the same fit with way @ coefficients as the coefficient at a place."""
    X = np.array(fit.counts.X)
    pivot = X[:, place] / way[place]
    X -= np.outer(pivot, way)
    X[:, place] = pivot
    counts = fit.counts
    return penalised_logistic(
        PassCounts(
            X=X,
            passed=counts.passed.copy(),
            parts=counts.parts.copy(),
            offset=counts.offset.copy(),
        )
    )


def _scaled(told: Weighted, size: float) -> Weighted:
    value = told.value if isinstance(told.value, Unavailable) else size * told.value
    one = told.estimate
    if isinstance(one, Unavailable):
        return Weighted(value=value, estimate=one, statistic=told.statistic, p=told.p)
    return Weighted(
        value=value,
        estimate=Estimate(
            value=size * one.value,
            std_error=size * one.std_error,
            low=size * one.low,
            high=size * one.high,
            df=one.df,
        ),
        statistic=told.statistic,
        p=told.p,
    )
