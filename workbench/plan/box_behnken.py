"""Box–Behnken plans: three levels, no run at a corner (Box and Behnken 1960)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import PlanError
from workbench.numerics.edge_arrays import edge_array, has_edge_array
from workbench.plan.asked import asked_model
from workbench.plan.centre import refuse_many_centres
from workbench.plan.draft import Copies, Draft, made, new_recipe

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.terms import Terms
    from workbench.define.trial import Trial
    from workbench.numerics.edge_arrays import EdgeArray
    from workbench.plan.plans import Plan

FACTORS = (3, 4, 5, 6, 7, 9, 10, 11, 12, 16)
# Centre runs printed with the structures of 1960, a multiple of the number of blocks.
CENTRE_POINTS = {3: 3, 4: 3, 5: 6, 6: 6, 7: 6, 9: 10, 10: 10, 11: 12, 12: 12, 16: 12}


def box_behnken(
    trial: Trial,
    *,
    seed: int,
    centre_points: int | None = None,
    blocks: int = 1,
    terms: Terms | str | None = None,
) -> Plan:
    """Return a Box–Behnken plan for a second-order model in 3 to 7, 9 to 12 or 16 factors.

    No run stands at a corner, which suits corners that cannot be made. Blocks are the finest
    split that is orthogonal to the model; centre runs (3 to 12 by custom) are spread over them.

    Raises
    ------
    PlanError
        If there is no structure for this many factors, a factor is a category, or the blocks do
        not exist.
    """
    factors = trial.planned_factors
    _refuse_categories(factors)
    array = _array(len(factors))
    count = CENTRE_POINTS[len(factors)] if centre_points is None else centre_points
    copies = Copies(centre_points=count, blocks=blocks)
    refuse_many_centres(count, len(array.runs))
    model = asked_model(trial, terms, custom="second-order")
    draft = _draft(array, copies)
    recipe = new_recipe(
        "Box–Behnken",
        seed=seed,
        options=(
            ("terms", model.text or None),
            ("centre points", centre_points),
            ("blocks", blocks),
        ),
        notes=_notes(copies),
    )
    return made(trial, draft, model=model, recipe=recipe)


def _array(n_factors: int) -> EdgeArray:
    if has_edge_array(n_factors):
        return edge_array(n_factors)
    nearest = min(FACTORS, key=lambda k: abs(k - n_factors))
    raise PlanError(
        f"There is no Box–Behnken structure for {n_factors} factors.",
        why=f"The paper of 1960 gives them for {', '.join(map(str, FACTORS))} factors.",
        next_step=f"Vary {nearest} factors, or ask for a composite plan (wb.plan.composite).",
    )


def _draft(array: EdgeArray, copies: Copies) -> Draft:
    n_blocks = int(array.block.max()) + 1
    if copies.blocks not in (1, n_blocks):
        offered = "one block only" if n_blocks == 1 else f"one block or {n_blocks}"
        raise PlanError(
            f"{copies.blocks} blocks were asked for.",
            why=f"The structure of {array.runs.shape[1]} factors falls into {offered} without "
            "mixing blocks with the model.",
            next_step=f"Ask for {offered}.",
        )
    n = len(array.runs)
    block = array.block + 1 if copies.blocks > 1 else np.ones(n, dtype=np.int64)
    centre = np.arange(copies.centre_points, dtype=np.int64)
    return Draft(
        coded=np.vstack(
            [array.runs, np.zeros((centre.size, array.runs.shape[1]))],
        ).astype(np.float64),
        point=("edge",) * n + ("centre",) * centre.size,
        block=np.concatenate([block, centre % copies.blocks + 1]),
        replicate=np.concatenate([np.ones(n, dtype=np.int64), np.zeros_like(centre)]),
    )


def _notes(copies: Copies) -> tuple[str, ...]:
    notes = [
        "No run stands at a corner of the region: at the corners a prediction rests on the model.",
    ]
    if copies.centre_points == 0:
        notes.append("No centre run: the middle is not tried, and squares may not be told apart.")
    if copies.blocks > 1 and copies.centre_points % copies.blocks:
        notes.append("Centre runs do not divide evenly over the blocks: blocks lean on squares.")
    elif copies.blocks > 1:
        notes.append("Blocks are orthogonal to the second-order model.")
    return tuple(notes)


def _refuse_categories(factors: tuple[Factor, ...]) -> None:
    for factor in factors:
        if isinstance(factor, Categorical):
            raise PlanError(
                f"{factor.name!r} is a category.",
                why="A Box–Behnken plan needs a middle of every factor.",
                next_step="Ask for a composite plan (wb.plan.composite), which is repeated at "
                "each combination of levels, or hold the category.",
            )
