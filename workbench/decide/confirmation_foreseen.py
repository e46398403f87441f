"""What is foreseen of every outcome at one place, to be locked before parts are made."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.confirmation import Foreseen
from workbench.decide.confirmation_normal import ABOVE, BELOW, normal_at
from workbench.define.outcomes import Counted, Graded, Measured, PassFail
from workbench.errors import DecisionError, Unavailable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.decide.confirmation_normal import Allowance
    from workbench.decide.confirmation_spots import Spot
    from workbench.decide.sample import Sample
    from workbench.define.outcomes import Outcome
    from workbench.fit.faces import Fit, Prediction

INTERVAL = 0.95  # confidence of the intervals that are locked
SHARE_ONLY = Unavailable(reason="a single part meets it or does not")


def foreseen(
    sample: Sample,
    spot: Spot,
    *,
    n_means: int,
    allowed: Sequence[Allowance],
    rng: np.random.Generator,
) -> tuple[Foreseen, ...]:
    """Return what is foreseen of each outcome; `n_means` parts or setups stand behind a mean."""
    draws = sample.by_side(spot.settings)
    return tuple(
        _one(
            fit,
            spot,
            met=np.clip(shares.share[:, 0].astype(np.float64), 0.0, 1.0),
            n_means=n_means,
            allowed={one.side: one.part for one in allowed if one.outcome == fit.outcome.name},
            rng=rng,
        )
        for fit, shares in zip(sample.fits, draws, strict=True)
    )


def predicted(fit: Fit, spot: Spot) -> Prediction:
    """Return the prediction of one outcome at one place.

    Raises
    ------
    DecisionError
        If the fit predicts nothing there.
    """
    found = fit.predict(spot.settings, confidence=INTERVAL)
    if isinstance(found, Unavailable):
        raise DecisionError(
            f"{fit.outcome.name} cannot be predicted at the {spot.name}: {found.reason}.",
            why="A confirmation is held against predictions that were written down first.",
            next_step="Fit the outcome with fewer terms, or add runs, then ask again.",
        )
    return found


def requirement_words(outcome: Outcome) -> str:
    """Return what an outcome must meet, with its unit."""
    if isinstance(outcome, PassFail):
        return outcome.passes
    if outcome.requirement is None:
        return ""
    if isinstance(outcome, Graded):
        low, high = outcome.requirement.low, outcome.requirement.high
        first = outcome.grades[0 if low is None else int(low)]
        last = outcome.grades[-1 if high is None else int(high)]
        return first if first == last else f"{first} to {last}"
    unit = f" {outcome.unit}" if outcome.unit not in ("", "1") else ""
    return f"{outcome.requirement.words()}{unit}"


def _one(
    fit: Fit,
    spot: Spot,
    *,
    met: NDArray[np.float64],
    n_means: int,
    allowed: dict[int, float],
    rng: np.random.Generator,
) -> Foreseen:
    prediction = predicted(fit, spot)
    outcome = fit.outcome
    ends = _parts_mean(outcome, prediction, met=met, n_means=n_means, rng=rng)
    low, high = (ends, ends) if isinstance(ends, Unavailable) else ends
    return Foreseen(
        outcome=outcome.name,
        unit=outcome.unit if isinstance(outcome, Measured | Counted) else "",
        requirement=requirement_words(outcome),
        mean=float(prediction.mean[0]),
        mean_low=float(prediction.mean_low[0]),
        mean_high=float(prediction.mean_high[0]),
        new_part_low=_end(outcome, prediction.new_part_low),
        new_part_high=_end(outcome, prediction.new_part_high),
        parts_mean_low=low,
        parts_mean_high=high,
        chance=float(met.mean()),
        may_fall_below=allowed.get(BELOW),
        may_fall_above=allowed.get(ABOVE),
    )


def _end(outcome: Outcome, end: NDArray[np.float64] | Unavailable) -> float | Unavailable:
    if isinstance(end, Unavailable):
        return end
    if isinstance(outcome, PassFail | Graded):
        return SHARE_ONLY
    value = float(end[0])
    return value if np.isfinite(value) else Unavailable(reason="it has no end")


def _parts_mean(
    outcome: Outcome,
    prediction: Prediction,
    *,
    met: NDArray[np.float64],
    n_means: int,
    rng: np.random.Generator,
) -> tuple[float, float] | Unavailable:
    if isinstance(outcome, Measured):
        normal = normal_at(outcome, prediction)
        return normal if isinstance(normal, Unavailable) else normal.parts_mean(n_means)
    if isinstance(outcome, Counted):
        return Unavailable(reason="the mean of counts is not held against an interval")
    shares = rng.binomial(n_means, met) / n_means
    tail = (1 - INTERVAL) / 2
    low, high = np.quantile(shares, [tail, 1 - tail], method="nearest")
    return float(low), float(high)
