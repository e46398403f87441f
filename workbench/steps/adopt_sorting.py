"""Columns of a table being given their meaning, and the questions that this leaves open."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from workbench.errors import OptionError
from workbench.files.headings import heading as taken_apart
from workbench.files.headings import unguarded
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_options import FactorWish, OutcomeWish

WHY = "Nothing is fitted on a guess that has two readings."
SHOWN = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A column with two readings: its heading, what it may be, the options that decide."""

    heading: str
    what: str
    options: str


@dataclass(slots=True)
class Sorting:
    """Columns being given their meaning: `open` are those that nobody has spoken of yet.

    `named` holds the option that named a column, `order` a numbering of the rows that is left out
    but still names runs within their block.
    """

    table: RawTable
    facts: dict[str, Facts]
    open: list[str]
    named: dict[str, str] = field(default_factory=dict)
    outcomes: list[tuple[Facts, OutcomeWish]] = field(default_factory=list)
    factors: dict[str, FactorWish] = field(default_factory=dict)
    held: list[Facts] = field(default_factory=list)
    blocks: list[Facts] = field(default_factory=list)
    one: dict[str, Facts] = field(default_factory=dict)
    order: Facts | None = None
    lines: list[ReceiptLine] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)

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

    def ask(self, facts: Facts, what: str, *options: str, by_name: bool = True) -> None:
        """Add a question: what a column may be, and the options that decide it.

        Each option gets the name of the column behind it, unless it is complete as it stands.
        """
        written = named_by(facts, *options) if by_name else " or ".join(options)
        self.questions.append(Question(heading=facts.heading, what=what, options=written))

    def refuse_questions(self) -> None:
        """Raise the questions that are open, all of them at once.

        Raises
        ------
        OptionError
            If there is one.
        """
        if not self.questions:
            return
        if len(self.questions) == 1:
            (one,) = self.questions
            place = self.table.column_place(one.heading) if one.heading else self.table.source
            raise OptionError(
                one.what, why=WHY, next_step=f"Say which: {one.options}.", place=place
            )
        asked = [one for one in self.questions if one.heading]
        open_ = [one for one in self.questions if not one.heading]
        wrong = [f"{one.heading!r}: {one.what}" for one in asked] + [one.what for one in open_]
        steps = [one.options for one in self.questions]
        raise OptionError(
            " ".join(wrong),
            why=WHY,
            next_step=f"Say of each: {'; '.join(steps)}.",
            place=self.table.source,
        )


def named_by(facts: Facts, *options: str) -> str:
    """Return options with the name of a column behind each; a {} in one stands for the name."""
    written = [
        one.replace("{}", facts.name) if "{}" in one else f'{one} "{facts.name}"'
        for one in options
    ]
    return " or ".join(written)


def listed(names: list[str]) -> str:
    """Return names in quotes, the first few of them."""
    shown = ", ".join(repr(name) for name in names[:SHOWN])
    return shown + (f" and {len(names) - SHOWN} more" if len(names) > SHOWN else "")


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
        [h for h in called if h == name],
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
