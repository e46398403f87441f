"""What happened: the record, the receipt of a table taken in, and checks against the plan."""

from workbench.run.beside import Attached, Correction, FileState
from workbench.run.checks import Deviation, Happened, deviations, happened
from workbench.run.receipt import Receipt, ReceiptLine
from workbench.run.record import Readings, Record, Status

__all__ = [
    "Attached",
    "Correction",
    "Deviation",
    "FileState",
    "Happened",
    "Readings",
    "Receipt",
    "ReceiptLine",
    "Record",
    "Status",
    "deviations",
    "happened",
]
