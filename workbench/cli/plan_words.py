"""Plans in words and plain tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.cli.tables import Table, notes
from workbench.define.terms import MEAN
from workbench.errors import Unavailable
from workbench.show.numbers import fixed, short, with_unit
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
        *(_power(one) for one in answer.power),
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
    return "\n".join([*lines, f"model: {made.terms}"])


def _aliases(aliases: tuple[Alias, ...]) -> str:
    mixed = [one for one in aliases if one.with_terms]
    if not mixed:
        return "Every term of the model stands clear of products of two and three and of squares."
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


def _power(one: OutcomePower) -> str:
    name = one.outcome.name
    if isinstance(one.power, Unavailable):
        return f"{name}: chance to detect unknown: {one.power.reason}"
    table = Table(
        head=("term", "chance to detect", "error df"),
        rows=tuple((str(p.term), _chance(p.power), short(p.error_df)) for p in one.power),
        numbers=frozenset({1, 2}),
    )
    is_ratio = one.outcome.scale == "log"
    worth, sd = one.outcome.worth_finding, one.outcome.expected_sd
    sizes = [
        f"×{short(v)}" if is_ratio else with_unit(short(v), one.outcome.unit)
        for v in (worth, sd)
        if v is not None
    ]
    return (
        f"{name}: chance to detect an effect of {sizes[0]} when runs scatter by {sizes[1]} "
        f"(two-sided test at {short(ALPHA * 100)} %)\n{table}"
    )


def _chance(power: float | Unavailable) -> str:
    return UNKNOWN if isinstance(power, Unavailable) else f"{fixed(power * 100, 0)} %"
