"""Setups of a table: which rows were made under one reset of the slow settings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.errors import OptionError
from workbench.run.receipt import ReceiptLine
from workbench.steps.adopt_nesting import by_first_appearance, codes_of, joint_codes, stretches

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from workbench.files.raw_table import RawTable
    from workbench.steps.adopt_facts import Facts
    from workbench.steps.adopt_layout import Layout
    from workbench.steps.adopt_nouns import FactorColumn


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Setups:
    """The setup number (n,) of each row from 1, and the factors that stay the same within all."""

    number: NDArray[np.int64]
    slow: frozenset[str]
    lines: tuple[ReceiptLine, ...]


def setups_of(table: RawTable, layout: Layout, columns: Sequence[FactorColumn]) -> Setups | None:
    """Return the setups that a column names, None if none does.

    A setup has one value of every slow setting, so a label that comes again at another value of
    one is another setup.

    Raises
    ------
    OptionError
        If labels come again and no setting is known to be slow.
    """
    facts = layout.setup
    if facts is None:
        return None
    labels = codes_of(facts.texts)
    n = len(labels)
    stated = [column for column in columns if column.factor.slow]
    slow = stated or [c for c in columns if _is_constant(c.values, labels)]
    if not slow and len(columns) > 0 and _is_nested(labels, columns):
        raise _two_readings(table, facts, columns)
    values = [np.unique(c.values, return_inverse=True)[1].reshape(-1) for c in slow]
    joint = joint_codes([labels, *values], n)
    number = by_first_appearance(joint) + 1
    names = frozenset(column.factor.name for column in slow)
    return Setups(
        number=number,
        slow=names,
        lines=(_line(table, facts, number, slow=names, is_stated=bool(stated)),),
    )


def _is_constant(values: NDArray[np.float64], labels: NDArray[np.int64]) -> bool:
    pairs = np.unique(np.column_stack([labels, values]), axis=0)
    return len(pairs) == int(labels.max()) + 1


def _is_nested(labels: NDArray[np.int64], columns: Sequence[FactorColumn]) -> bool:
    """Whether each label comes in several stretches, every one at settings of its own."""
    settings = [np.unique(c.values, return_inverse=True)[1].reshape(-1) for c in columns]
    cell = joint_codes([labels, *settings], len(labels))
    return int(stretches(labels).max()) > int(labels.max()) and int(stretches(cell).max()) == int(
        cell.max()
    )


def _two_readings(table: RawTable, facts: Facts, columns: Sequence[FactorColumn]) -> OptionError:
    names = " or ".join(f'--factor "{column.factor.name}:slow=yes"' for column in columns)
    return OptionError(
        f"The label {facts.texts[0]!r} comes again at other settings: the same setup, or another "
        "one of that name.",
        why="A setup is one reset of the slow settings, and only setups tell their effect.",
        next_step=f"Say which settings stay the same within a setup: {names}.",
        place=table.column_place(facts.heading),
    )


def _line(
    table: RawTable,
    facts: Facts,
    number: NDArray[np.int64],
    *,
    slow: frozenset[str],
    is_stated: bool,
) -> ReceiptLine:
    names = ", ".join(map(repr, sorted(slow)))
    setups = f"{int(number.max())} setups"
    if not slow:
        understood = f"{setups}; no setting stays the same within each"
    elif is_stated:
        understood = f"{setups}, one for each label at each value of {names}"
    else:
        understood = f"{setups}; {names} stays the same within each and is taken as slow to change"
    return ReceiptLine(
        where=table.column_place(facts.heading),
        met=f"{facts.n_distinct} labels of setups",
        understood=understood,
        sure=is_stated,
    )
