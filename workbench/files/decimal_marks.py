"""Which mark is decimal in a column: what the user says, else what the column proves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.numbers import Decimal, decimal_mark, has_comma, proved_mark, two_readings
from workbench.files.plain_numbers import (
    is_plain_text,
    is_plain_with_commas,
    mark_has_two_readings,
)

if TYPE_CHECKING:
    from workbench.files.raw_table import Cells, RawTable
    from workbench.files.read_options import ReadOptions

_SAID = {"comma": Decimal.COMMA_GROUPED, "point": Decimal.GROUPED}
_GROUPED_BY = {"comma": Decimal.GROUPED, "point": Decimal.COMMA_GROUPED, "": Decimal.UNKNOWN}


def decimal_of(table: RawTable, heading: str) -> Decimal:
    """Return the decimal mark of a column.

    Raises
    ------
    FileError
        If a cell contradicts what the user says, or points in this column have two readings since
        other columns of the table have a decimal comma.
    """
    cells = table.column(heading)
    said = _said(table.options)
    if said is not Decimal.UNKNOWN:
        _check_said(table, heading, said)
        return said
    if cells.numbers is None and is_plain_text(cells.texts):
        if mark_has_two_readings(cells.texts):
            _refuse_beside_commas(table, heading)
        return Decimal.UNKNOWN
    if cells.numbers is None and is_plain_with_commas(cells.texts):
        return Decimal.UNKNOWN if mark_has_two_readings(cells.texts) else Decimal.COMMA
    return decimal_mark(_texts(cells))


def _said(options: ReadOptions) -> Decimal:
    if options.decimal:
        return _SAID[options.decimal]
    return _GROUPED_BY.get(options.thousands, Decimal.EITHER)


def _texts(cells: Cells) -> list[str]:
    """Return the different texts of cells that the file does not hold as numbers."""
    if cells.numbers is None:
        return list(dict.fromkeys(cells.texts))
    return list(dict.fromkeys(cell.text for cell in cells if cell.number is None))


def _check_said(table: RawTable, heading: str, said: Decimal) -> None:
    if said is Decimal.EITHER:
        return
    fitting = (
        (Decimal.COMMA, Decimal.COMMA_GROUPED)
        if has_comma(said)
        else (Decimal.POINT, Decimal.GROUPED)
    )
    for row, cell in enumerate(table.column(heading)):
        if cell.number is not None or not ("," in cell.text or "." in cell.text):
            continue
        if proved_mark(cell.text) not in (*fitting, Decimal.UNKNOWN):
            raise FileError(
                f"{cell.text!r} does not fit the decimal mark that is said.",
                why="Its marks cannot be read that way.",
                next_step="Correct the cell, or say another mark with --decimal.",
                place=table.place(row, heading),
            )


def _refuse_beside_commas(table: RawTable, heading: str) -> None:
    for other in table.headings:
        texts = _texts(table.column(other))
        if not any("," in text for text in texts) or not has_comma(decimal_mark(texts)):
            continue
        texts = list(table.column(heading).texts)
        row = next(i for i, text in enumerate(texts) if "." in text)
        before, _, after = texts[row].partition(".")
        raise two_readings(texts[row], before=before, after=after, place=table.place(row, heading))
