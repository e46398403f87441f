"""The trial folder on disk: plain text in, plain text out, the whole file or nothing."""

from workbench.files.atomic import write_text_atomically
from workbench.files.demo_data import demo_folder, demo_notebook, read_process
from workbench.files.entries import ReadingEntry, ReceiptEntry, RunEntry, Setting
from workbench.files.evidence import published, published_names
from workbench.files.journal import append, read_journal, writer_name
from workbench.files.plan_files import read_plan, write_plan
from workbench.files.raw_table import RawTable
from workbench.files.record_files import read_record
from workbench.files.results_csv import check_results_untouched, write_results
from workbench.files.sheet_csv import write_sheet_csv
from workbench.files.tables import read_table

# Sorted; one line a name, so that two people can add theirs.
__all__ = [
    "RawTable",
    "ReadingEntry",
    "ReceiptEntry",
    "RunEntry",
    "Setting",
    "append",
    "check_results_untouched",
    "demo_folder",
    "demo_notebook",
    "published",
    "published_names",
    "read_journal",
    "read_plan",
    "read_process",
    "read_record",
    "read_table",
    "write_plan",
    "write_results",
    "write_sheet_csv",
    "write_text_atomically",
    "writer_name",
]
