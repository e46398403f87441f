"""The explorer: where new parts fall at a setting, and what is assured inside a window."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.sample import MODEL_FORM, Ask, Sample, judge, lacking
from workbench.define.constraints import allowed
from workbench.define.factors import Categorical
from workbench.define.outcomes import is_judged
from workbench.define.settings import Settings
from workbench.errors import OptionError, Unavailable
from workbench.show.numbers import chance, in_hundred, percent
from workbench.steps.panel_ladders import BANDS, ladder_of, scale_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from workbench.define.constraints import Constraint
    from workbench.define.factors import Factor
    from workbench.fit.faces import Fit, ShareDraws
    from workbench.steps.panel_ladders import Ladder, Scale

N_DRAWS = 2000  # of the processes that the runs leave possible; the same ones at every setting
ACROSS = {1: 9, 2: 7, 3: 5, 4: 3, 5: 3}  # points an axis inside a box; more axes: corners alone
BEYOND = 6  # axes from which even the corners are too many to answer at once


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """One set of fits to look at, under its name; `scales` say how wide each ladder is drawn."""

    name: str
    fits: tuple[Fit, ...]
    constraints: tuple[Constraint, ...]
    scales: tuple[Scale, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What is asked of new parts: the share that meets everything, and the confidence in it."""

    share: float
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SideLook:
    """What one set of fits says at one setting.

    `chance` and `assured` are in words; `problem` says why they are not known ("" if they are).
    """

    name: str
    ladders: tuple[Ladder, ...]
    chance: str = ""
    in_hundred: str = ""
    assured: str = ""
    verdict: str = ""
    problem: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxLook:
    """What one set of fits assures anywhere inside a box; `problem` says why it is not known."""

    name: str
    assured: str = ""
    sentence: str = ""
    verdict: str = ""
    problem: str = ""


def side_of(name: str, fits: Sequence[Fit], constraints: tuple[Constraint, ...] = ()) -> Side:
    """Return a set of fits made ready to be looked at.

    Raises
    ------
    OptionError
        If there is no fit.
    """
    if not fits:
        raise OptionError(
            f"There is no fit in {name!r}.",
            why="The explorer shows what fits foresee.",
            next_step="Give one fit or more, or a trial with results.",
        )
    scales = tuple(scale_of(one) for one in fits)
    return Side(name=name, fits=tuple(fits), constraints=constraints, scales=scales)


def look(side: Side, at: Mapping[str, float], promise: Promise, *, seed: int) -> SideLook:
    """Return what a set of fits foresees at settings (levels by their index)."""
    settings = _settings(side, [at])
    predicted = [fit.predict(settings, confidence=BANDS[0]) for fit in side.fits]
    outside = [
        fit.outcome.name
        for fit, one in zip(side.fits, predicted, strict=True)
        if not isinstance(one, Unavailable) and not one.inside[0]
    ]
    if outside:
        return SideLook(name=side.name, ladders=(), problem=_OUTSIDE)
    if not allowed(side.constraints, settings).all():
        return SideLook(name=side.name, ladders=(), problem=_forbidden(side, settings))
    drawn = _drawn(side, settings, promise, seed=seed)
    ladders = tuple(
        ladder_of(fit, settings, scale, widest=widest, share=_share_of(fit, drawn))
        for fit, scale, widest in zip(side.fits, side.scales, predicted, strict=True)
    )
    if isinstance(drawn, Unavailable):
        return SideLook(name=side.name, ladders=ladders, problem=drawn.reason)
    fails = sum(one.too_low + one.too_high for one in drawn.values())
    met = 1 - np.minimum(np.asarray(fails)[:, 0], 1)
    mean = float(met.mean(dtype=np.float64))
    assured = _quantile(met, promise)
    return SideLook(
        name=side.name,
        ladders=ladders,
        chance=chance(mean),
        in_hundred=in_hundred(mean),
        assured=chance(assured),
        verdict="meets" if assured >= promise.share else "fails",
    )


_OUTSIDE = (
    "These settings lie outside the region tried, and nothing is foretold there. Go back between "
    "the runs, or add runs that reach further."
)


def _forbidden(side: Side, settings: Settings) -> str:
    reasons = [one.reason for one in side.constraints if not one.allows(settings).all()]
    return f"These settings must not be run: {'; '.join(reasons)}."


def _judged(side: Side) -> tuple[Fit, ...]:
    return tuple(fit for fit in side.fits if is_judged(fit.outcome))


def _sample(side: Side, promise: Promise, *, seed: int) -> Sample:
    return Sample(
        fits=_judged(side),
        n_draws=N_DRAWS,
        seed=seed,
        model_form=MODEL_FORM,
        ask=Ask(share=promise.share, confidence=promise.confidence),
    )


def _drawn(
    side: Side, settings: Settings, promise: Promise, *, seed: int
) -> dict[str, ShareDraws] | Unavailable:
    """Return the draws of the share outside each limit, by outcome."""
    judged = _judged(side)
    if not judged:
        return Unavailable(reason="No outcome has a requirement, so there is no chance to state.")
    missing = lacking(judged, settings)
    if missing is not None:
        return missing
    shares = _sample(side, promise, seed=seed).by_side(settings)
    return {fit.outcome.name: one for fit, one in zip(judged, shares, strict=True)}


def _share_of(fit: Fit, drawn: dict[str, ShareDraws] | Unavailable) -> float | None:
    if isinstance(drawn, Unavailable) or fit.outcome.name not in drawn:
        return None
    return float(drawn[fit.outcome.name].share.mean(dtype=np.float64))


def _quantile(met: np.ndarray[tuple[int, ...], np.dtype[np.float32]], promise: Promise) -> float:
    """Return the share that all but the allowed draws reach."""
    budget = Ask(share=promise.share, confidence=promise.confidence).budget(met.size)
    return float(np.partition(met, budget)[budget])


def look_inside(
    side: Side,
    box: Mapping[str, tuple[float, float]],
    *,
    at: Mapping[str, float],
    promise: Promise,
    seed: int,
) -> BoxLook:
    """Return what is assured anywhere in a box of set values; factors without a side stand `at`.

    The lowest share of each draw is sought on a grid of the box, its corners included, so that
    it may be a little lower between; `decide.window` looks closer.
    """
    axes = [name for name, (low, high) in box.items() if low < high]
    if len(axes) > BEYOND:
        words = f"A window of {len(axes)} sides is too large to follow."
        return BoxLook(name=side.name, problem=words)
    lines = [np.linspace(*box[name], ACROSS.get(len(axes), 2)) for name in axes]
    points = [{**at, **dict(zip(axes, one, strict=True))} for one in product(*lines)]
    settings = _settings(side, points)
    problem = _not_inside(side, settings)
    if problem:
        return BoxLook(name=side.name, problem=problem)
    judged = judge(_sample(side, promise, seed=seed), settings)
    assured = _quantile(1 - np.minimum(judged.worst, 1), promise)
    holds = assured >= promise.share
    return BoxLook(
        name=side.name,
        assured=chance(assured),
        sentence="Assured wherever in this window the line is set, with "
        f"{percent(promise.confidence)} confidence: {chance(assured)} of new parts meet "
        f"everything (asked: {percent(promise.share)}).",
        verdict="meets" if holds else "fails",
    )


def _not_inside(side: Side, settings: Settings) -> str:
    """Return why a box cannot be judged; "" if it can."""
    judged = _judged(side)
    missing = lacking(judged, settings) if judged else None
    if not judged or missing is not None:
        return missing.reason if missing is not None else "No outcome has a requirement."
    if not allowed(side.constraints, settings).all():
        return _forbidden(side, settings).replace("These settings", "Some settings in this window")
    for fit in judged:
        seen = fit.predict(settings, confidence=0.95)
        if isinstance(seen, Unavailable) or not seen.inside.all():
            return "Part of this window lies outside the region tried; nothing is foretold there."
    return ""


def _settings(side: Side, points: Sequence[Mapping[str, float]]) -> Settings:
    factors = side.fits[0].settings.factors
    values = np.array([[_value(one, factor) for factor in factors] for one in points])
    return Settings(factors=factors, values=values)


def _value(at: Mapping[str, float], factor: Factor) -> float:
    if factor.name in at:
        return float(at[factor.name])
    return 0.0 if isinstance(factor, Categorical) else (factor.low + factor.high) / 2
