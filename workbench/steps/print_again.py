"""Published examples made again: their tables as records, and print beside what comes out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from workbench import define, files, show
from workbench.define.factors import Categorical, Continuous
from workbench.define.trial import Trial
from workbench.errors import FileError
from workbench.run.record import Readings, Record, Status

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from workbench.define.factors import Factor
    from workbench.define.outcomes import Outcome
    from workbench.show.escape import Html

MOST_DIGITS = 10  # beyond these the last digits of processors may differ


def record_of_table(
    table: pd.DataFrame,
    outcome: Outcome,
    *,
    factors: Sequence[str],
    block: str = "",
    setup: Sequence[str] = (),
) -> Record:
    """Return a table of one run a row as a record: numbers as ranges, words as categories.

    `block` and `setup` name the columns whose values stay together; readings of an outcome below
    a limit are not known to this.
    """
    n = len(table)
    chosen = tuple(_factor(name, table[name]) for name in factors)
    in_block = table.groupby(block, sort=False).ngroup() if block else np.zeros(n)
    in_setup = (
        table.groupby(list(setup), sort=False).ngroup() + 1 if setup else np.arange(1, n + 1)
    )
    labels = tuple(dict.fromkeys(table[block].astype(str))) if block else ("all",)
    rows = table[list(factors)].to_dict("records")
    named = [{str(name): value for name, value in row.items()} for row in rows]
    return Record(
        trial=Trial(title="published", question="", factors=chosen, outcomes=(outcome,)),
        plan=None,
        run=np.arange(1, n + 1),
        planned=None,
        as_run=define.settings(chosen, named),
        block=np.array(in_block, dtype=np.int64),
        block_labels=labels,
        setup=np.array(in_setup, dtype=np.int64),
        status=(Status.DONE,) * n,
        reason=("",) * n,
        readings={outcome.name: _readings(table[outcome.name])},
        blocked_by=block,
    )


def beside_print(check: str, group: str, found: Mapping[str, float]) -> Html:
    """Return a table of what a published check prints, what was found, and the digits agreed.

    Raises
    ------
    FileError
        If there is no such check, or it prints no such group or value.
    """
    printed = files.published(check)
    expected = printed.expected.get(group, {})
    missing = [name for name in found if name not in expected] or ([] if expected else [group])
    if missing:
        raise FileError(
            f"The check {check!r} prints no {missing[0]!r} under {group!r}.",
            why="What was found is held against the value of the same name.",
            next_step=f"Use one of: {', '.join(expected or printed.expected)}.",
        )
    rows = []
    for name, value in found.items():
        wanted = float(np.asarray(expected[name].value).item())
        within = abs(value - wanted) <= expected[name].tol
        said = "yes" if within else "no"
        rows.append((name, f"{wanted:.10g}", f"{value:.10g}", digits_agreed(wanted, value), said))
    return show.print_table(printed.title, printed.source, rows)


def digits_agreed(wanted: float, found: float) -> int:
    """Return how many significant digits agree, ten at most.

    Beside a zero it is the decimals that count.

    Examples
    --------
    >>> digits_agreed(21.625, 21.6251)
    5
    """
    if wanted == found:
        return MOST_DIGITS
    size = abs(wanted) or 1.0
    return max(0, min(MOST_DIGITS, math.floor(-math.log10(abs(found - wanted) / size))))


def _factor(name: str, column: pd.Series) -> Factor:
    if column.dtype.kind not in "iuf":
        return Categorical(name=name, levels=tuple(dict.fromkeys(column)))
    low, high = float(column.min()), float(column.max())
    return Continuous(name=name, low=low, high=high, unit="", setting_sd=0)


def _readings(column: pd.Series) -> Readings:
    n = len(column)
    return Readings(
        row=np.arange(n, dtype=np.int64),
        part=np.ones(n, dtype=np.int64),
        reading=np.ones(n, dtype=np.int64),
        value=column.to_numpy(dtype=np.float64),
        mark=np.zeros(n, dtype=np.int64),
    )
