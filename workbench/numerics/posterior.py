"""Draws of what a least-squares fit leaves unknown: coefficients, scatter, model form."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Some = slice | NDArray[np.intp]  # which of several draws or points

ROOT_TWO_PI = 2.5066282746310002
TAIL_SERIES = tuple(
    coefficient / ROOT_TWO_PI
    for coefficient in (1.330274429, -1.821255978, 1.781477937, -0.356563782, 0.319381530)
)
ALL = slice(None)
AT_ONCE = 1 << 14  # numbers in one array: a few of them stay in the fastest memory
NOTHING = 5.0  # standard deviations beyond which a tail is taken as none (3e-7)
PRODUCTS = 1 << 18  # multiplications in one matrix product: below this BLAS starts no threads,
# which wait for one another far longer than the product takes when other work runs beside it


def stream(seed: int, name: str) -> np.random.Generator:
    """Return the random stream of one outcome: a seed gives each name a stream of its own."""
    return np.random.default_rng([seed, *name.encode()])


def variance_draws(
    rng: np.random.Generator, variance: float, *, df: int, n_draws: int
) -> NDArray[np.float64]:
    """Return draws (n_draws,) of a variance estimated with df: df s² over a chi square.

    Under the prior 1/σ² (Box and Tiao 1973, Bayesian Inference in Statistical Analysis,
    section 2.7).
    """
    return np.asarray(df * variance / rng.chisquare(df, n_draws))


def coefficient_draws(
    rng: np.random.Generator,
    estimates: NDArray[np.float64],
    *,
    unscaled: NDArray[np.float64],
    variances: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return draws (n_draws, p): normal about the estimates (p,) with variance × unscaled (p, p).

    `variances` (n_draws,) are the draws of the residual variance (Box and Tiao 1973, section
    2.7).
    """
    values, vectors = np.linalg.eigh((unscaled + unscaled.T) / 2)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    normal = rng.standard_normal((variances.size, estimates.size))
    return np.asarray(estimates + np.sqrt(variances)[:, None] * (normal @ root.T))


def form_draws(
    rng: np.random.Generator, slopes: NDArray[np.float64], *, n_columns: int, kappa: float
) -> NDArray[np.float64]:
    """Return draws (n_draws, n_columns) of the coefficients that the model leaves out.

    `slopes` (n_draws, k) are draws of the first-order coefficients. A left-out coefficient is
    kappa × their root mean square × |N(0, 1)| (one a draw) × N(0, 1) (one a column): as large,
    beside the main effects, as an assumption says and no run can tell.
    """
    scale = np.abs(rng.standard_normal(slopes.shape[0]))
    normal = rng.standard_normal((slopes.shape[0], n_columns))
    size = np.sqrt((slopes**2).mean(axis=1)) if slopes.shape[1] else np.zeros(slopes.shape[0])
    return np.asarray(kappa * (size * scale)[:, None] * normal)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Process:
    """Draws of one outcome's process: coefficients (n_draws, q), part variance (n_draws,).

    `part_variance` is that of a new part at settings met exactly. Where scatter changes with the
    settings, `moving_variance` (n_draws,) comes on top of it, times the exponential of the
    point's scatter columns @ `log_slopes` (n_draws, r).
    """

    coefficients: NDArray[np.float32]
    part_variance: NDArray[np.float32]
    moving_variance: NDArray[np.float32] | None = None
    log_slopes: NDArray[np.float32] | None = None

    def some(self, draws: Some) -> Process:
        """Return some of the draws."""
        moving, slopes = self.moving_variance, self.log_slopes
        return Process(
            coefficients=self.coefficients[draws],
            part_variance=self.part_variance[draws],
            moving_variance=None if moving is None else moving[draws],
            log_slopes=None if slopes is None else slopes[draws],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Points as the process sees them: columns (n, q) of the mean and of its slopes.

    `slopes` are the columns of each axis along which settings scatter, already multiplied by
    the standard deviation there, zero columns left out (`slope_columns` are those kept).
    `bend` (n_draws, m) is the variance added by curvature in each of m kinds of points,
    `kind` (n,) the kind of each point. `scatter` (n, r) are the columns of the log variance,
    `shift` (n,) is added to the mean as it is.
    """

    mean: NDArray[np.float32]
    slopes: tuple[NDArray[np.float32], ...]
    slope_columns: tuple[NDArray[np.intp], ...]
    bend: NDArray[np.float32]
    kind: NDArray[np.intp]
    scatter: NDArray[np.float32] | None = None
    shift: NDArray[np.float32] | None = None

    def some(self, draws: Some, points: Some) -> Spots:
        """Return some of the points, for some of the draws."""
        return Spots(
            mean=self.mean[points],
            slopes=tuple(slope[points] for slope in self.slopes),
            slope_columns=self.slope_columns,
            bend=self.bend[draws],
            kind=self.kind[points],
            scatter=None if self.scatter is None else self.scatter[points],
            shift=None if self.shift is None else self.shift[points],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tails:
    """Shares (n_draws, n) of new parts below the low limit and above the high one."""

    below: NDArray[np.float32]
    above: NDArray[np.float32]


def normal_share(z: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the share of a standard normal below z, to 3e-7, in a third of the usual time.

    Abramowitz and Stegun (1964), Handbook of Mathematical Functions, 26.2.17.
    """
    far = np.abs(z)
    t = far * np.float32(0.2316419)
    t += np.float32(1)
    np.reciprocal(t, out=t)
    tail = t * np.float32(TAIL_SERIES[0])
    for coefficient in TAIL_SERIES[1:]:
        tail += np.float32(coefficient)
        tail *= t
    far *= far
    far *= np.float32(-0.5)
    tail *= np.exp(far, out=far)
    return np.asarray(np.where(z < 0, tail, 1 - tail))


def blocks(n_draws: int, n_points: int) -> list[slice]:
    """Return slices of the draws of which each, at all points, is worked on at once."""
    rows = max(1, AT_ONCE // max(n_points, 1))
    return [slice(start, start + rows) for start in range(0, n_draws, rows)]


def product(left: NDArray[np.float32], right: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return left (a, q) @ right.T (n, q) in pieces too small to start threads."""
    rows = max(1, PRODUCTS // max(right.size, 1))
    if rows >= left.shape[0]:
        return np.asarray(left @ right.T)
    found = np.empty((left.shape[0], right.shape[0]), dtype=np.float32)
    turned = right.T
    for start in range(0, left.shape[0], rows):
        np.matmul(left[start : start + rows], turned, out=found[start : start + rows])
    return found


def means(process: Process, spots: Spots) -> NDArray[np.float32]:
    """Return the mean (n_draws, n) at each point in each process."""
    found = product(process.coefficients, spots.mean)
    if spots.shift is not None:
        found += spots.shift
    return found


def tails(process: Process, spots: Spots, *, low: float, high: float) -> Tails:
    """Return the shares outside the limits (−inf or inf: open), by draw and point.

    A part is normal about the mean at its settings; settings scatter about what was set, which
    moves the mean and adds variance (first two moments).
    """
    shape = (process.part_variance.size, spots.mean.shape[0])
    below, above = np.zeros(shape, dtype=np.float32), np.zeros(shape, dtype=np.float32)
    _add_tails(process, spots, (low, high), into=(below, above))
    return Tails(below=below, above=above)


def outside(process: Process, spots: Spots, *, low: float, high: float) -> NDArray[np.float32]:
    """Return the shares outside either limit (n_draws, n): both tails at once."""
    total = np.zeros((process.part_variance.size, spots.mean.shape[0]), dtype=np.float32)
    _add_tails(process, spots, (low, high), into=(total, total))
    return total


def _add_tails(
    process: Process,
    spots: Spots,
    limits: tuple[float, float],
    *,
    into: tuple[NDArray[np.float32], NDArray[np.float32]],
) -> None:
    low, high = limits
    for some in blocks(*into[0].shape):
        own, where = process.some(some), spots.some(some, ALL)
        mean = means(own, where)
        per_sd = part_variances(own, where)
        np.sqrt(per_sd, out=per_sd)
        np.reciprocal(per_sd, out=per_sd)
        if low > -np.inf:
            _add_beyond(np.float32(low) - mean, per_sd, into[0][some])
        if high < np.inf:
            mean -= np.float32(high)
            _add_beyond(mean, per_sd, into[1][some])


def _add_beyond(
    gap: NDArray[np.float32], per_sd: NDArray[np.float32], into: NDArray[np.float32]
) -> None:
    gap *= per_sd
    if gap.size and gap.max() > -NOTHING:
        into += normal_share(gap)


def part_variances(process: Process, spots: Spots) -> NDArray[np.float32]:
    """Return the variance (n_draws, n) of a new part about the mean, scatter of settings in it."""
    variance = added_variances(process, spots)
    variance += process.part_variance[:, None]
    if process.moving_variance is not None and process.log_slopes is not None:
        if spots.scatter is None:
            raise ValueError("the scatter moves with the settings, and the points do not say how")
        wider = np.exp(process.log_slopes @ spots.scatter.T)
        variance += process.moving_variance[:, None] * wider
    return np.maximum(variance, np.float32(1e-30), out=variance)


def added_variances(process: Process, spots: Spots) -> NDArray[np.float32]:
    """Return what scattering settings add to the variance (n_draws, n), slopes and bend."""
    variance = np.zeros((process.part_variance.size, spots.mean.shape[0]), dtype=np.float32)
    for slope, columns in zip(spots.slopes, spots.slope_columns, strict=True):
        change = product(process.coefficients[:, columns], slope)
        change *= change
        variance += change
    variance += spots.bend[:, spots.kind] if spots.bend.shape[1] > 1 else spots.bend
    return variance
