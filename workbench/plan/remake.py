"""A plan made again from its recipe."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import PlanError
from workbench.plan.composite import composite
from workbench.plan.two_level import fraction, full

if TYPE_CHECKING:
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan, Recipe


def remake(trial: Trial, recipe: Recipe) -> Plan:
    """Return the plan of a trial that a recipe describes; same trial, same plan.

    Raises
    ------
    PlanError
        If no plan of that kind is made here, or the trial no longer allows it.
    """
    options = dict(recipe.options)
    terms = options.get("terms")
    replicates, blocks = _whole(options, "replicates"), _whole(options, "blocks")
    centre_points = _whole(options, "centre points", usual=0)
    if recipe.kind == "full factorial":
        return full(
            trial,
            seed=recipe.seed,
            terms=terms,
            replicates=replicates,
            centre_points=centre_points,
            blocks=blocks,
        )
    if recipe.kind == "two-level fraction":
        return fraction(
            trial,
            seed=recipe.seed,
            runs=_maybe(options, "runs"),
            resolution=_maybe(options, "resolution"),
            terms=terms,
            replicates=replicates,
            centre_points=centre_points,
            blocks=blocks,
        )
    if recipe.kind == "central composite":
        return composite(
            trial,
            seed=recipe.seed,
            axial=_axial(options["axial"]),
            core_runs=_maybe(options, "core runs"),
            centre_points=centre_points,
            blocks=blocks,
            terms=terms,
            inscribed=options.get("inscribed") == "True",
        )
    raise PlanError(
        f"No plan of the kind {recipe.kind!r} is made here.",
        why="The recipe names another kind, perhaps of a later version.",
        next_step="Read the plan from its file instead of making it again.",
    )


def _whole(options: dict[str, str], name: str, *, usual: int = 1) -> int:
    return int(options.get(name, usual))


def _maybe(options: dict[str, str], name: str) -> int | None:
    return int(options[name]) if name in options else None


def _axial(text: str) -> str | float:
    try:
        return float(text)
    except ValueError:
        return text
