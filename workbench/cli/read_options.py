"""The options of `adopt` and `take` that say how a table is written."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def reading_options(parser: argparse.ArgumentParser) -> None:
    """Add the options on how a table is written, for where the file alone leaves two readings."""
    group = parser.add_argument_group("how the table is written (told from the file if not said)")
    for option, metavar, words in (
        ("--sheet", "NAME", "sheet of a workbook"),
        ("--decimal", "MARK", "decimal mark: comma or point"),
        ("--thousands", "MARK", "mark between thousands: comma, point, blank, apostrophe, none"),
        ("--dates", "ORDER", "order in dates: d.m.y, m/d/y or y-m-d"),
        ("--times", "WHAT", "what 1:30 means: h:mm or m:ss"),
        ("--totals", "WHAT", "rows that look like totals: keep or leave-out"),
        ("--encoding", "NAME", "letters of a text table: utf-8, utf-16, cp1252, latin-1"),
        ("--separator", "MARK", "mark between cells: comma, semicolon, tab, pipe or blank"),
    ):
        group.add_argument(option, metavar=metavar, help=words)
    group.add_argument(
        "--table",
        metavar="WHERE",
        dest="table_at",
        help="which table on a sheet: its number, first heading cell (B12) or range (B12:F30)",
    )
    group.add_argument("--headings", metavar="N", type=int, help="number of heading rows")
