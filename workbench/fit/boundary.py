"""The failure boundary: where a part can be made at all, from the runs that gave none.

A run that failed outright (no part, so no reading) says nothing of how good a part would be
there, and much of where not to run. It is a model of its own beside those of the outcomes.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.define.outcomes import PassFail
from workbench.define.terms import preset
from workbench.errors import Unavailable
from workbench.fit.outcome import outcome
from workbench.fit.pass_fail import PassFailFit
from workbench.fit.strata import INDEPENDENT
from workbench.run.record import Readings, Status

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.run.record import Record

MADE = "a part could be made"
FEW = 5  # failures (or parts) below which a column for each factor says little; common practice


def failed_outright(record: Record) -> NDArray[np.bool_]:
    """Return which rows (n,) of a record are runs that failed with every setting known."""
    failed = np.array([status is Status.FAILED for status in record.status], dtype=bool)
    return failed & np.isfinite(record.as_run.values).all(axis=1)


def boundary(record: Record, *, uses_as_run: bool = True) -> PassFailFit | Unavailable | None:
    """Return the model of where a part could be made; None if no run failed outright.

    Logistic regression on the settings that were varied, main effects only, with Jeffreys'
    penalty (Firth 1993, Biometrika 80, 27-38), which has an answer even where failures and parts
    are wholly apart. One run counts once, however many parts it was to have, and runs as made
    independently of one another. Unavailable with its reason where the runs are too few.

    Raises
    ------
    FitError
        If no run can be used.
    """
    failed = failed_outright(record)
    if not failed.any():
        return None
    made = record.used()
    asked = PassFail(name=MADE, passes="yes", fails="no")
    rows = np.flatnonzero(made | failed).astype(np.int64)
    ones = np.ones(rows.size, dtype=np.int64)
    readings = Readings(
        row=rows,
        part=ones,
        reading=ones.copy(),
        value=made[rows].astype(np.float64),
        mark=np.zeros(rows.size, dtype=np.int64),
    )
    trial = replace(record.trial, outcomes=(asked,), model="")
    told = replace(
        record,
        trial=trial,
        status=tuple(
            Status.DONE if one else status
            for one, status in zip(failed, record.status, strict=True)
        ),
        readings={MADE: readings},
    )
    found = outcome(
        told,
        MADE,
        terms=preset("first-order", trial.planned_factors),
        uses_as_run=uses_as_run,
        structure=INDEPENDENT,
    )
    if not isinstance(found, PassFailFit):
        reason = found.reason if isinstance(found, Unavailable) else "no model"
        return Unavailable(reason=reason)
    return replace(found, notes=(*found.notes, boundary_words(record)))


def boundary_words(record: Record) -> str:
    """Return what the runs that failed outright say, in a sentence; empty if there are none."""
    failed = failed_outright(record)
    n_failed, n_made = int(failed.sum()), int(record.used().sum())
    if not n_failed:
        return ""
    runs = ", ".join(str(run) for run in record.run[failed][:8])
    more = " …" if n_failed > 8 else ""
    said = (
        f"{n_failed} of {n_failed + n_made} runs gave no part (run {runs}{more}): a model of "
        "where a part can be made, on main effects, stands beside those of the outcomes."
    )
    if min(n_failed, n_made) < FEW:
        return (
            f"{said} With so few its interval is wide, so the window keeps further away than it "
            "may need to; more runs near the boundary would tell."
        )
    return said
