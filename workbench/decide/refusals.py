"""When no window is computed at all, and why."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from workbench.decide.region import LINES
from workbench.decide.sample import lacking
from workbench.decide.straightness import two_level_factors
from workbench.define.factors import Categorical, Role, components, is_numeric
from workbench.errors import DecisionError
from workbench.fit.pass_fail import PassFailFit
from workbench.fit.standing import standing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.decide.sample import Ask
    from workbench.decide.wishes import BoxWish
    from workbench.fit.faces import Fit


def check_asked(*, share: float, confidence: float, seed: int, n_draws: int) -> None:
    """Refuse a promise that cannot be.

    Raises
    ------
    DecisionError
        If share or confidence is not from 0.5 to below 1, or seed or n_draws make no draws.
    """
    for name, value in (("share", share), ("confidence", confidence)):
        if not 0.5 <= value < 1:
            raise DecisionError(
                f"The {name} asked for is {value:g}.",
                why="It is a part of one, such as 0.95; at 1 no trial could promise it.",
                next_step="Ask for a number from 0.5 to below 1.",
            )
    if seed < 0:
        raise DecisionError(
            f"The seed is {seed}.",
            why="Random streams start from a whole number, 0 or above.",
            next_step="Give another seed.",
        )
    if n_draws * (1 - confidence) < 10:
        raise DecisionError(
            f"{n_draws} draws for a confidence of {confidence:g}.",
            why="Fewer than ten draws would stand for all that is allowed to go wrong.",
            next_step=f"Use {int(np.ceil(10 / (1 - confidence)))} draws or more.",
        )


def check_alike(fits: Sequence[Fit]) -> None:
    """Refuse fits over different factors.

    Raises
    ------
    DecisionError
        If there is no fit, or the factors differ.
    """
    if not fits:
        raise DecisionError(
            "No fit is given.",
            why="A decision rests on the models of the outcomes.",
            next_step="Fit the outcomes that have a requirement first.",
        )
    for fit in fits[1:]:
        if fit.settings.factors != fits[0].settings.factors:
            raise DecisionError(
                f"{fit.outcome.name} was fitted over other factors than {fits[0].outcome.name}.",
                why="A box of settings is one box for all outcomes.",
                next_step="Fit all outcomes from one record.",
            )


def refusal(fits: Sequence[Fit], wish: BoxWish, *, straightness_accepted: str) -> str:
    """Return why no window is computed, in sentences; empty if there is no reason."""
    said = [*_of_factors(fits, wish), *(one for fit in fits for one in standing(fit).refusals)]
    if not straightness_accepted.strip():
        said += _of_straightness(fits, wish)
    unknown = None if said else lacking(fits, fits[0].settings)
    said += [f"{unknown.reason}."] if unknown is not None else []
    return " ".join(dict.fromkeys(said))


def cannot_carry(fits: Sequence[Fit], ask: Ask) -> str:
    """Return which outcomes have too few parts for the promise, in sentences; or nothing.

    Where a part only passes or fails, even parts without any failure show a share S with
    confidence C from ln(1 − C) / ln(S) on (Wilks 1941, Annals of Mathematical Statistics 12,
    91-96, with one end). In simulation windows below that number were mostly false.
    """
    wanted = math.ceil(math.log(1 - ask.confidence) / math.log(ask.share) - 1e-9)
    return " ".join(
        f"{fit.outcome.name} only passes or fails, and {tried:.4g} parts cannot carry a share of "
        f"{ask.share:g} with confidence {ask.confidence:g}: that takes {wanted} even where none "
        "fails. Ask for a lower share, make more parts, or measure what stands behind the verdict."
        for fit in fits
        if isinstance(fit, PassFailFit) and (tried := _parts_tried(fit)) < wanted
    )


def _parts_tried(fit: PassFailFit) -> float:
    # Counts are divided by the dispersion: what parts of runs that differ are worth.
    return float(fit.believed.counts.parts.sum())


def _of_factors(fits: Sequence[Fit], wish: BoxWish) -> list[str]:
    factors = fits[0].settings.factors
    shares = components(factors)
    if shares:
        named = ", ".join(one.name for one in shares)
        return [
            (
                f"{named} are shares of a mixture: no box of them can be set freely, since they "
                "add up. Ask for the chance at single blends instead."
            )
        ]
    set_by_line = [one.name for one in factors if is_numeric(one) and one.role is Role.CONTROL]
    axes = [name for name in set_by_line if wish.held_at(name) is None]
    said = []
    if not axes:
        said.append("There is no numeric factor that the line sets, so there is nothing to limit.")
    if len(axes) > max(LINES):
        said.append(
            f"{len(axes)} numeric factors are set ({', '.join(axes)}); a box is searched in up to "
            f"{max(LINES)}. Hold those that matter least at one value (--hold NAME=VALUE)."
        )
    said += [
        f"{one.name} is not set by the line and its levels are names; how often each comes in "
        "production is not known, so no share over them can be told."
        for one in factors
        if isinstance(one, Categorical) and one.role in (Role.NOISE, Role.OBSERVED)
    ]
    return said


def _of_straightness(fits: Sequence[Fit], wish: BoxWish) -> list[str]:
    names = sorted(
        {
            name
            for fit in fits
            for name in two_level_factors(fit.settings)
            # Held where runs were made nothing is claimed between the levels.
            if wish.held_at(name) not in fit.settings.column(name)
        }
    )
    if not names:
        return []
    return [
        (
            f"{', '.join(names)} was tried at two levels only, so nothing is known of what "
            "happens between them. Add centre points or axial runs, or accept in writing that "
            "lines are straight there."
        )
    ]
