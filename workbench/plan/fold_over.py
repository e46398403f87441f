"""Fold-over: the mirror image of a plan, added in a block of its own to part what is mixed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.algebra import terms_text
from workbench.define.factors import Categorical
from workbench.define.settings import Settings
from workbench.define.terms import Term
from workbench.errors import PlanError
from workbench.numerics.words import resolution_of
from workbench.plan.changed import changed
from workbench.plan.draft import refuse_forbidden, settable
from workbench.plan.levels import refuse_many_levels
from workbench.plan.mixing import mixing
from workbench.plan.order import resets, run_order

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.trial import Trial
    from workbench.plan.mixing import Mixing
    from workbench.plan.plans import Plan

DIGITS = 9  # of coded settings
SHOWN = 6  # groups of effects named in a note


def fold_over(
    trial: Trial, plan: Plan, *, seed: int, factors: Iterable[str] | None = None
) -> Plan:
    """Return the plan with its mirror image added as a closing block, the first runs untouched.

    Low and high change places in all factors, which parts main effects from products of two, or
    in the named ones, which parts these and their products from all else (Box and Hunter 1961,
    Technometrics 3, 311-351). So a trial that has been run can be continued. Notes say what is
    mixed afterwards; the step between the blocks is in the model.

    Raises
    ------
    PlanError
        If a factor is unknown or has more than two levels, a mirrored run is forbidden or
        cannot be set, or all mirrored runs are in the plan already.
    """
    own = plan.settings.factors
    reversed_ = _reversed(own, factors)
    mirrored = settable(own, _mirrored(plan, reversed_))
    unchecked = refuse_forbidden(trial, mirrored)
    _refuse_same(plan, mirrored, reversed_)
    new = _with_block(plan, mirrored, seed=seed)
    options = (
        ("mirrored", terms_text([Term(powers=((one.name, 1),)) for one in reversed_])),
        ("mirror seed", str(seed)),
    )
    known = [one for one in unchecked if one not in plan.recipe.notes]
    note = " ".join([_about(own, reversed_), _consequences(mixing(new)), *known])
    answer = changed(plan, new, options=options, note=note)
    # The generators are those of the first block alone.
    recipe = replace(answer.recipe, resolution=_resolution(new), generators=())
    return replace(answer, recipe=recipe)


def _reversed(own: tuple[Factor, ...], wanted: Iterable[str] | None) -> tuple[Factor, ...]:
    names = [factor.name for factor in own]
    asked = names if wanted is None else list(wanted)
    for name in asked:
        if name not in names:
            raise PlanError(
                f"The plan has no factor {name!r} to reverse.",
                why="Low and high change places in factors that the plan varies.",
                next_step=f"Choose from: {', '.join(names)}.",
            )
    if not asked:
        raise PlanError(
            "No factor was named to reverse.",
            why="The added runs would be those that are there.",
            next_step="Name one or more factors, or leave them out to reverse all.",
        )
    chosen = tuple(factor for factor in own if factor.name in asked)
    refuse_many_levels(chosen)
    return chosen


def _mirrored(plan: Plan, chosen: tuple[Factor, ...]) -> NDArray[np.float64]:
    coded = plan.settings.coded()
    for j, factor in enumerate(plan.settings.factors):
        if factor in chosen:
            coded[:, j] = 1 - coded[:, j] if isinstance(factor, Categorical) else -coded[:, j]
    return coded


def _refuse_same(plan: Plan, mirrored: Settings, chosen: tuple[Factor, ...]) -> None:
    # Rounded, since low and high of an axial run may differ in the last bit; + 0.0 for −0.
    one, other = (
        np.unique(np.round(s.coded(), DIGITS) + 0.0, axis=0) for s in (plan.settings, mirrored)
    )
    if one.shape == other.shape and bool((one == other).all()):
        which = "all factors" if len(chosen) == len(plan.settings.factors) else "these factors"
        raise PlanError(
            f"With {which} reversed, the runs are those that are there already.",
            why="A plan that is its own mirror image has what a fold-over would part mixed still.",
            next_step="Reverse one factor whose products are in doubt (factors=), or ask for "
            "replicates.",
        )


def _with_block(plan: Plan, mirrored: Settings, *, seed: int) -> Plan:
    """Return the plan, its order kept, with the mirrored runs in random order in a new block."""
    n = len(plan)
    slow = [j for j, factor in enumerate(plan.settings.factors) if factor.slow]
    own_resets = resets(
        mirrored.values[:, slow], plan.setup if slow else np.zeros_like(plan.setup)
    )
    rng = np.random.Generator(np.random.PCG64(seed))
    order = run_order(np.ones(n, dtype=np.int64), own_resets, last_block=None, rng=rng)
    kinds = tuple("centre" if kind == "centre" else "mirror" for kind in plan.point)
    return replace(
        plan,
        settings=Settings(
            factors=plan.settings.factors,
            values=np.vstack([plan.settings.values, mirrored.values[order.rows]]),
        ),
        block=np.concatenate([plan.block, np.full(n, plan.block.max() + 1)]),
        setup=np.concatenate([plan.setup, plan.setup.max() + order.setup]),
        point=(*plan.point, *(kinds[row] for row in order.rows)),
        standard=np.concatenate([plan.standard, n + plan.standard[order.rows]]),
    )


def _resolution(plan: Plan) -> int | None:
    """Return the resolution of the corners of both blocks; None if it had none or has none now."""
    if plan.recipe.resolution is None:
        return None
    corners = np.array([kind in ("factorial", "mirror") for kind in plan.point])
    coded = np.round(plan.settings.coded()[corners], DIGITS)
    for j, factor in enumerate(plan.settings.factors):
        if isinstance(factor, Categorical):
            coded[:, j] = 2 * coded[:, j] - 1
    return resolution_of(coded)


def _about(own: tuple[Factor, ...], chosen: tuple[Factor, ...]) -> str:
    if len(chosen) == len(own):
        return "Mirror image of all factors added as the last block; of both together:"
    which = ", ".join(f.name for f in chosen)
    return f"Mirror image in {which} added as the last block; of both together:"


def _consequences(mixed: Mixing) -> str:
    share = mixed.largest_on_main_effects()
    if share >= 1 - 1e-9:
        clear = "some main effects are still one with products of two."
    elif share > 0:
        clear = f"products of two lean on main effects still, up to {share:.2f}."
    else:
        clear = "main effects are clear of products of two."
    if not mixed.lines:
        return clear
    more = f"; and {len(mixed.lines) - SHOWN} more" if len(mixed.lines) > SHOWN else ""
    return f"{clear} One number each: {'; '.join(mixed.lines[:SHOWN])}{more}."
