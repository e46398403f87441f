"""Read a table that someone already has: text, or a sheet of a workbook."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import TYPE_CHECKING

from workbench.errors import FileError
from workbench.files.limits import check_bytes
from workbench.files.raw_table import RawTable
from workbench.files.read_options import AS_FOUND, ReadOptions
from workbench.files.sheet_table import sheet_grid
from workbench.files.table_shape import shaped
from workbench.files.text_table import text_grid
from workbench.run.receipt import ReceiptLine

if TYPE_CHECKING:
    from pathlib import Path

OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
PACKED = b"PK\x03\x04"


def read_table(
    path: Path, *, sheet: str | None = None, options: ReadOptions = AS_FOUND
) -> RawTable:
    """Return the table in a file (text, .xlsx or .ods) as text cells, with each assumption made.

    `sheet` stands for `options.sheet` where only that is asked for.

    Raises
    ------
    FileError
        If the file is missing, empty, too large, not a table, or leaves a choice of sheets.
    """
    sheet = sheet or options.sheet
    data = _bytes(path)
    digest = hashlib.sha256(data).hexdigest()
    if data.startswith(PACKED):
        found = sheet_grid(data, source=path.name, sheet=sheet)
        source = f"{path.name}, sheet {found.name!r}"
        table = shaped(found.grid, source=source, digest=digest, options=options)
        return replace(table, plan=found.plan)
    if sheet is not None:
        raise FileError(
            f"The sheet {sheet!r} is asked for, but this is not a workbook.",
            why="A text table has no sheets.",
            next_step="Leave --sheet away.",
            place=path.name,
        )
    grid = text_grid(data, source=path.name, options=options)
    return shaped(grid, source=path.name, digest=digest, options=options)


def _bytes(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        check_bytes(size, path.name)
        data = path.read_bytes()
    except OSError as met:
        raise FileError(
            f"The file cannot be read: {met.strerror or met}.",
            why="Its rows are needed.",
            next_step="Check the name and that you may read it.",
            place=str(path),
        ) from None
    if not data.strip():
        raise FileError(
            "The file is empty.",
            why="There is nothing to take in.",
            next_step="Name a file with a heading row and at least one row below it.",
            place=path.name,
        )
    if data.startswith(OLD_WORKBOOK):
        raise FileError(
            "The file is a workbook of an old kind, or one protected by a password.",
            why="Only .xlsx and .ods workbooks and text tables are read.",
            next_step="Open it in a spreadsheet program and save it as .xlsx or CSV (UTF-8).",
            place=path.name,
        )
    return data


__all__ = ["RawTable", "ReadOptions", "ReceiptLine", "read_table"]
