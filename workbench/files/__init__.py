"""The trial folder on disk: plain text in, plain text out, the whole file or nothing."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from workbench.files.atomic import write_bytes_atomically, write_text_atomically
from workbench.files.demo_data import demo_folder, demo_names, demo_notebook
from workbench.files.entries import (
    Attachment,
    ReadingEntry,
    ReceiptEntry,
    Reset,
    RunEntry,
    Setting,
)
from workbench.files.journal import append, read_journal, writer_name
from workbench.files.operations import operation_names, operation_text
from workbench.files.plan_files import read_plan, write_plan
from workbench.files.raw_table import RawTable
from workbench.files.read_options import ReadOptions
from workbench.files.record_files import read_record
from workbench.files.results_csv import check_results_untouched, write_results
from workbench.files.sheet_csv import write_sheet_csv
from workbench.files.starter import starter_text
from workbench.files.tables import read_table
from workbench.files.trial_notebooks import trial_notebooks
from workbench.files.trial_toml import read_trial, trial_from_text
from workbench.files.trial_write import trial_text, write_trial

if TYPE_CHECKING:
    from workbench.files.evidence import published, published_names
    from workbench.files.made_up_toml import read_process

# Sorted; one line a name, so that two people can add theirs.
__all__ = [
    "Attachment",
    "RawTable",
    "ReadOptions",
    "ReadingEntry",
    "ReceiptEntry",
    "Reset",
    "RunEntry",
    "Setting",
    "append",
    "check_results_untouched",
    "demo_folder",
    "demo_names",
    "demo_notebook",
    "operation_names",
    "operation_text",
    "published",
    "published_names",
    "read_journal",
    "read_plan",
    "read_process",
    "read_record",
    "read_table",
    "read_trial",
    "starter_text",
    "trial_from_text",
    "trial_notebooks",
    "trial_text",
    "write_bytes_atomically",
    "write_plan",
    "write_results",
    "write_sheet_csv",
    "write_text_atomically",
    "write_trial",
    "writer_name",
]


# These bring pandas, or all of `decide`, which no command on a trial of one's own waits for.
_WHEN_ASKED = {
    "published": "evidence",
    "published_names": "evidence",
    "read_process": "made_up_toml",
}


def __getattr__(name: str) -> object:
    """Load a name that few need when it is first asked for."""
    if name in _WHEN_ASKED:
        return getattr(import_module(f"{__name__}.{_WHEN_ASKED[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
