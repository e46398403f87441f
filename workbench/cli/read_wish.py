"""What the options of `adopt` and `take` say about how a table is written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.files.read_options import ReadOptions

if TYPE_CHECKING:
    from argparse import Namespace


def read_options(chosen: Namespace) -> ReadOptions:
    """Return how the table is to be read.

    Raises
    ------
    OptionError
        If a value is none of those that are known.
    """
    return ReadOptions(
        sheet=chosen.sheet,
        table=chosen.table_at or "",
        decimal=chosen.decimal or "",
        thousands=chosen.thousands or "",
        dates=chosen.dates or "",
        times=chosen.times or "",
        headings=chosen.headings,
        totals=chosen.totals or "",
        encoding=chosen.encoding or "",
        separator=chosen.separator or "",
    )
