"""Which column of a table is what: named by the user, or proposed from what it holds."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from workbench.errors import OptionError
from workbench.files.headings import heading as taken_apart
from workbench.files.headings import unguarded
from workbench.run.receipt import ReceiptLine
from workbench.steps.adopt_facts import (
    BLOCK_WORDS,
    NUMBERING_WORDS,
    coded_form_of,
    counts_up,
    facts_of,
    is_whole_from_one,
    labels_combinations,
)
from workbench.steps.adopt_options import FactorWish, OutcomeWish

if TYPE_CHECKING:
    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_options import AdoptOptions

STRUCTURE = ("run", "block", "setup", "part", "reading", "status", "reason", "notes")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """The columns of a table by what they are, with the lines that say so.

    `outcomes` and `factors` pair what is known of a column with what the user says of it.
    Headings are empty where there is no such column; `held` are columns of one value.
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
    lines: tuple[ReceiptLine, ...]


@dataclass(slots=True)
class _Sorting:
    """Columns being given their meaning: `open` are those that nobody has spoken of yet."""

    table: RawTable
    facts: dict[str, Facts]
    open: list[str]
    named: dict[str, str] = field(default_factory=dict)
    outcomes: list[tuple[Facts, OutcomeWish]] = field(default_factory=list)
    factors: dict[str, FactorWish] = field(default_factory=dict)
    held: list[Facts] = field(default_factory=list)
    blocks: list[Facts] = field(default_factory=list)
    one: dict[str, Facts] = field(default_factory=dict)
    lines: list[ReceiptLine] = field(default_factory=list)

    def take(self, heading: str) -> Facts:
        """Take a column out of those that are open."""
        self.open.remove(heading)
        return self.facts[heading]

    def left(self) -> list[Facts]:
        """Return what is known of the columns that are open."""
        return [self.facts[heading] for heading in self.open]

    def say(self, facts: Facts, met: str, understood: str, *, sure: bool = False) -> None:
        """Add a line to the receipt."""
        where = self.table.column_place(facts.heading)
        self.lines.append(ReceiptLine(where=where, met=met, understood=understood, sure=sure))


def layout(table: RawTable, options: AdoptOptions) -> Layout:
    """Return what each column is.

    Raises
    ------
    OptionError
        If an option names a column that is not there or named already, or an unnamed column has
        two readings; the message names the option that decides.
    """
    facts = {heading: facts_of(table, heading) for heading in table.headings}
    sorting = _Sorting(table=table, facts=facts, open=list(table.headings))
    _take_named(sorting, options)
    _take_structure(sorting)
    _take_run_numbers(sorting)
    _leave_out_copies(sorting)
    _take_outcome(sorting)
    _leave_out_labels(sorting)
    _refuse_blocks(sorting)
    _take_factors(sorting)
    return _finished(sorting)


def _take_named(sorting: _Sorting, options: AdoptOptions) -> None:
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


def _named(sorting: _Sorting, name: str, option: str) -> str:
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


def find_heading(table: RawTable, name: str, *, option: str) -> str:
    """Return the heading that a name means: in full, without its unit, or in other letter case.

    Raises
    ------
    OptionError
        If no column, or more than one, has that name.
    """
    called = {h: (h, taken_apart(unguarded(h)).name) for h in table.headings}
    folded = {h: tuple(one.casefold() for one in names) for h, names in called.items()}
    for wanted in (
        [h for h, names in called.items() if name in names],
        [h for h, names in folded.items() if name.casefold() in names],
    ):
        if len(wanted) == 1:
            return wanted[0]
    raise OptionError(
        f"The table has no column {name!r}.",
        why=f"{option.partition(' ')[0]} says what a column of {table.source} is.",
        next_step=f"Use one of: {', '.join(table.headings)}.",
        place=f"{option} {name}",
    )


def _take_structure(sorting: _Sorting) -> None:
    for role in STRUCTURE:
        for facts in [f for f in sorting.left() if f.name.casefold() in (role, f"{role}s")]:
            taken = role == "block" and sorting.blocks
            if role == "run" or role in sorting.one or taken:
                continue
            sorting.take(facts.heading)
            sorting.say(facts, f"the heading {facts.name!r}", f"the {role} of each row", sure=True)
            if role == "block":
                sorting.blocks.append(facts)
            else:
                sorting.one[role] = facts


def _take_run_numbers(sorting: _Sorting) -> None:
    if "run" in sorting.one:
        _check_run_numbers(sorting, sorting.one["run"])
        return
    for facts in sorting.left():
        if facts.name.casefold() == "run":
            _check_run_numbers(sorting, facts)
            sorting.one["run"] = sorting.take(facts.heading)
            sorting.say(facts, "the heading 'run'", "run numbers", sure=True)
            return
    _propose_run_numbers(sorting, [f for f in sorting.left() if counts_up(f)])
    _leave_out_orders(sorting)


def _check_run_numbers(sorting: _Sorting, facts: Facts) -> None:
    if not is_whole_from_one(facts):
        raise _two_readings(
            sorting,
            facts,
            "is headed like run numbers but does not hold whole numbers from 1 up",
            options=_options(facts, "--factor", "--ignore"),
        )


def _propose_run_numbers(sorting: _Sorting, counting: list[Facts]) -> None:
    named = [f for f in counting if f.words & set(NUMBERING_WORDS)]
    by_run = [f for f in named if f.words & {"run"}]
    chosen = by_run if len(by_run) == 1 else named
    in_order = [f for f in counting if f.texts[0] == "1" and _rises(f)]
    chosen = chosen or in_order
    if len(chosen) > 1 or (counting and not chosen):
        facts = (chosen or counting)[0]
        raise _two_readings(
            sorting,
            facts,
            "counts from 1 to the number of rows: the order of the runs, or something else",
            options=_options(facts, "--factor", "--ignore"),
        )
    if not chosen:
        return
    sorting.one["run"] = sorting.take(chosen[0].heading)
    sorting.say(chosen[0], f"each of 1 to {len(chosen[0].texts)} once", "run numbers")
    for facts in counting:
        if facts.heading in sorting.open and facts in named:
            sorting.take(facts.heading)
            sorting.say(facts, "another numbering of the rows", "left out")


def _rises(facts: Facts) -> bool:
    numbers = facts.numbers
    return numbers is not None and bool((numbers[1:] > numbers[:-1]).all())


def _leave_out_orders(sorting: _Sorting) -> None:
    for facts in sorting.left():
        if facts.words & {"order", "run"} and is_whole_from_one(facts):
            sorting.take(facts.heading)
            sorting.say(facts, "an order that repeats", "left out; runs are numbered by their row")


def _leave_out_copies(sorting: _Sorting) -> None:
    numeric = [f for f in sorting.facts.values() if f.numbers is not None]
    for facts in sorting.left():
        original = coded_form_of(facts, numeric)
        if original is not None:
            sorting.take(facts.heading)
            blank = len(facts.texts) - facts.n_filled
            beside = f", {blank} of {len(facts.texts)} cells blank" if blank else ""
            sorting.say(
                facts,
                f"−1, 0 and 1 where {original.name!r} is low, middle and high{beside}",
                f"the coded form of {original.name!r}; left out",
            )
        elif 2 * facts.n_filled < len(facts.texts):
            sorting.take(facts.heading)
            sorting.say(
                facts,
                f"{facts.n_filled} of {len(facts.texts)} cells filled",
                f'left out; --factor "{facts.name}" or --outcome "{facts.name}" takes it in',
            )


def _take_outcome(sorting: _Sorting) -> None:
    if sorting.outcomes:
        return
    half = len(sorting.table) / 2
    many = [f for f in sorting.left() if f.number_share >= 0.5 and f.n_distinct > half]
    if len(many) != 1:
        found = ", ".join(repr(f.name) for f in many) or "no column"
        likely = many or sorting.left() or list(sorting.facts.values())
        raise OptionError(
            f"It cannot be told which column is the outcome: {found} could be.",
            why="Nothing is fitted on a guess that has two readings.",
            next_step=f'Name it: --outcome "{likely[-1].name}".',
            place=sorting.table.source,
        )
    facts = sorting.take(many[0].heading)
    sorting.outcomes.append((facts, OutcomeWish(name=facts.name)))
    sorting.say(
        facts,
        f"{facts.n_distinct} different numbers in {len(facts.texts)} rows, no other column so",
        "the outcome",
    )


def _leave_out_labels(sorting: _Sorting) -> None:
    n = len(sorting.table)
    for facts in sorting.left():
        others = [f for f in sorting.left() if f is not facts and f.n_distinct > 1]
        others += [sorting.facts[h] for h in sorting.factors]
        if labels_combinations(facts, others):
            sorting.take(facts.heading)
            named = ", ".join(repr(f.name) for f in others)
            sorting.say(
                facts,
                f"one label for each combination of {named}",
                f'left out; --factor "{facts.name}" takes it in',
            )
        elif facts.number_share == 0 and facts.n_distinct == n >= 4:
            sorting.take(facts.heading)
            sorting.say(facts, "a different text in every row", "a remark or label; left out")


def _refuse_blocks(sorting: _Sorting) -> None:
    for facts in sorting.left():
        if facts.words & set(BLOCK_WORDS) and facts.n_distinct > 1:
            raise _two_readings(
                sorting,
                facts,
                "may be a block (a lot, day or repeat) or a factor",
                options=_options(facts, "--block", "--factor", "--ignore"),
            )


def _take_factors(sorting: _Sorting) -> None:
    headings = list(sorting.table.headings)
    first_outcome = min(headings.index(facts.heading) for facts, _ in sorting.outcomes)
    before = [h for h in (*sorting.open, *sorting.factors) if headings.index(h) < first_outcome]
    _refuse_second_outcome(sorting)
    for facts in sorting.left():
        if before and headings.index(facts.heading) > first_outcome:
            raise _two_readings(
                sorting,
                facts,
                "stands behind the outcome: it may be another outcome, a factor or a remark",
                options=_options(facts, "--outcome", "--factor", "--ignore"),
            )
        sorting.take(facts.heading)
        if facts.n_distinct < 2:
            sorting.held.append(facts)
            sorting.say(facts, f"{facts.texts[0]!r} in every row", "held constant", sure=True)
            continue
        sorting.factors[facts.heading] = FactorWish(name=facts.name)


def _refuse_second_outcome(sorting: _Sorting) -> None:
    half = len(sorting.table) / 2
    known = [*sorting.left(), *(sorting.facts[heading] for heading in sorting.factors)]
    for facts in sorting.left():
        scattered = facts.numbers is not None and facts.n_distinct > half
        if scattered and any(other.n_distinct <= half for other in known):
            raise _two_readings(
                sorting,
                facts,
                "holds as many different numbers as an outcome does, unlike the factors",
                options=_options(facts, "--outcome", "--factor", "--ignore"),
            )


def _options(facts: Facts, *options: str) -> str:
    return " or ".join(f'{option} "{facts.name}"' for option in options)


def _two_readings(sorting: _Sorting, facts: Facts, what: str, *, options: str) -> OptionError:
    return OptionError(
        f"The column {what}.",
        why="Nothing is fitted on a guess that has two readings.",
        next_step=f"Say which: {options}.",
        place=sorting.table.column_place(facts.heading),
    )


def _finished(sorting: _Sorting) -> Layout:
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
        lines=tuple(sorting.lines),
        **{role: sorting.one.get(role) for role in STRUCTURE if role != "block"},
    )
