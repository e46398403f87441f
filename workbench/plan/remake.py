"""A plan made again from its recipe."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.define.algebra import parse_terms
from workbench.errors import PlanError
from workbench.plan.added import ADDED
from workbench.plan.box_behnken import box_behnken
from workbench.plan.composite import composite
from workbench.plan.definitive import definitive
from workbench.plan.fold_over import fold_over
from workbench.plan.incomplete import incomplete_blocks
from workbench.plan.orthogonal import orthogonal
from workbench.plan.repeats import with_repeats
from workbench.plan.robustness import against_drift
from workbench.plan.screening import screening
from workbench.plan.squares import latin_square
from workbench.plan.two_level import fraction, full

if TYPE_CHECKING:
    from collections.abc import Callable

    from workbench.define.trial import Trial
    from workbench.plan.plans import Plan, Recipe


def remake(trial: Trial, recipe: Recipe) -> Plan:
    """Return the plan of a trial that a recipe describes; same trial, same plan.

    Changes made afterwards (repeats, order, fold-over) are made again in their order.

    Raises
    ------
    PlanError
        If no plan of that kind is made here, or the trial no longer allows it.
    """
    maker = MAKERS.get(recipe.kind)
    if maker is None:
        raise PlanError(
            f"No plan of the kind {recipe.kind!r} is made here.",
            why="The recipe names another kind, perhaps of a later version.",
            next_step="Read the plan from its file instead of making it again.",
        )
    plan = maker(trial, _Asked(recipe))
    # Each change is two options of the recipe, what and its seed, in the order they were made.
    names = [name for name, _ in recipe.options]
    for place, (name, value) in enumerate(recipe.options):
        if name in CHANGES:
            seed = int(recipe.options[place + 1][1]) if place + 1 < len(names) else 0
            plan = CHANGES[name](trial, plan, (value, seed))
    return plan


class _Asked:
    """The options of a recipe by name, as the values they were before they became text."""

    def __init__(self, recipe: Recipe) -> None:
        self.seed = recipe.seed
        self._texts = dict(recipe.options)

    def text(self, name: str) -> str | None:
        return self._texts.get(name)

    def whole(self, name: str, usual: int) -> int:
        return int(self._texts.get(name, usual))

    def maybe(self, name: str) -> int | None:
        return int(self._texts[name]) if name in self._texts else None

    @property
    def axial(self) -> str | float:
        text = self._texts["axial"]
        try:
            return float(text)
        except ValueError:
            return text


def _full(trial: Trial, asked: _Asked) -> Plan:
    return full(
        trial,
        seed=asked.seed,
        terms=asked.text("terms"),
        replicates=asked.whole("replicates", 1),
        centre_points=asked.whole("centre points", 0),
        centre_at=asked.text("centre at") or "every",
        blocks=asked.whole("blocks", 1),
    )


def _fraction(trial: Trial, asked: _Asked) -> Plan:
    return fraction(
        trial,
        seed=asked.seed,
        runs=asked.maybe("runs"),
        resolution=asked.maybe("resolution"),
        terms=asked.text("terms"),
        replicates=asked.whole("replicates", 1),
        centre_points=asked.whole("centre points", 0),
        centre_at=asked.text("centre at") or "every",
        blocks=asked.whole("blocks", 1),
    )


def _composite(trial: Trial, asked: _Asked) -> Plan:
    return composite(
        trial,
        seed=asked.seed,
        axial=asked.axial,
        core_runs=asked.maybe("core runs"),
        centre_points=asked.whole("centre points", 0),
        blocks=asked.whole("blocks", 1),
        terms=asked.text("terms"),
        inscribed=asked.text("inscribed") == "True",
    )


def _screening(trial: Trial, asked: _Asked) -> Plan:
    return screening(
        trial,
        seed=asked.seed,
        runs=asked.maybe("runs"),
        terms=asked.text("terms"),
        replicates=asked.whole("replicates", 1),
        centre_points=asked.whole("centre points", 0),
        centre_at=asked.text("centre at") or "every",
    )


def _definitive(trial: Trial, asked: _Asked) -> Plan:
    return definitive(
        trial,
        seed=asked.seed,
        extra_pairs=asked.whole("extra pairs", 0),
        terms=asked.text("terms"),
    )


def _box_behnken(trial: Trial, asked: _Asked) -> Plan:
    return box_behnken(
        trial,
        seed=asked.seed,
        centre_points=asked.maybe("centre points"),
        blocks=asked.whole("blocks", 1),
        terms=asked.text("terms"),
    )


def _orthogonal(trial: Trial, asked: _Asked) -> Plan:
    return orthogonal(
        trial,
        seed=asked.seed,
        runs=asked.maybe("runs"),
        terms=asked.text("terms"),
        replicates=asked.whole("replicates", 1),
    )


def _latin_square(trial: Trial, asked: _Asked) -> Plan:
    return latin_square(trial, seed=asked.seed, terms=asked.text("terms"))


def _incomplete_blocks(trial: Trial, asked: _Asked) -> Plan:
    return incomplete_blocks(
        trial,
        seed=asked.seed,
        block_size=asked.whole("block size", 2),
        terms=asked.text("terms"),
    )


MAKERS: dict[str, Callable[[Trial, _Asked], Plan]] = {
    "full factorial": _full,
    "two-level fraction": _fraction,
    "central composite": _composite,
    "two-level screening": _screening,
    "definitive screening": _definitive,
    "Box–Behnken": _box_behnken,
    "orthogonal array": _orthogonal,
    "Latin square": _latin_square,
    "Graeco-Latin square": _latin_square,
    "incomplete blocks": _incomplete_blocks,
}


def _repeated(_: Trial, plan: Plan, change: tuple[str, int]) -> Plan:
    return with_repeats(plan, n_repeats=int(change[0]), seed=change[1])


def _reordered(_: Trial, plan: Plan, change: tuple[str, int]) -> Plan:
    return against_drift(plan, n_orders=int(change[0]), seed=change[1])


def _folded(trial: Trial, plan: Plan, change: tuple[str, int]) -> Plan:
    named = parse_terms(change[0], trial.factors)
    factors = [name for one in named.terms for name in one.factors]
    return fold_over(trial, plan, seed=change[1], factors=factors)


def _added(_: Trial, plan: Plan, change: tuple[str, int]) -> Plan:
    raise PlanError(
        f"Runs were added to these {len(plan)} after looking at results ({change[0]}).",
        why="Their settings came from the results and do not stand in the recipe.",
        next_step="Read the plan from its file instead of making it again.",
    )


CHANGES: dict[str, Callable[[Trial, Plan, tuple[str, int]], Plan]] = {
    "repeated runs": _repeated,
    "orders tried": _reordered,
    "mirrored": _folded,
    ADDED: _added,
}
