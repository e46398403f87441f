"""Where a decision stands: what is in the way, at which place, in which outcome."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.limiting import EDGE
from workbench.decide.miss import KNOWN, NEAR_EDGE
from workbench.decide.next_trial import Obstacle
from workbench.decide.sample import Ask, Sample, judge, lacking
from workbench.decide.straightness import two_level_factors
from workbench.decide.windows import Window
from workbench.define.factors import Categorical, Role
from workbench.define.outcomes import is_judged
from workbench.define.settings import settings
from workbench.errors import DecisionError, Unavailable
from workbench.fit.measured import MeasuredFit
from workbench.fit.requirement_on_scale import requirement_on_scale
from workbench.fit.scales import on_scale
from workbench.fit.standing import LEAST_ERROR_DF, standing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.windows import NoWindow
    from workbench.define.factors import Factor, Numeric
    from workbench.define.settings import Settings
    from workbench.fit.faces import Fit

N_DRAWS = 2048  # enough to tell which assumption decides


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """An end of a range tried at which a window or the best point lies (−1: low, +1: high)."""

    factor: Numeric
    side: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stand:
    """What is in the way of a wider promise.

    `place` (1, k) is the nearest miss, the set point, or else the middle of the ranges; `limiting`
    the fit of the outcome that fails most there, `fails_low` whether it is too low. `assured` is
    the share assured there, all told; None where no share can be told.
    """

    fits: tuple[Fit, ...]
    ask: Ask
    obstacle: Obstacle
    place: Settings
    limiting: Fit
    fails_low: bool
    edges: tuple[Edge, ...]
    assured: float | None = None


def stand(
    fits: Sequence[Fit], best: Window | NoWindow, *, seed: int, model_form: float
) -> Stand | None:
    """Return where a decision stands, None if no outcome is judged."""
    judged = tuple(fit for fit in fits if is_judged(fit.outcome))
    if not judged:
        return None
    place = _place(judged, best)
    ask = Ask(share=best.share, confidence=best.confidence)
    sample = Sample(fits=judged, n_draws=N_DRAWS, seed=seed, model_form=model_form, ask=ask)
    obstacle = _obstacle(judged, best, sample, place=place)
    limiting, fails_low = _limiting(sample, place, said=_limited_by(best))
    return Stand(
        fits=judged,
        ask=ask,
        obstacle=obstacle,
        place=place,
        limiting=limiting,
        fails_low=fails_low,
        edges=_edges(best, place, judged),
        assured=_told(sample, place),
    )


def controls(factors: Sequence[Factor]) -> tuple[Numeric, ...]:
    """Return the numeric factors that the line sets."""
    return tuple(
        one for one in factors if not isinstance(one, Categorical) and one.role is Role.CONTROL
    )


def _place(fits: Sequence[Fit], best: Window | NoWindow) -> Settings:
    known = _known_settings(best)
    middle = _middle(fits[0].settings)
    return settings(fits[0].settings.factors, [middle | known])


def _known_settings(best: Window | NoWindow) -> dict[str, float | str]:
    if isinstance(best, Window):
        return best.set_point()
    return dict(best.nearest_miss.settings) if best.nearest_miss is not None else {}


def _middle(tried: Settings) -> dict[str, float | str]:
    return {
        one.name: one.levels[0] if isinstance(one, Categorical) else (one.low + one.high) / 2
        for one in tried.factors
    }


def _obstacle(
    fits: tuple[Fit, ...], best: Window | NoWindow, sample: Sample, *, place: Settings
) -> Obstacle:
    if isinstance(best, Window):
        edges = [s for one in best.limits for s in (one.limited_by_low, one.limited_by_high)]
        return Obstacle.EDGE if EDGE in edges else Obstacle.NOTHING
    if best.nearest_miss is None:
        return _of_refusal(fits)
    return _at_nearest_miss(sample, place)


def _of_refusal(fits: tuple[Fit, ...]) -> Obstacle:
    """Return why nothing could be judged, in the order in which it has to be mended."""
    if any(fit.aliased for fit in fits):
        return Obstacle.MIXED
    if any(two_level_factors(fit.settings) for fit in fits):
        return Obstacle.STRAIGHTNESS
    left = [fit.error_df for fit in fits]
    if any(not isinstance(df, Unavailable) and df < LEAST_ERROR_DF for df in left):
        return Obstacle.SCATTER_UNKNOWN
    if any(standing(fit).refusals for fit in fits):
        return Obstacle.MISFIT
    return Obstacle.NOTHING


def _at_nearest_miss(sample: Sample, place: Settings) -> Obstacle:
    ask = sample.ask
    if _assured(sample, place, ask.confidence) >= ask.share:
        return Obstacle.TOO_FEW_RUNS
    if _assured(replace(sample, model_form=0.0), place, ask.confidence) >= ask.share:
        return Obstacle.MODEL_FORM
    if _assured(sample, place, KNOWN) >= ask.share:
        return Obstacle.TOO_FEW_RUNS
    return Obstacle.PROCESS


def _told(sample: Sample, place: Settings) -> float | None:
    if lacking(sample.fits, place) is not None:
        return None
    return _assured(sample, place, sample.ask.confidence)


def _assured(sample: Sample, place: Settings, confidence: float) -> float:
    asked = replace(sample, ask=Ask(share=sample.ask.share, confidence=confidence))
    return float(judge(asked, place).assured[0])


def _limited_by(best: Window | NoWindow) -> str:
    if isinstance(best, Window) or best.nearest_miss is None:
        return ""
    return best.nearest_miss.limited_by


def _limiting(sample: Sample, place: Settings, *, said: str) -> tuple[Fit, bool]:
    """Return the fit that limits, and whether its parts are too low rather than too high.

    It is the one that the answer names, else the one whose parts fail most at the place.
    """
    try:
        draws = sample.by_side(place)
    except DecisionError:  # no share is told at all: that is the obstacle
        return sample.fits[0], True
    sizes = np.array([[float(d.too_low.mean()), float(d.too_high.mean())] for d in draws])
    named = [said.startswith(fit.outcome.name) for fit in sample.fits]
    if any(named):
        sizes[~np.array(named)] = -1.0
    worst, side = np.unravel_index(int(np.argmax(sizes)), sizes.shape)
    return sample.fits[int(worst)], bool(side == 0)


def _edges(best: Window | NoWindow, place: Settings, fits: Sequence[Fit]) -> tuple[Edge, ...]:
    if isinstance(best, Window):
        return tuple(
            Edge(factor=one.factor, side=side)
            for one in best.limits
            for side, stop in ((-1, one.limited_by_low), (1, one.limited_by_high))
            if stop == EDGE and not isinstance(one.factor, Categorical)
        )
    if best.nearest_miss is None:
        return ()
    found = []
    for one in controls(place.factors):
        tried = np.concatenate([fit.settings.column(one.name) for fit in fits])
        low, high = float(np.nanmin(tried)), float(np.nanmax(tried))
        at = float(place.column(one.name)[0])
        near = NEAR_EDGE * (high - low)
        if min(at - low, high - at) < near:
            found.append(Edge(factor=one, side=-1 if at - low < near else 1))
    return tuple(found)


def plain_margin(one: Stand) -> float | Unavailable:
    """Return how many sd of a new part the mean stands inside the nearest limit of its outcome.

    Below 0 the mean itself lies beyond the limit.
    """
    fit = one.limiting
    if not isinstance(fit, MeasuredFit):
        return Unavailable(reason=f"{fit.outcome.name} is not measured, so it has no margin in sd")
    return _measured_margin(fit, one.place)


def _measured_margin(fit: MeasuredFit, place: Settings) -> float | Unavailable:
    limits = requirement_on_scale(fit.outcome)
    sd = part_sd(fit)
    seen = fit.predict(place, confidence=0.9)
    if isinstance(limits, Unavailable):
        return limits
    if isinstance(sd, Unavailable):
        return sd
    if isinstance(seen, Unavailable):
        return seen
    middle = float(on_scale(seen.mean, fit.outcome.scale)[0])
    return min(middle - limits.low, limits.high - middle) / sd


def is_nearer_low(fit: MeasuredFit, place: Settings) -> bool:
    """Return whether the mean at the place (1, k) is nearer its low limit."""
    limits, seen = fit.outcome.requirement, fit.predict(place, confidence=0.9)
    if limits is None or isinstance(seen, Unavailable) or limits.high is None:
        return True
    if limits.low is None:
        return False
    return bool(seen.mean[0] - limits.low < limits.high - seen.mean[0])


def part_sd(fit: MeasuredFit) -> float | Unavailable:
    """Return the scatter of a new part from a new run about the model, on its scale."""
    variance = fit.residual_variance
    if isinstance(variance, Unavailable):
        return variance
    within = fit.part_scatter
    more = 0.0 if within is None else (1 - 1 / within.parts_per_run) * within.variance
    total = variance + more
    return float(np.sqrt(total)) if total > 0 else Unavailable(reason="no scatter was seen")
