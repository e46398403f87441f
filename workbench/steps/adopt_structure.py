"""Which columns tell the structure: runs, blocks, setups, parts, readings, or only the order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.run.record import Status
from workbench.steps.adopt_facts import (
    BLOCK_WORDS,
    NUMBERING_WORDS,
    PART_WORDS,
    POINT_WORDS,
    REMARK_WORDS,
    SERIAL_WORDS,
    TIME_WORDS,
    counts_up,
    holds_dates,
    is_whole_from_one,
)
from workbench.steps.adopt_nesting import nesting_of, numbered_within

if TYPE_CHECKING:
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_sorting import Sorting

STRUCTURE = ("run", "block", "setup", "part", "reading", "status", "reason", "notes")
RUN_STATUSES = {*Status, "ok", ""}


def take_structure(sorting: Sorting) -> None:
    """Take the columns that are headed by the words of the structure itself."""
    for role in STRUCTURE:
        for facts in [f for f in sorting.left() if f.name.casefold() in (role, f"{role}s")]:
            taken = role == "block" and sorting.blocks
            if role == "run" or role in sorting.one or taken:
                continue
            if role == "status" and not _is_run_status(facts):
                continue
            sorting.take(facts.heading)
            sorting.say(facts, f"the heading {facts.name!r}", f"the {role} of each row", sure=True)
            if role == "block":
                sorting.blocks.append(facts)
            else:
                sorting.one[role] = facts
    _take_remarks(sorting)


def _is_run_status(facts: Facts) -> bool:
    return {text.casefold() for text in facts.texts} <= RUN_STATUSES


def _take_remarks(sorting: Sorting) -> None:
    for facts in sorting.left():
        if (
            "notes" not in sorting.one
            and facts.words & set(REMARK_WORDS)
            and facts.number_share == 0
        ):
            sorting.one["notes"] = sorting.take(facts.heading)
            sorting.say(facts, f"the heading {facts.name!r}", "notes on each row", sure=True)


def take_run_numbers(sorting: Sorting) -> None:
    """Take the column that numbers the runs, and leave out those that only number rows."""
    if "run" in sorting.one:
        return
    for facts in sorting.left():
        if facts.name.casefold() != "run":
            continue
        if is_whole_from_one(facts):
            sorting.one["run"] = sorting.take(facts.heading)
            sorting.say(facts, "the heading 'run'", "run numbers", sure=True)
            return
        if _names_points(facts):
            continue
        sorting.ask(
            facts,
            "The column is headed like run numbers but does not hold whole numbers from 1 up.",
            "--run", "--factor", "--ignore",
        )  # fmt: skip
        return
    _leave_out_points(sorting)
    _propose_run_numbers(sorting, [f for f in sorting.left() if counts_up(f)])
    _leave_out_orders(sorting)
    _leave_out_serials(sorting)


def _names_points(facts: Facts) -> bool:
    return facts.number_share == 0 and {t.casefold() for t in facts.texts if t} <= set(POINT_WORDS)


def _leave_out_points(sorting: Sorting) -> None:
    for facts in sorting.left():
        if _names_points(facts) and facts.n_filled:
            sorting.take(facts.heading)
            sorting.say(facts, "kinds of points, such as centre and axial", "left out", sure=True)


def _propose_run_numbers(sorting: Sorting, counting: list[Facts]) -> None:
    named = [f for f in counting if f.words & set(NUMBERING_WORDS)]
    by_run = [f for f in named if f.words & {"run"}]
    chosen = by_run if len(by_run) == 1 else named
    in_order = [f for f in counting if f.texts[0] == "1" and _rises(f)]
    chosen = chosen or in_order
    if len(chosen) > 1 or (counting and not chosen):
        sorting.ask(
            (chosen or counting)[0],
            "The column counts from 1 to the number of rows: the order of the runs, or something "
            "else.",
            "--run", "--factor", "--ignore",
        )  # fmt: skip
        return
    if not chosen:
        return
    if sorting.one.keys() & {"part", "reading"}:
        sorting.take(chosen[0].heading)
        sorting.say(chosen[0], "numbers the rows, several of which may be one run", "left out")
    else:
        sorting.one["run"] = sorting.take(chosen[0].heading)
        sorting.say(chosen[0], f"each of 1 to {len(chosen[0].texts)} once", "run numbers")
    for facts in counting:
        if facts.heading in sorting.open and facts in named:
            sorting.take(facts.heading)
            sorting.say(facts, "another numbering of the rows", "left out")


def _rises(facts: Facts) -> bool:
    numbers = facts.numbers
    return numbers is not None and bool((numbers[1:] > numbers[:-1]).all())


def _leave_out_orders(sorting: Sorting) -> None:
    for facts in sorting.left():
        if facts.words & {"order", "run"} and is_whole_from_one(facts):
            sorting.order = sorting.take(facts.heading)
            sorting.say(
                facts,
                "an order that repeats",
                f'left out; runs are numbered by their row (--run "{facts.name}" numbers them by '
                "it, block by block)",
            )


def _leave_out_serials(sorting: Sorting) -> None:
    for facts in sorting.left():
        is_serial = facts.words & set(SERIAL_WORDS) and facts.n_distinct == len(facts.texts)
        if is_serial and len(facts.texts) > 1:
            sorting.take(facts.heading)
            sorting.say(
                facts,
                "another number or name in every row, headed like that of a part",
                f'left out; --outcome "{facts.name}" or --factor "{facts.name}" takes it in',
            )
        elif (holds_dates(facts) or facts.words & set(TIME_WORDS)) and facts.number_share == 0:
            _date(sorting, facts)


def _date(sorting: Sorting, facts: Facts) -> None:
    if facts.n_distinct == 1 or not holds_dates(facts):
        return
    if facts.n_distinct == facts.n_filled:
        sorting.take(facts.heading)
        sorting.say(facts, "another time in every row", "when each row was made; left out")
        return
    sorting.ask(
        facts,
        f"The column holds {facts.n_distinct} days or times: each may be a block, or only a date.",
        "--block", "--ignore",
    )  # fmt: skip


def ask_structure(sorting: Sorting) -> None:
    """Ask what a column is that is headed like a lot, a day or a part."""
    for facts in sorting.left():
        is_asked = any(one.heading == facts.heading for one in sorting.questions)
        if is_asked or facts.n_distinct < 2:
            continue
        if facts.words & {*BLOCK_WORDS, *PART_WORDS}:
            _ask_level(sorting, facts)


def _ask_level(sorting: Sorting, facts: Facts) -> None:
    within = numbered_within(facts, sorting)
    if within:
        sorting.ask(
            facts,
            f"The column numbers the rows within each {within!r}: a place or order, a block or a "
            "factor.",
            "--ignore", "--block", "--factor",
        )  # fmt: skip
        return
    found = nesting_of(facts, sorting)
    sorting.ask(facts, found.what, *found.options)
