"""Records made in memory, so that fits are tested without files."""

from collections.abc import Callable, Iterable, Mapping

import numpy as np
import pandas as pd
import pytest

from workbench.define.factors import Categorical, Continuous, Factor
from workbench.define.outcomes import Measured, Outcome
from workbench.define.settings import Settings, settings
from workbench.define.trial import Trial
from workbench.run.record import Readings, Record, Status

RecordMaker = Callable[..., Record]


def make_readings(values: Iterable[float], rows: Iterable[int] | None = None) -> Readings:
    value = np.array(list(values), dtype=float)
    row = np.arange(value.size) if rows is None else np.array(list(rows), dtype=np.int64)
    part = np.array([1 + int((row[:i] == one).sum()) for i, one in enumerate(row)], dtype=np.int64)
    return Readings(
        row=row.astype(np.int64),
        part=part,
        reading=np.ones(value.size, dtype=np.int64),
        value=value,
        mark=np.zeros(value.size, dtype=np.int64),
    )


def factor_of(name: str, column: pd.Series) -> Factor:
    if column.dtype.kind in "iuf":
        return Continuous(
            name=name, low=float(column.min()), high=float(column.max()), unit="", setting_sd=0
        )
    return Categorical(name=name, levels=tuple(dict.fromkeys(column)))


def make_record(
    table: pd.DataFrame,
    *,
    factors: Iterable[Factor | str],
    outcome: Outcome | str,
    values: Iterable[float] | None = None,
    rows: Iterable[int] | None = None,
    model: str = "",
    blocks: str | None = None,
    planned: Settings | None = None,
    status: Mapping[int, tuple[Status, str]] | None = None,
) -> Record:
    chosen = tuple(f if not isinstance(f, str) else factor_of(f, table[f]) for f in factors)
    wanted = Measured(name=outcome, unit="") if isinstance(outcome, str) else outcome
    n = len(table)
    stood = status or {}
    labels = ("one",) if blocks is None else tuple(dict.fromkeys(table[blocks].astype(str)))
    block = [0] * n if blocks is None else [labels.index(str(b)) for b in table[blocks]]
    seen = table[wanted.name] if values is None else values
    named = table[[f.name for f in chosen]].to_dict("records")
    return Record(
        trial=Trial(title="t", question="q", factors=chosen, outcomes=(wanted,), model=model),
        plan=None,
        run=np.arange(1, n + 1),
        planned=planned,
        as_run=settings(chosen, named),
        block=np.array(block, dtype=np.int64),
        block_labels=labels,
        setup=np.arange(1, n + 1),
        status=tuple(stood.get(i + 1, (Status.DONE, ""))[0] for i in range(n)),
        reason=tuple(stood.get(i + 1, (Status.DONE, ""))[1] for i in range(n)),
        readings={wanted.name: make_readings(seen, rows)},
        blocked_by=blocks or "",
    )


@pytest.fixture
def record_of() -> RecordMaker:
    """Make a record from a table: factor names (or factors), an outcome, a model."""
    return make_record
