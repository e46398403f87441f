"""Plans in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, folded, notes
from workbench.define.terms import MEAN
from workbench.define.written import fixed, short, with_unit
from workbench.errors import Unavailable
from workbench.steps.planning import ALPHA

if TYPE_CHECKING:
    from workbench.plan.aliases import Alias
    from workbench.steps.planning import OutcomePower, PlanAnswer

UNKNOWN = "unknown"
MOST_WORDS = 100  # of a line of aliases: beyond it the rest is counted


def plan_text(answer: PlanAnswer) -> str:
    """Return what the plan is, what it cannot tell apart and what it would detect."""
    parts = [
        _heading(answer),
        _aliases(answer.aliases),
        _power(answer.power),
        notes(answer.plan.recipe.notes),
    ]
    return "\n\n".join(part for part in parts if part)


def _heading(answer: PlanAnswer) -> str:
    made = answer.plan
    parts = "" if made.parts_per_run == 1 else f" of {made.parts_per_run} parts"
    blocks = "" if made.n_blocks == 1 else f" in {made.n_blocks} blocks"
    lines = [f"{made.recipe.kind}: {len(made)} runs{parts}{blocks}, seed {made.recipe.seed}"]
    if made.recipe.resolution is not None:
        lines.append(f"resolution {made.recipe.resolution}")
    if made.recipe.generators:
        lines.append(f"held constant by the fraction: {'; '.join(made.recipe.generators)}")
    return "\n".join([*lines, folded(f"model: {made.terms}", hanging="  ")])


def _aliases(aliases: tuple[Alias, ...]) -> str:
    mixed = [one for one in aliases if one.with_terms]
    if not mixed:
        return "No term is mixed with a product of two or three factors or a square left out."
    table = Table(
        head=("the estimate of", "also holds (size in coded units, with its sign)"),
        rows=tuple(("mean" if one.term == MEAN else str(one.term), _held(one)) for one in mixed),
    )
    return f"What these runs cannot tell apart:\n{table}"


def _held(one: Alias) -> str:
    said = ""
    for place, (term, size) in enumerate(one.with_terms):
        piece = f"{'+' if size > 0 else '−'} {fixed(abs(size), 2)} {term}"
        if place and len(said) + len(piece) > MOST_WORDS:
            return f"{said} and {len(one.with_terms) - place} more"
        said = f"{said} {piece}".strip()
    return said


def _power(found: tuple[OutcomePower, ...]) -> str:
    known = [one for one in found if not isinstance(one.power, Unavailable)]
    said = [
        f"{one.outcome.name}: chance to detect unknown: {one.power.reason}"
        for one in found
        if isinstance(one.power, Unavailable)
    ]
    if not known:
        return "\n".join(said)
    said += [_assumed(one) for one in known]
    columns = [one.power for one in known if not isinstance(one.power, Unavailable)]
    table = Table(
        head=("chance to detect", *(one.outcome.name for one in known), "error df"),
        rows=tuple(
            (str(row[0].term), *(_chance(p.power) for p in row), short(row[0].error_df))
            for row in zip(*columns, strict=True)
        ),
        numbers=frozenset(range(1, len(known) + 2)),
    )
    return "\n".join([*said, "", str(table)])


def _assumed(one: OutcomePower) -> str:
    is_ratio = one.outcome.scale == "log"
    sizes = [
        f"×{short(size)}" if is_ratio else with_unit(short(size), one.outcome.unit)
        for size in (one.outcome.worth_finding, one.outcome.expected_sd)
        if size is not None
    ]
    return (
        f"{one.outcome.name}: an effect of {sizes[0]} when runs scatter by {sizes[1]}, "
        f"two-sided test at {short(ALPHA * 100)} %"
    )


def _chance(power: float | Unavailable) -> str:
    return UNKNOWN if isinstance(power, Unavailable) else f"{fixed(power * 100, 0)} %"
