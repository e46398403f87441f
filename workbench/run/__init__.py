"""What happened: the record, the receipt of a table taken in, and checks against the plan."""

from workbench.run.asked_resets import AskedResets, asked_resets, reset_heading
from workbench.run.beside import Attached, Confirmed, Correction, FileState
from workbench.run.checks import Happened, happened
from workbench.run.finding import Finding, Kind, Weight
from workbench.run.findings import findings
from workbench.run.outliers import RULE as OUTLIER_RULE
from workbench.run.receipt import Receipt, ReceiptLine
from workbench.run.record import Readings, Record, Status
from workbench.run.settings_off import Deviation, deviations
from workbench.run.setups import AsRunSetups, as_run_setups

__all__ = [
    "OUTLIER_RULE",
    "AsRunSetups",
    "AskedResets",
    "Attached",
    "Confirmed",
    "Correction",
    "Deviation",
    "FileState",
    "Finding",
    "Happened",
    "Kind",
    "Readings",
    "Receipt",
    "ReceiptLine",
    "Record",
    "Status",
    "Weight",
    "as_run_setups",
    "asked_resets",
    "deviations",
    "findings",
    "happened",
    "reset_heading",
]
