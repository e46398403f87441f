"""Central composite plans: a two-level core, axial runs and centre points.

Box and Wilson (1951), JRSS B 13, 1-45; rotatability and blocks after Box and Hunter (1957),
Annals of Mathematical Statistics 28, 195-241.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.factors import Categorical
from workbench.errors import PlanError
from workbench.numerics.words import resolution_of, signs
from workbench.plan.asked import asked_model
from workbench.plan.centre import category_corners, refuse_many_centres
from workbench.plan.composite_shape import composite_draft, shaped
from workbench.plan.draft import Copies, made, new_recipe, refuse_size
from workbench.plan.fraction_table import fractions_of
from workbench.plan.fractions import generator_lines, roman, row_of
from workbench.plan.pieces import Layout, masks
from workbench.plan.small_core import small_core

if TYPE_CHECKING:
    from workbench.define.factors import Factor, Numeric
    from workbench.define.terms import Terms
    from workbench.define.trial import Trial
    from workbench.plan.composite_shape import Shape
    from workbench.plan.draft import Draft
    from workbench.plan.plans import Plan

USUAL_CENTRE_POINTS = 4  # three degrees of freedom for pure error, two points a block in two
CLOSE = 1e-6  # of a coded distance; closer ones are the same


def composite(  # noqa: PLR0913 -- one keyword for each thing that can be asked
    trial: Trial,
    *,
    seed: int,
    axial: str | float = "rotatable",
    core_runs: int | None = None,
    centre_points: int = USUAL_CENTRE_POINTS,
    blocks: int = 1,
    terms: Terms | str | None = None,
    inscribed: bool = False,
) -> Plan:
    """Return a central composite plan of the numeric factors, for a second-order model.

    Low and high are the corners of the core; axial runs stand at `axial` half ranges from the
    middle: a number, "rotatable" (equal precision at equal distance), "face" (1), "uncorrelated
    squares" or "orthogonal blocks". With `inscribed` all is drawn in until the axial runs stand
    at low and high. The core has `core_runs`, else the fewest of resolution V; a smaller one
    will do where it still parts the products of the model. Two blocks are core and axial runs,
    each with centre points; 3, 5 or 9 cut the core as well, and the axial block comes last, so
    that the trial can stop before it. Categories repeat the whole at each combination of their
    levels.

    Raises
    ------
    PlanError
        If there is no numeric factor, a stepped one lacks a step, the runs cannot carry the
        model or are forbidden, or the blocks do not exist.
    """
    copies = Copies(centre_points=centre_points, blocks=blocks)
    model = asked_model(trial, terms, custom="second-order")
    numeric = _numeric(trial.planned_factors)
    numeric_terms = _within(model.terms, numeric)
    core = _core(numeric, core_runs, numeric_terms)
    refuse_many_centres(centre_points, core.runs + 2 * len(numeric))
    shape = shaped(core, copies, axial=axial, inscribed=inscribed)
    pieces = composite_draft(shape, numeric_terms)
    draft = _at_each_category(trial.planned_factors, pieces.draft)
    refuse_size(len(draft.block), "Ask for fewer core runs, or hold a category at one level.")
    options = (
        ("axial", repr(axial) if isinstance(axial, float) else axial),
        ("core runs", core_runs),
        ("inscribed", inscribed or None),
        ("terms", model.text or None),
    )
    recipe = new_recipe(
        "central composite",
        seed=seed,
        options=(*options, ("centre points", centre_points), ("blocks", blocks)),
        notes=(*_notes(shape, trial.planned_factors), *pieces.notes),
    )
    generators = generator_lines(core)
    return made(
        trial,
        draft,
        model=model,
        recipe=replace(recipe, resolution=core.resolution, generators=generators),
    )


def _numeric(factors: tuple[Factor, ...]) -> tuple[Numeric, ...]:
    numeric = tuple(f for f in factors if not isinstance(f, Categorical))
    if not numeric:
        raise PlanError(
            "A composite plan was asked for, but every factor is a category.",
            why="Axial and centre runs need a scale to stand on.",
            next_step="Ask for the full factorial (wb.plan.full).",
        )
    return numeric


def _core(factors: tuple[Numeric, ...], core_runs: int | None, terms: Terms) -> Layout:
    k = len(factors)
    if core_runs is None:
        rows = [row for row in fractions_of(k) if row.resolution >= 5]
        core_runs = min([row.runs for row in rows], default=2**k)
        refuse_size(core_runs, "Hold the numeric factors that matter least; 11 fit in 128 runs.")
    if core_runs == 2**k:
        basic = tuple(1 << i for i in range(k))
        return Layout(factors=factors, columns=basic, n_basic=k, resolution=None)
    plain = _layout(factors, row_of(k, core_runs).columns)
    small = small_core(k, core_runs)
    if small is None or _parts_products(plain, terms):
        return plain
    return _layout(factors, small)


def _layout(factors: tuple[Numeric, ...], columns: tuple[int, ...]) -> Layout:
    n_basic = sum(column.bit_count() == 1 for column in columns)
    return Layout(
        factors=factors,
        columns=columns,
        n_basic=n_basic,
        resolution=resolution_of(signs(columns, n_basic)),
    )


def _parts_products(core: Layout, terms: Terms) -> bool:
    """Return whether the core tells the products of the model apart from one another."""
    products = replace(terms, terms=tuple(t for t in terms.terms if len(t.factors) > 1))
    names = masks(core, products)
    return len(set(names)) == len(names)


def _within(terms: Terms, factors: tuple[Factor, ...]) -> Terms:
    names = {factor.name for factor in factors}
    return replace(terms, terms=tuple(t for t in terms.terms if names.issuperset(t.factors)))


def _at_each_category(factors: tuple[Factor, ...], draft: Draft) -> Draft:
    combinations = category_corners(factors)
    numeric = [j for j, f in enumerate(factors) if not isinstance(f, Categorical)]
    coded = np.repeat(combinations, len(draft.coded), axis=0)
    coded[:, numeric] = np.tile(draft.coded, (len(combinations), 1))
    return replace(
        draft,
        coded=coded,
        point=draft.point * len(combinations),
        block=np.tile(draft.block, len(combinations)),
        replicate=np.tile(draft.replicate, len(combinations)),
    )


def _notes(shape: Shape, factors: tuple[Factor, ...]) -> tuple[str, ...]:
    return (
        _core_note(shape),
        *_small_core_notes(shape),
        *_range_notes(shape),
        *_category_notes(factors),
        *_block_notes(shape),
    )


def _core_note(shape: Shape) -> str:
    which = (
        f"all {shape.core.runs} corners"
        if shape.core.resolution is None
        else f"a {shape.core.runs}-run fraction of resolution {roman(shape.core.resolution)}"
    )
    if abs(shape.distance - 1) < CLOSE:
        return f"Core: {which}; axial runs in the middle of its faces."
    times = f"{shape.distance:.4g} times"
    return f"Core: {which}; axial runs {times} as far from the middle as its faces."


def _small_core_notes(shape: Shape) -> tuple[str, ...]:
    if shape.core.resolution is None or shape.core.resolution >= 5:
        return ()
    return (
        (
            "A small core: effects that are mixed in it are parted by the axial runs alone, so "
            "they are known less well, and no distance makes the plan rotatable."
        ),
    )


def _range_notes(shape: Shape) -> tuple[str, ...]:
    reach = shape.distance * shape.scale
    if shape.scale < 1:
        return (
            (
                "Inscribed: axial runs stand at low and high, corners at "
                f"{shape.scale:.4g} of the way from the middle to them."
            ),
        )
    if reach <= 1 + CLOSE:
        return ()
    notes = ["Axial runs go beyond low and high; check that each can be set and is safe."]
    for factor in shape.core.factors:
        if isinstance(factor, Categorical):
            continue
        low, high = (float(v) for v in factor.natural(np.array([-reach, reach])))
        note = f"{factor.name}: from {low:.6g} to {high:.6g} {factor.unit}".rstrip()
        if factor.low >= 0 > low:
            note += ", below zero, which an amount cannot be"
        notes.append(f"{note} (low {factor.low:.6g}, high {factor.high:.6g}).")
    notes.append('To stay within low and high, ask for axial="face" or inscribed=True.')
    return tuple(notes)


def _category_notes(factors: tuple[Factor, ...]) -> tuple[str, ...]:
    categories = [f.name for f in factors if isinstance(f, Categorical)]
    if not categories:
        return ()
    times = len(category_corners(factors))
    return (
        (
            f"The composite is repeated at each of the {times} level combinations of "
            f"{', '.join(categories)}, centre points included."
        ),
    )


def _block_notes(shape: Shape) -> tuple[str, ...]:
    exact = shape.orthogonal_distance
    if exact is None:
        return ()
    if abs(exact - shape.distance) < CLOSE:
        return (
            (
                "Blocks are orthogonal to the second-order model: a step between them moves none "
                "of its effects."
            ),
        )
    return (
        (
            f"Blocks are not quite orthogonal to the squares at distance {shape.distance:.4g}; "
            f'{exact:.4g} (axial="orthogonal blocks") would make them so.'
        ),
    )
