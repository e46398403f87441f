"""The fold-over that parts what is one number: which factors to reverse, and what is left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import PlanError
from workbench.plan.fold_over import fold_over
from workbench.plan.mixing import mixing

if TYPE_CHECKING:
    from workbench.define.settings import Settings
    from workbench.define.terms import Term, Terms
    from workbench.define.trial import Trial
    from workbench.plan.mixing import Mixing
    from workbench.plan.plans import Plan

SECOND = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Folded:
    """Mirrored runs (m, k), which factors change sides, the alias they part, and what is left."""

    runs: Settings
    reversed_words: str
    parted: str
    left: str


def folded(trial: Trial, plan: Plan, terms: Terms, *, seed: int) -> Folded | None:
    """Return the fold-over that parts the alias that matters most, None if there is none to part.

    An alias matters if a term of the model is in it, most if that is a main effect. All factors
    are reversed, or one (Box and Hunter 1961, Technometrics 3, 311-351): what parts it and
    leaves the fewest others.
    """
    before = mixing(plan)
    group = _group(before, terms)
    if group is None:
        return None
    names = [one.name for one in plan.settings.factors]
    found = [
        one
        for wanted in (None, *((name,) for name in names))
        if (one := _tried(trial, plan, group, wanted=wanted, seed=seed)) is not None
    ]
    return min(found, key=lambda one: one[0])[1] if found else None


def _group(mixed: Mixing, terms: Terms) -> tuple[Term, ...] | None:
    """Return the group of effects that are one number and matter most."""
    matter = [
        group
        for group in mixed.groups
        if any(one in terms.terms for one in group) and all(one.order <= SECOND for one in group)
    ]
    return min(matter, key=lambda group: min(one.order for one in group)) if matter else None


def _tried(
    trial: Trial,
    plan: Plan,
    group: tuple[Term, ...],
    *,
    wanted: tuple[str, ...] | None,
    seed: int,
) -> tuple[int, Folded] | None:
    try:
        longer = fold_over(trial, plan, seed=seed, factors=wanted)
    except PlanError:
        return None
    after = mixing(longer)
    if any(set(group) <= set(other) for other in after.groups):
        return None
    lines = after.lines
    left = f"these are one number still: {'; '.join(lines[:4])}." if lines else "none is left."
    answer = Folded(
        runs=longer.settings.rows(np.arange(len(plan), len(longer))),
        reversed_words="all factors" if wanted is None else wanted[0],
        parted=" from ".join(str(one) for one in group[:2]),
        left=left,
    )
    return len(lines), answer
