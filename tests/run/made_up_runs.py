"""Small made-up records for the rules on what happened; nothing in them was ever measured."""

import numpy as np

from workbench.define.algebra import parse_terms
from workbench.define.factors import Categorical, Continuous
from workbench.define.outcomes import Measured
from workbench.define.settings import Settings
from workbench.define.trial import Trial
from workbench.plan.plans import Plan, Recipe
from workbench.run import Readings, Record, Status

DWELL = Continuous(name="dwell", low=1, high=3, unit="s", setting_sd=0.1)
HUMIDITY = Continuous(name="humidity", low=40, high=60, unit="%RH", setting_sd=1.0, slow=True)
TIP = Categorical(name="tip", levels=("round", "chisel"))
PULL = Measured(name="pull", unit="N")


def trial(*, factors=(DWELL, TIP), outcomes=(PULL,), model="first-order"):
    return Trial(
        title="wires (made up)", question="", factors=factors, outcomes=outcomes, model=model
    )


def settings(of, rows):
    return Settings(factors=of.factors, values=np.array(rows, dtype=float))


def plan(of, rows, *, block=None, kind="factorial"):
    n = len(rows)
    return Plan(
        settings=settings(of, rows),
        block=np.ones(n, dtype=np.int64) if block is None else np.array(block),
        setup=np.arange(1, n + 1),
        point=("factorial",) * n,
        standard=np.arange(1, n + 1),
        parts_per_run=1,
        terms=parse_terms(of.model, of.factors),
        recipe=Recipe(kind=kind, options=(), seed=1, version="0"),
    )


def readings(values, *, mark=None):
    """Return readings from rows of parts (n, m); NaN where a part was not read."""
    table = np.array(values, dtype=float)
    table = table[:, None] if table.ndim == 1 else table
    row, part = np.nonzero(np.isfinite(table))
    return Readings(
        row=row.astype(np.int64),
        part=(part + 1).astype(np.int64),
        reading=np.ones(row.size, dtype=np.int64),
        value=table[row, part],
        mark=np.zeros(row.size, dtype=np.int64) if mark is None else np.array(mark),
    )


def record(of, rows, read, **more):
    """Return a record of runs 1 to n, each done; `more` are its fields that differ from that."""
    n = len(rows)
    fields = {
        "plan": None,
        "run": np.arange(1, n + 1),
        "planned": settings(of, rows),
        "as_run": settings(of, rows),
        "block": np.zeros(n, dtype=np.int64),
        "block_labels": ("1",),
        "setup": np.arange(1, n + 1),
        "status": (Status.DONE,) * n,
        "reason": ("",) * n,
        "readings": {
            name: one if isinstance(one, Readings) else readings(one) for name, one in read.items()
        },
    } | more
    return Record(trial=of, **fields)


def shuffled(n, *, seed, factors=2):
    """Return n rows of two-level settings (n, 2) in random order: dwell in s, tip as index."""
    rng = np.random.default_rng(seed)
    half = np.array([[1.0, 0], [3.0, 0], [1.0, 1], [3.0, 1]] * (n // 4))
    return rng.permutation(half)[:, :factors]
