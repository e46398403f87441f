"""Everything that should be known of what really happened, as values in a stable order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from workbench.run.beside_findings import beside_findings
from workbench.run.finding import Finding, Kind, Weight
from workbench.run.gauge import gauge_findings
from workbench.run.lots import lot_findings
from workbench.run.order import order_findings
from workbench.run.outliers import outlier_findings
from workbench.run.same_readings import same_reading_findings
from workbench.run.settings_off import deviations, setting_findings, unknown_setting_findings
from workbench.run.setups import setup_findings
from workbench.run.statuses import status_findings
from workbench.run.zeros import zero_findings

if TYPE_CHECKING:
    from workbench.run.record import Record

RUNS_TO_CALL_SORTED = 6  # chance order is sorted with chance 2/6! = 0.3 %
_PLACE = {kind: i for i, kind in enumerate(Kind)}


def findings(record: Record) -> tuple[Finding, ...]:
    """Return every finding on a record, by kind and then by factor, outcome and run."""
    found = (
        *status_findings(record),
        *unknown_setting_findings(record),
        *order_findings(record),
        *setting_findings(record, deviations(record)),
        *setup_findings(record),
        *lot_findings(record),
        *_sorted(record),
        *zero_findings(record),
        *outlier_findings(record),
        *gauge_findings(record),
        *same_reading_findings(record),
        *beside_findings(record),
    )
    return tuple(sorted(found, key=lambda one: _PLACE[one.kind]))


def _sorted(record: Record) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            kind=Kind.SORTED,
            about=name,
            sentence=f"{name} only ever {'rises' if direction > 0 else 'falls'} in the order of "
            "the runs: either the table was sorted, and its order is not that of the runs, or "
            "something drifted.",
            next_step="Find the order in which the runs were made; without it a drift cannot be "
            "told from an effect.",
            weight=Weight.CHECK,
        )
        for name in record.readings
        if (direction := _direction(record, name))
    )


def _direction(record: Record, name: str) -> int:
    """Return +1 or −1 if the means of the runs only rise or only fall, 0 otherwise."""
    readings = record.readings[name]
    rows, of = np.unique(readings.row, return_inverse=True)
    if rows.size < RUNS_TO_CALL_SORTED:
        return 0
    steps = np.diff(np.bincount(of, weights=readings.value) / np.bincount(of))
    if not steps.any():
        return 0
    return 1 if (steps >= 0).all() else -1 if (steps <= 0).all() else 0
