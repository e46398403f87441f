"""What the user says about how a table is written, where the file alone leaves two readings."""

from __future__ import annotations

import re
from dataclasses import dataclass

from workbench.errors import OptionError

DECIMALS = ("comma", "point")
THOUSANDS = ("comma", "point", "blank", "apostrophe", "none")
DATES = ("d.m.y", "m/d/y", "y-m-d")
TIMES = ("h:mm", "m:ss")
TOTALS = ("keep", "leave-out")
SEPARATORS = ("comma", "semicolon", "tab", "pipe", "blank")
ENCODINGS = ("utf-8", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1")
HEADINGS_AT_MOST = 9

_TABLE = re.compile(
    r"[1-9][0-9]{0,2}|[A-Za-z]{1,3}[1-9][0-9]{0,6}(:[A-Za-z]{1,3}[1-9][0-9]{0,6})?"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadOptions:
    """How a table is to be read; what is not said is told from the file, or asked.

    `sheet` names a sheet of a workbook. `table` is which of several tables on it: its number (from
    the top, then from the left), its first heading cell such as "B12", or its range "B12:F30".
    `decimal` and `thousands` are the marks in numbers, `dates` the order in dates, `times` what
    1:30 means, `headings` the number of heading rows, `totals` whether rows that look like totals
    are kept, `encoding` the letters and `separator` the mark between the cells of a text table.

    Raises
    ------
    OptionError
        If a value is none of those that are known.
    """

    sheet: str | None = None
    table: str = ""
    decimal: str = ""
    thousands: str = ""
    dates: str = ""
    times: str = ""
    headings: int | None = None
    totals: str = ""
    encoding: str = ""
    separator: str = ""

    def __post_init__(self) -> None:
        _check("decimal", self.decimal, DECIMALS)
        _check("thousands", self.thousands, THOUSANDS)
        _check("dates", self.dates, DATES)
        _check("times", self.times, TIMES)
        _check("totals", self.totals, TOTALS)
        _check("encoding", self.encoding, ENCODINGS)
        _check("separator", self.separator, SEPARATORS)
        if self.decimal and self.decimal == self.thousands:
            raise OptionError(
                f"The {self.decimal} is said to be the decimal mark and to group thousands.",
                why="It can be one of them only.",
                next_step="Leave --thousands away.",
                place=f"--thousands {self.thousands}",
            )
        if self.table and not _TABLE.fullmatch(self.table):
            raise OptionError(
                f"{self.table!r} is neither the number of a table nor a cell.",
                why="A table is found by its place on the sheet.",
                next_step="Write --table 2, --table B12 or --table B12:F30.",
                place=f"--table {self.table}",
            )
        if self.headings is not None and not 0 <= self.headings <= HEADINGS_AT_MOST:
            raise OptionError(
                f"{self.headings} heading rows are asked for.",
                why=f"A table has 0 to {HEADINGS_AT_MOST} of them.",
                next_step="Write --headings 1.",
                place=f"--headings {self.headings}",
            )


def _check(name: str, value: str, known: tuple[str, ...]) -> None:
    if value and value not in known:
        raise OptionError(
            f"{name} is {value!r}.",
            why="It must be one that the workbench knows.",
            next_step=f"Use one of: {', '.join(known)}.",
            place=f"--{name} {value}",
        )


AS_FOUND = ReadOptions()
