"""How much of a file is read: far more than any trial holds, far less than a machine has."""

from __future__ import annotations

from workbench.errors import FileError

BYTES_AT_MOST = 50_000_000
UNPACKED_AT_MOST = 300_000_000  # bytes of all parts of a packed file that are read
PARTS_AT_MOST = 10_000
ROWS_AT_MOST = 200_000
COLUMNS_AT_MOST = 1_000
CELLS_AT_MOST = 1_000_000
LETTERS_AT_MOST = 32_767  # in one cell, as many as a spreadsheet program keeps
ELEMENTS_AT_MOST = 5_000_000  # of an XML part: up to four for each cell, and what stands around
SHEET_ROWS_AT_MOST = ROWS_AT_MOST + 1_000  # notes above and below the table


def check_bytes(size: int, name: str) -> None:
    """Refuse a file that is larger than any trial.

    Raises
    ------
    FileError
        If it has more than `BYTES_AT_MOST` bytes.
    """
    if size > BYTES_AT_MOST:
        raise FileError(
            f"The file has {size / 1e6:.0f} MB.",
            why=f"At most {BYTES_AT_MOST // 1_000_000} MB are taken in; a trial is far smaller.",
            next_step="Cut out the rows and columns of this trial.",
            place=name,
        )


def too_many_rows(place: str) -> FileError:
    """Return the error of a table that goes on and on."""
    return FileError(
        f"The table has more than {ROWS_AT_MOST:,} rows.",
        why="A trial is far smaller, and one this large would be read in part or for minutes.",
        next_step="Copy the rows of this trial into a file or sheet of their own.",
        place=place,
    )


def too_many_columns(place: str) -> FileError:
    """Return the error of a table that is too wide."""
    return FileError(
        f"The table has more than {COLUMNS_AT_MOST:,} columns.",
        why="A trial is far smaller.",
        next_step="Copy the columns of this trial into a file or sheet of their own.",
        place=place,
    )


def too_many_cells(place: str) -> FileError:
    """Return the error of a table with too many cells."""
    return FileError(
        f"The table has more than {CELLS_AT_MOST:,} cells.",
        why="A trial is far smaller.",
        next_step="Copy the rows and columns of this trial into a file or sheet of their own.",
        place=place,
    )


def too_long(n_letters: int, place: str) -> FileError:
    """Return the error of a cell that holds a book."""
    return FileError(
        f"A cell holds {n_letters:,} letters.",
        why=f"At most {LETTERS_AT_MOST:,} are taken in; a quotation mark that is not closed "
        "swallows everything behind it.",
        next_step="Shorten the cell, or close the quotation mark.",
        place=place,
    )


def unpacks_too_far(place: str) -> FileError:
    """Return the error of a packed file that unfolds to far more than a trial."""
    return FileError(
        f"The workbook unfolds to more than {UNPACKED_AT_MOST // 1_000_000} MB.",
        why="That is far more than the table of a trial.",
        next_step="Copy the cells of the trial into a new workbook or a CSV file.",
        place=place,
    )


def too_many_elements(place: str) -> FileError:
    """Return the error of a workbook with far more marks around its cells than cells."""
    return FileError(
        f"The workbook has more than {ELEMENTS_AT_MOST:,} cells, formats and other elements.",
        why="That is far more than the table of a trial needs.",
        next_step="Copy the cells of the trial into a new workbook or a CSV file.",
        place=place,
    )
