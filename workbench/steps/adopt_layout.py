"""Which column of a table is what: named by the user, or proposed from what it holds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import OptionError
from workbench.steps.adopt_facts import facts_of
from workbench.steps.adopt_options import FactorWish
from workbench.steps.adopt_roles import (
    FEW_SETTINGS,
    ask_counts,
    ask_cut_off,
    leave_out_copies,
    leave_out_labels,
    shares_of_a_mixture,
    take_outcome,
)
from workbench.steps.adopt_sorting import Sorting, find_heading
from workbench.steps.adopt_structure import (
    STRUCTURE,
    ask_structure,
    take_run_numbers,
    take_structure,
)

if TYPE_CHECKING:
    from workbench.files.raw_table import RawTable
    from workbench.run.receipt import ReceiptLine
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_options import AdoptOptions, OutcomeWish

APART = 4.0  # settings that drifted lie this much closer together than the set points do


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """The columns of a table by what they are, with the lines that say so.

    `outcomes` and `factors` pair what is known of a column with what the user says of it.
    Headings are empty where there is no such column; `held` are columns of one value; `order` is
    a numbering of the rows that is left out but names runs within their block.
    """

    outcomes: tuple[tuple[Facts, OutcomeWish], ...]
    factors: tuple[tuple[Facts, FactorWish], ...]
    held: tuple[Facts, ...]
    blocks: tuple[Facts, ...]
    run: Facts | None
    setup: Facts | None
    part: Facts | None
    reading: Facts | None
    status: Facts | None
    reason: Facts | None
    notes: Facts | None
    order: Facts | None
    lines: tuple[ReceiptLine, ...]


def layout(table: RawTable, options: AdoptOptions) -> Layout:
    """Return what each column is.

    Raises
    ------
    OptionError
        If an option names a column that is not there or named already, or unnamed columns have
        two readings; the message names the options that decide.
    """
    facts = {heading: facts_of(table, heading) for heading in table.headings}
    sorting = Sorting(table=table, facts=facts, open=list(table.headings))
    _take_named(sorting, options)
    take_structure(sorting)
    take_run_numbers(sorting)
    leave_out_copies(sorting)
    shares = shares_of_a_mixture(sorting)
    take_outcome(sorting, shares)
    ask_counts(sorting)
    ask_cut_off(sorting)
    if not any(not one.heading for one in sorting.questions):
        leave_out_labels(sorting)
    ask_structure(sorting)
    sorting.refuse_questions()
    _take_factors(sorting, is_outcome_named=bool(options.outcomes))
    _take_components(sorting, shares)
    return _finished(sorting)


def _take_named(sorting: Sorting, options: AdoptOptions) -> None:
    for outcome in options.outcomes:
        heading = _named(sorting, outcome.name, "--outcome")
        sorting.outcomes.append((sorting.take(heading), outcome))
        if outcome.status:
            sorting.take(_named(sorting, outcome.status, "--outcome status="))
    for factor in options.factors:
        heading = _named(sorting, factor.name, "--factor")
        sorting.factors[sorting.take(heading).heading] = factor
    for name in options.blocks:
        sorting.blocks.append(sorting.take(_named(sorting, name, "--block")))
    for role in ("run", "setup", "part", "reading"):
        name = getattr(options, role)
        if name:
            sorting.one[role] = sorting.take(_named(sorting, name, f"--{role}"))
    for name in options.ignore:
        facts = sorting.take(_named(sorting, name, "--ignore"))
        sorting.say(facts, "named to be ignored", "left out", sure=True)


def _named(sorting: Sorting, name: str, option: str) -> str:
    heading = find_heading(sorting.table, name, option=option)
    if heading not in sorting.open:
        raise OptionError(
            f"The column {heading!r} is named by {sorting.named[heading]} already.",
            why="A column is one thing.",
            next_step="Name it once.",
            place=f"{option} {name}",
        )
    sorting.named[heading] = option
    return heading


def _take_factors(sorting: Sorting, *, is_outcome_named: bool) -> None:
    headings = list(sorting.table.headings)
    first_outcome = min(headings.index(facts.heading) for facts, _ in sorting.outcomes)
    before = [h for h in (*sorting.open, *sorting.factors) if headings.index(h) < first_outcome]
    for facts in sorting.left():
        if facts.n_distinct < 2:
            continue
        if before and headings.index(facts.heading) > first_outcome:
            sorting.ask(
                facts,
                "The column stands behind the outcome: it may be another outcome, a factor or a "
                "remark.",
                "--outcome", "--factor", "--ignore",
            )  # fmt: skip
        elif _may_be_outcome(sorting, facts, is_outcome_named=is_outcome_named):
            sorting.ask(
                facts,
                "The column holds as many different numbers as an outcome does, unlike the "
                "factors.",
                "--outcome", "--factor", '--factor "{}:role=observed"', "--ignore",
            )  # fmt: skip
        elif facts.number_share == 0 and 2 * facts.n_distinct > len(facts.texts) > FEW_SETTINGS:
            sorting.ask(
                facts,
                f"The column holds {facts.n_distinct} different texts in {len(facts.texts)} rows.",
                "--factor", "--block", "--ignore",
            )  # fmt: skip
    sorting.refuse_questions()
    for facts in sorting.left():
        sorting.take(facts.heading)
        if facts.n_distinct < 2:
            sorting.held.append(facts)
            sorting.say(facts, f"{_only(facts)!r} in every row", "held constant", sure=True)
        else:
            sorting.factors[facts.heading] = FactorWish(name=facts.name)


def _take_components(sorting: Sorting, shares: set[str]) -> None:
    """Make components of the shares of a mixture that nobody has called anything else."""
    for heading in shares & set(sorting.factors):
        wish = sorting.factors[heading]
        if not wish.kind:
            sorting.factors[heading] = replace(wish, kind="component")


def _only(facts: Facts) -> str:
    return next(text for text in facts.texts if text)


def _may_be_outcome(sorting: Sorting, facts: Facts, *, is_outcome_named: bool) -> bool:
    """Whether a column scatters as an outcome does while others hold a few settings.

    Where the outcome is named, settings that were read (clusters about a few set points) are no
    question any more, nor is scatter where no other setting is a number.
    """
    half = len(sorting.table) / 2
    if facts.numbers is None or facts.n_distinct <= half:
        return False
    known = [*sorting.left(), *(sorting.facts[heading] for heading in sorting.factors)]
    planned = [other for other in known if 1 < other.n_distinct <= half]
    if not is_outcome_named:
        return bool(planned)
    has_numbers = any(other.numbers is not None for other in planned)
    return has_numbers and not _is_clustered(facts)


def _is_clustered(facts: Facts) -> bool:
    """Whether the numbers lie about two to five set points with wide gaps between."""
    numbers = facts.numbers
    if numbers is None:
        return False
    values = np.unique(numbers[np.isfinite(numbers)])
    for n_points in range(2, min(FEW_SETTINGS, len(values) - 1) + 1):
        gaps = np.diff(values)
        cuts = np.sort(np.argsort(gaps)[-(n_points - 1) :])
        groups = np.split(values, cuts + 1)
        widest = max(float(group[-1] - group[0]) for group in groups)
        if widest * APART <= float(gaps[cuts].min()) and widest > 0:
            return True
    return False


def _finished(sorting: Sorting) -> Layout:
    if not sorting.factors:
        raise OptionError(
            "No column is a factor.",
            why="Without something that was varied there is nothing to learn.",
            next_step="Name one: --factor NAME.",
            place=sorting.table.source,
        )
    ordered = [h for h in sorting.table.headings if h in sorting.factors]
    return Layout(
        outcomes=tuple(sorting.outcomes),
        factors=tuple((sorting.facts[h], sorting.factors[h]) for h in ordered),
        held=tuple(sorting.held),
        blocks=tuple(sorting.blocks),
        order=sorting.order,
        lines=tuple(sorting.lines),
        **{role: sorting.one.get(role) for role in STRUCTURE if role != "block"},
    )


__all__ = ["Layout", "find_heading", "layout"]
