"""Two-level plans: every corner of the region, or a chosen fraction of the corners."""

from __future__ import annotations

from dataclasses import replace
from math import prod
from typing import TYPE_CHECKING

from workbench.define.factors import Stepped
from workbench.define.terms import preset
from workbench.plan.asked import asked_model
from workbench.plan.centre import centre_draft, centre_notes
from workbench.plan.draft import Copies, made, new_recipe, refuse_size
from workbench.plan.fractions import (
    chosen_fraction,
    fraction_notes,
    generator_lines,
    refuse_curves,
    row_of,
)
from workbench.plan.general import all_levels, n_levels
from workbench.plan.levels import refuse_many_levels
from workbench.plan.pieces import Layout, Pieces, laid_out, masks

if TYPE_CHECKING:
    from workbench.define.factors import Factor
    from workbench.define.terms import Terms
    from workbench.define.trial import Trial
    from workbench.plan.asked import AskedModel
    from workbench.plan.plans import Plan


def full(
    trial: Trial,
    *,
    seed: int,
    terms: Terms | str | None = None,
    replicates: int = 1,
    centre_points: int = 0,
    centre_at: str = "every",
    blocks: int = 1,
) -> Plan:
    """Return the full factorial: every combination of low and high, of all steps and levels.

    `terms` is the model it must carry (else the trial's, else all products of two). Centre
    points set numeric factors to mid-range, as many as asked at each combination of category
    levels (`centre_at` "every") or at a balanced "subset" of them. Blocks are whole replicates,
    or 2, 4, 8 or 16 pieces of a two-level plan.

    Raises
    ------
    PlanError
        If the runs cannot carry the model, are forbidden, or cannot be put in such blocks.
    """
    copies = Copies(
        replicates=replicates, centre_points=centre_points, blocks=blocks, centre_at=centre_at
    )
    model = asked_model(trial, terms, custom="interactions")
    factors = trial.planned_factors
    sizes = [n_levels(factor) for factor in factors]
    refuse_size(prod(sizes) * replicates, "Ask for a fraction (wb.plan.fraction).")
    if max(sizes) > 2:
        pieces = Pieces(draft=all_levels(factors, copies), notes=())
    else:
        if centre_points == 0 or len(factors) > 1:
            # A single factor with its middle has three levels, which do show its own bend.
            refuse_curves(model.terms)
        columns = tuple(1 << i for i in range(len(factors)))
        layout = Layout(factors=factors, columns=columns, n_basic=len(factors), resolution=None)
        pieces = laid_out(layout, copies, model.terms)
        model = _without_lost(layout, pieces, model)
    whole = _with_centre(factors, copies, pieces)
    options = (("terms", model.text or None), *copies.options())
    recipe = new_recipe("full factorial", seed=seed, options=options, notes=whole.notes)
    return made(trial, whole.draft, model=model, recipe=recipe)


def fraction(  # noqa: PLR0913 -- one keyword for each thing that can be asked
    trial: Trial,
    *,
    seed: int,
    runs: int | None = None,
    resolution: int | None = None,
    terms: Terms | str | None = None,
    replicates: int = 1,
    centre_points: int = 0,
    centre_at: str = "every",
    blocks: int = 1,
) -> Plan:
    """Return the two-level fraction of least aberration with what is asked.

    `runs` counts one replicate without centre points; `resolution` is the least that will do
    (IV if neither is given). `terms` is the model it must carry: else the trial's, else main
    effects, from resolution V on with all products of two. Factors are given to columns so
    that the model can be told apart. Stepped factors take their lowest and highest step.
    Centre points and blocks are as in `full`.

    Raises
    ------
    PlanError
        If no fraction has the runs and the resolution and carries the model, or a factor has
        more than two levels.
    """
    copies = Copies(
        replicates=replicates, centre_points=centre_points, blocks=blocks, centre_at=centre_at
    )
    factors = trial.planned_factors
    refuse_many_levels(factors)
    model = asked_model(trial, terms, custom="first-order")
    layout = chosen_fraction(factors, model, runs=runs, resolution=resolution)
    if not model.is_asked and (layout.resolution or 0) >= 5:
        model = replace(model, terms=preset("interactions", factors))
    pieces = laid_out(layout, copies, model.terms)
    model = _without_lost(layout, pieces, model)
    whole = _with_centre(factors, copies, pieces)
    about = fraction_notes(layout, row_of(len(factors), layout.runs))
    asked = (("runs", runs), ("resolution", resolution), ("terms", model.text or None))
    recipe = new_recipe(
        "two-level fraction",
        seed=seed,
        options=(*asked, *copies.options()),
        notes=(*about, *_step_notes(factors), *whole.notes),
    )
    generators = generator_lines(layout)
    recipe = replace(recipe, resolution=layout.resolution, generators=generators)
    return made(trial, whole.draft, model=model, recipe=recipe)


def _with_centre(factors: tuple[Factor, ...], copies: Copies, pieces: Pieces) -> Pieces:
    draft = pieces.draft
    if copies.centre_points:
        draft = draft.and_then(centre_draft(factors, copies, n_others=len(draft.block)))
    return replace(pieces, draft=draft, notes=(*pieces.notes, *centre_notes(factors, copies)))


def _without_lost(layout: Layout, pieces: Pieces, model: AskedModel) -> AskedModel:
    """Leave what the blocks take out of a model that nobody asked for; what is asked, stays."""
    if model.is_asked or not pieces.lost:
        return model
    kept = tuple(
        one
        for one, name in zip(model.terms.terms, masks(layout, model.terms)[1:], strict=True)
        if name not in pieces.lost
    )
    return replace(model, terms=replace(model.terms, terms=kept))


def _step_notes(factors: tuple[Factor, ...]) -> tuple[str, ...]:
    between = [f.name for f in factors if isinstance(f, Stepped) and len(f.steps) > 2]
    if not between:
        return ()
    return (f"Only the lowest and the highest step are run of {', '.join(between)}.",)
