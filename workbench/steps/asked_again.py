"""The heavy questions of a report: asked otherwise, ranked, of the scatter, of the shape."""

from __future__ import annotations

from itertools import islice, product
from typing import TYPE_CHECKING

from workbench import fit
from workbench.define.factors import Categorical, components
from workbench.define.outcomes import Measured, PassFail
from workbench.errors import Unavailable, WorkbenchError
from workbench.fit.measured import MeasuredFit
from workbench.fit.run_means import Wanted
from workbench.fit.scatter import scatter_effects
from workbench.show.story import AskedAgain, Several, Shape

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from workbench.fit.faces import Fit
    from workbench.fit.scatter import ScatterFit
    from workbench.fit.selection import Selection
    from workbench.run.record import Record

MOST_LEVELS = 4  # combinations of categories whose surface is looked at
SECOND = 2


def asked_again(record: Record, found: Fit, *, seed: int) -> AskedAgain:
    """Return what becomes of one outcome's conclusion, and what changes its scatter.

    `seed` starts the made-up trials of pure scatter that the ranking of terms is held against.
    """
    return AskedAgain(
        outcome=found.outcome.name,
        sensitivity=fit.sensitivity(record, found),
        selection=_selection(found, seed=seed),
        spread=spread_of(record, found),
    )


def spread_of(record: Record, found: Fit) -> ScatterFit | Unavailable:
    """Return which settings change the scatter of a measured outcome, or why it is not known."""
    outcome = found.outcome
    if not isinstance(outcome, Measured):
        return Unavailable(reason="only measured outcomes have a scatter of their own")
    if components(record.trial.factors):
        return Unavailable(reason="the scatter of blends is not modelled")
    named = tuple(dict.fromkeys(one for term in found.terms.terms for one in term.factors))
    wanted = Wanted(factors=named, uses_as_run=found.uses_as_run)
    try:
        return scatter_effects(record, outcome, found.terms, wanted=wanted)
    except WorkbenchError as met:
        return Unavailable(reason=met.wrong)


def shapes_of(found: Fit) -> tuple[Shape, ...]:
    """Return where a second-order fit is level, for a few combinations of categories."""
    if not isinstance(found, MeasuredFit) or not _is_bent(found):
        return ()
    shapes = []
    for levels in islice(_levels(found), MOST_LEVELS):
        point = fit.level_point(found, levels=dict(levels))
        if not isinstance(point, Unavailable):
            shapes.append(Shape(outcome=found.outcome.name, levels=levels, point=point))
    return tuple(shapes)


def several_of(fits: Sequence[Fit]) -> Several | None:
    """Return what settings do to several outcomes; None where fewer than two were fitted."""
    if len(fits) < SECOND:
        return None
    # Grades and counts have no residuals that go up and down with those of a reading.
    paired = [one for one in fits if isinstance(one.outcome, Measured | PassFail)]
    return Several(trade_offs=fit.trade_offs(fits), shared=fit.shared_scatter(paired))


def _selection(found: Fit, *, seed: int) -> Selection | Unavailable | None:
    return fit.selection(found, seed=seed) if isinstance(found, MeasuredFit) else None


def _is_bent(found: MeasuredFit) -> bool:
    """Return whether a square of a factor stands in the model."""
    return any(power > 1 for term in found.terms.terms for _, power in term.powers)


def _levels(found: MeasuredFit) -> Iterator[tuple[tuple[str, str], ...]]:
    named = {one for term in found.terms.terms for one in term.factors}
    kinds = [f for f in found.settings.factors if isinstance(f, Categorical)]
    # A category outside the model changes nothing, but the surface asks for a level of it.
    choices = [
        [(f.name, level) for level in (f.levels if f.name in named else f.levels[:1])]
        for f in kinds
    ]
    return product(*choices)
