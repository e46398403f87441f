"""Latin and Graeco-Latin squares: treatments balanced over two or three kinds of nuisance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import PlanError
from workbench.plan.asked import asked_model
from workbench.plan.draft import Draft, made, new_recipe
from workbench.plan.verify import verify_strength_two

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.define.factors import Factor
    from workbench.define.terms import Terms
    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan

# Second square of order four and eight from the field with that many elements (Bose 1938,
# Sankhya 3, 323-338); odd orders take i + j and i + 2j.
FIELD_STEPS = {4: 0b111, 8: 0b1011}


def latin_square(trial: Trial, *, seed: int, terms: Terms | str | None = None) -> Plan:
    """Return a Latin square of three categories of n levels, or a Graeco-Latin one of four.

    Rows, columns and treatments (and a second kind of treatment) in n² runs; which category is
    which does not matter. Rows, columns and letters of the standard square are permuted by the
    seed (Fisher and Yates 1934). Products cannot be told from main effects.

    Raises
    ------
    PlanError
        If the factors are not three or four categories with the same number of levels, or no
        Graeco-Latin square of the order is built (6 has none; 10 and more even ones are not).
    """
    factors = trial.planned_factors
    n = _order(factors)
    model = asked_model(trial, terms, custom="first-order")
    rng = np.random.Generator(np.random.PCG64([seed, n]))
    square = _permuted(_square(n, len(factors)), rng)
    verify_strength_two(square)
    draft = Draft(
        coded=square.astype(np.float64),
        point=("factorial",) * len(square),
        block=np.ones(len(square), dtype=np.int64),
        replicate=np.ones(len(square), dtype=np.int64),
    )
    kind = "Latin square" if len(factors) == 3 else "Graeco-Latin square"
    recipe = new_recipe(
        kind,
        seed=seed,
        options=(("terms", model.text or None),),
        notes=(
            (
                "Main effects of the categories are clear of one another; any product of two of "
                "them is mixed into the others."
            ),
        ),
    )
    return made(trial, draft, model=model, recipe=recipe)


def _order(factors: tuple[Factor, ...]) -> int:
    sizes = {len(f.levels) if isinstance(f, Categorical) else 0 for f in factors}
    if len(factors) not in (3, 4) or len(sizes) != 1 or sizes == {0}:
        raise PlanError(
            f"A Latin square was asked for with {len(factors)} factors.",
            why="It needs three categories with the same number of levels (four categories for "
            "a Graeco-Latin one).",
            next_step="Make rows, columns and treatments such categories, or ask for an "
            "orthogonal array (wb.plan.orthogonal).",
        )
    n = sizes.pop()
    if len(factors) == 4 and not (n % 2 == 1 or n in FIELD_STEPS):
        raise PlanError(
            f"A Graeco-Latin square of order {n} was asked for.",
            why="None is built for this order (for 2 and 6 none exists).",
            next_step=f"Use {n + 1} levels, or drop one category for a Latin square.",
        )
    if n < 3:
        raise PlanError(
            f"A Latin square of order {n} was asked for.",
            why="With two levels no run is left for error.",
            next_step="Ask for a two-level fraction (wb.plan.fraction).",
        )
    return n


def _square(n: int, k: int) -> NDArray[np.int64]:
    row, column = (axis.ravel() for axis in np.indices((n, n)))
    if k == 3:
        return np.column_stack([row, column, (row + column) % n])
    if n % 2:
        return np.column_stack([row, column, (row + column) % n, (row + 2 * column) % n])
    doubled = _twice(column, n)
    return np.column_stack([row, column, row ^ column, row ^ doubled])


def _twice(values: NDArray[np.int64], n: int) -> NDArray[np.int64]:
    """Return x times each element of the field of n = 2ᵐ elements, written as bits."""
    shifted = values << 1
    return np.where(shifted >= n, shifted ^ FIELD_STEPS[n], shifted)


def _permuted(square: NDArray[np.int64], rng: np.random.Generator) -> NDArray[np.int64]:
    n = int(square.max()) + 1
    return np.column_stack([rng.permutation(n)[column] for column in square.T])
