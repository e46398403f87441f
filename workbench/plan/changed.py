"""A plan changed after it was made: its recipe says how, its notes what the runs now cost."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.plan.draft import cost_notes
from workbench.plan.verify import carried

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from workbench.plan.order import RunOrder
    from workbench.plan.plans import Plan


def in_order(
    plan: Plan, rows: NDArray[np.intp], *, order: RunOrder, standard: NDArray[np.int64]
) -> Plan:
    """Return the plan with these of its rows (n,), some perhaps twice, in the order's blocks."""
    return replace(
        plan,
        settings=plan.settings.rows(rows),
        block=order.block,
        setup=order.setup,
        point=tuple(plan.point[row] for row in rows),
        standard=standard,
    )


def changed(old: Plan, new: Plan, *, options: tuple[tuple[str, str], ...], note: str) -> Plan:
    """Return the new plan with a step added to the old recipe, and the price of the new runs.

    Raises
    ------
    PlanError
        If the new runs cannot carry the model.
    """
    before = cost_notes(old, error_df=carried(old.terms, old.settings, old.block))
    after = cost_notes(new, error_df=carried(new.terms, new.settings, new.block))
    kept = tuple(one for one in old.recipe.notes if one not in before)
    recipe = replace(
        new.recipe, options=(*old.recipe.options, *options), notes=(*kept, note, *after)
    )
    return replace(new, recipe=recipe)
